"""Decoding graphs: read back from the OpenFst bytes and walked frame by frame, without any speech library."""

import struct
from collections.abc import Iterable
from dataclasses import dataclass
from math import inf
from pathlib import Path

import pytest

from speech.graph import FILLER, FILLER_COST, FILLER_ENTRY, WordGraph, compile_graph, frame_ids, write_model_folder
from speech.lexicon import PHONES, SILENCE, UnknownWordError, pronounce

DIGITS = WordGraph(tuple((i, i + 1, word, 0.0) for i in range(4) for word in ("one", "oh", "six")), {2: 0.0, 4: 0.0})


@dataclass(frozen=True)
class Fst:
    """An OpenFst vector file of standard arcs, read by its published layout."""

    start: int
    finals: dict[int, float]
    arcs: dict[int, list[tuple[int, int, float, int]]]


def read_fst(data: bytes) -> Fst:
    at = 0

    def take(shape: str) -> tuple:
        nonlocal at
        found = struct.unpack_from("<" + shape, data, at)
        at += struct.calcsize("<" + shape)
        return found

    (magic,) = take("i")
    assert magic == 2125659606
    for name in (b"vector", b"standard"):
        (size,) = take("i")
        assert take(f"{size}s") == (name,)
    version, flags, _properties, start, states, arcs = take("iiQqqq")
    assert (version, flags) == (2, 0)
    found = Fst(start, {}, {})
    for state in range(states):
        final, count = take("fq")
        if final != inf:
            found.finals[state] = final
        found.arcs[state] = [take("iifi") for _ in range(count)]
    assert at == len(data), "bytes left over"
    assert sum(map(len, found.arcs.values())) == arcs
    return found


PHONE_OF = {1: SILENCE} | {
    label: name for phone in PHONES[1:] for label, name in zip(frame_ids(phone), (phone, SILENCE), strict=True)
}


class Listener:
    """Walks a graph along a row of frames, each a phone or silence, and says which words came out and at what cost."""

    def __init__(self, graph: WordGraph, *, filler_cost: float | None = None) -> None:
        data, table = compile_graph(graph, filler_cost=filler_cost)
        self.fst = read_fst(data)
        self.names = {int(number): name for name, number in (line.split() for line in table.splitlines())}

    def _free(self, places: dict[tuple[int, tuple[str, ...]], float]) -> dict[tuple[int, tuple[str, ...]], float]:
        todo = list(places)
        while todo:
            state, words = key = todo.pop()
            for label, word, cost, target in self.fst.arcs[state]:
                if label == 0:
                    new = (target, (*words, self.names[word]) if word else words)
                    if places[key] + cost < places.get(new, inf):
                        places[new] = places[key] + cost
                        todo.append(new)
        return places

    def hear(self, frames: Iterable[str]) -> dict[str, float]:
        places = self._free({(self.fst.start, ()): 0.0})
        for frame in frames:
            after: dict[tuple[int, tuple[str, ...]], float] = {}
            for (state, words), spent in places.items():
                for label, word, cost, target in self.fst.arcs[state]:
                    if label and PHONE_OF[label] == frame:
                        key = (target, (*words, self.names[word]) if word else words)
                        after[key] = min(after.get(key, inf), spent + cost)
            places = self._free(after)
        heard: dict[str, float] = {}
        for (state, words), spent in places.items():
            if state in self.fst.finals:
                text = " ".join(words)
                heard[text] = min(heard.get(text, inf), spent + self.fst.finals[state])
        return heard


def frames(sentence: str, *, way: int = 0, between: int = 1, within: int = 1, held: int = 2) -> list[str]:
    """A sentence as frames: phones held, blanks within and silence between words."""
    row: list[str] = []
    for word in sentence.split():
        phones = pronounce(word)[min(way, len(pronounce(word)) - 1)]
        for phone in phones:
            row += [phone] * held + [SILENCE] * within
        row += [SILENCE] * between
    return row


def test_a_sentence_of_the_grammar_is_heard() -> None:
    assert Listener(DIGITS).hear(frames("one oh six six")) == {"one oh six six": 0.0}


@pytest.mark.parametrize("sentence", ["one", "one oh six", "one one one one one", "two two"])
def test_other_sentences_are_refused(sentence: str) -> None:
    assert Listener(DIGITS).hear(frames(sentence)) == {}


def test_silence_alone_is_heard_as_no_words() -> None:
    assert Listener(DIGITS).hear([SILENCE] * 50) == {"": 0.0}
    assert Listener(DIGITS, filler_cost=1.0).hear([SILENCE] * 50) == {"": 0.0}


@pytest.mark.parametrize("pause", [0, 1, 30])
def test_silence_costs_nothing_before_within_and_after(pause: int) -> None:
    row = [SILENCE] * pause + frames("one six", between=pause) + [SILENCE] * pause
    assert Listener(DIGITS).hear(row) == {"one six": 0.0}


def test_blanks_inside_a_word_are_optional() -> None:
    assert Listener(DIGITS).hear(frames("six one", within=0, between=0)) == {"six one": 0.0}


def test_one_long_oh_is_not_two() -> None:
    listener = Listener(DIGITS)
    assert "oh oh" not in listener.hear(["OW"] * 12)
    assert listener.hear(["OW"] * 6 + [SILENCE] + ["OW"] * 6) == {"oh oh": 0.0}


def test_a_phone_twice_in_a_word_needs_a_blank() -> None:
    graph = WordGraph(((0, 1, "unsteady", 0.0),), {1: 0.0})
    assert Listener(graph).hear(frames("unsteady"))


def test_each_way_of_saying_a_word_is_heard() -> None:
    graph = WordGraph(((0, 1, "five", 0.0),), {1: 0.0})
    for way in range(len(pronounce("five"))):
        assert Listener(graph).hear(frames("five", way=way)) == {"five": 0.0}


def test_costs_of_words_and_ends_add_up() -> None:
    graph = WordGraph(((0, 1, "one", 0.5), (1, 2, "six", 0.25), (0, 2, "oh", 1.0)), {2: 2.0})
    assert Listener(graph).hear(frames("one six")) == {"one six": 2.75}


def test_the_cheaper_of_two_ways_counts() -> None:
    graph = WordGraph(((0, 1, "one", 3.0), (0, 2, None, 0.5), (2, 1, "one", 1.0)), {1: 0.0})
    assert Listener(graph).hear(frames("one")) == {"one": 1.5}


def test_wordless_arcs_leave_no_trace() -> None:
    graph = WordGraph(((0, 1, None, 0.0), (1, 2, "one", 0.0), (2, 0, None, 0.0), (2, 3, None, 0.125)), {3: 0.0})
    listener = Listener(graph)
    for count in (1, 2, 3):
        assert listener.hear(frames(" ".join(["one"] * count))) == {" ".join(["one"] * count): 0.125}


def test_a_ring_of_wordless_arcs_ends() -> None:
    graph = WordGraph(((0, 1, None, 0.0), (1, 0, None, 0.0), (1, 2, "one", 0.0)), {2: 0.0})
    assert Listener(graph).hear(frames("one")) == {"one": 0.0}


def test_dead_ends_are_cut_off() -> None:
    graph = WordGraph(((0, 1, "one", 0.0), (1, 2, "six", 0.0), (1, 3, "oh", 0.0)), {2: 0.0})
    _, table = compile_graph(graph, filler_cost=None)
    assert "oh" not in [line.split()[0] for line in table.splitlines()]


def test_speech_outside_the_grammar_is_filler_at_a_cost_once_and_a_phone() -> None:
    heard = Listener(DIGITS, filler_cost=0.5).hear(frames("repeat"))
    assert heard == {FILLER: FILLER_ENTRY + 0.5 * len(pronounce("repeat")[0])}


def test_a_reading_is_cheaper_than_filler() -> None:
    heard = Listener(DIGITS, filler_cost=0.5).hear(frames("one six"))
    assert heard["one six"] == 0.0 < heard[FILLER]


def test_filler_may_stand_inside_a_grammar() -> None:
    graph = WordGraph(((0, 1, FILLER, 0.25), (1, 2, "six", 0.0)), {2: 0.0})
    heard = Listener(graph).hear(frames("one six"))
    assert heard[f"{FILLER} six"] == pytest.approx(0.25 + 3 * FILLER_COST)


def test_words_are_numbered_from_one_and_the_table_is_whole() -> None:
    _, table = compile_graph(DIGITS, filler_cost=1.0)
    assert table == f"<eps> 0\n{FILLER} 1\noh 2\none 3\nsix 4\n#0 5\n"


def test_frame_ids_follow_the_transition_model() -> None:
    # silence has ids 1 and 2; then five for each phone: own loop, to blank, out; blank loop, out
    assert frame_ids("AA") == (3, 6)
    assert frame_ids("AE") == (8, 11)
    assert len(PHONE_OF) == 1 + 2 * 39


def test_a_word_without_a_pronunciation_is_named() -> None:
    with pytest.raises(UnknownWordError, match="blorp"):
        compile_graph(WordGraph(((0, 1, "blorp", 0.0),), {1: 0.0}))


def test_a_grammar_without_sentences_is_refused() -> None:
    with pytest.raises(ValueError, match="no sentence"):
        compile_graph(WordGraph(((0, 1, "one", 0.0),), {5: 0.0}))


@pytest.mark.parametrize("cost", [-0.1, float("nan")])
def test_a_negative_cost_is_refused(cost: float) -> None:
    with pytest.raises(ValueError, match="0 or more"):
        WordGraph(((0, 1, "one", cost),), {1: 0.0})


def test_the_same_grammar_gives_the_same_bytes() -> None:
    assert compile_graph(DIGITS) == compile_graph(DIGITS)


def test_a_model_folder_has_what_the_recogniser_reads(tmp_path: Path) -> None:
    for name in ("am/final.mdl", "conf/mfcc.conf", "conf/model.conf"):
        (tmp_path / "model" / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / "model" / name).write_text(name)
    folder = write_model_folder(tmp_path / "made", DIGITS, model=tmp_path / "model")
    assert (folder / "am" / "final.mdl").read_text() == "am/final.mdl"
    assert read_fst((folder / "graph" / "HCLG.fst").read_bytes()).arcs
    again = write_model_folder(tmp_path / "made", DIGITS, model=tmp_path / "model")
    assert again == folder
    assert (tmp_path / "model" / "am" / "final.mdl").read_text() == "am/final.mdl", "the model itself is left as it was"
