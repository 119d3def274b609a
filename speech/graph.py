"""Grammar of words -> the decoding graph a recogniser loads, written as an OpenFst file without OpenFst.

Each word arc becomes its phones, each phone the two states of CTC: its own frames, then blank frames.
Silence and blank frames cost nothing on any path: charging them makes the recogniser put a false word in
front of a reading. Source of the layout: OpenFst 1.6 `vector` file of `standard` arcs, little endian.
"""

import os
import shutil
import struct
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from speech.lexicon import PHONES, pronounce

FILLER = "<unk>"
"""The word that stands for speech which is none of the sentences; an arc with it is any row of phones."""

FILLER_COST = 0.8
"""Cost of one phone of filler [natural log]; tuned on development speech, see model/MODEL_CARD.md."""

FILLER_ENTRY = 2.0
"""Cost of taking an utterance for filler at all: a short command half swallowed is still a command."""

MODEL = Path(__file__).parent / "model"

_START_OF_FST = struct.pack("<i i6s i8s ii Q", 2125659606, 6, b"vector", 8, b"standard", 2, 0, 3)
_NUMBER = {phone: number for number, phone in enumerate(PHONES, 1)}
_SILENCE_ID = 1


@dataclass(frozen=True)
class WordGraph:
    """Sentences that may be heard: arcs (from, to, word or None, cost >= 0), state 0 starts, finals end."""

    arcs: tuple[tuple[int, int, str | None, float], ...]
    finals: Mapping[int, float]

    def __post_init__(self) -> None:
        for source, target, word, cost in self.arcs:
            if not cost >= 0:
                raise ValueError(f"arc {source} to {target} {word!r} costs {cost}; a cost is 0 or more")


@dataclass
class _Fst:
    """States under construction: arcs (input, output, cost, next) of each, and the cost of ending there."""

    arcs: list[list[tuple[int, int, float, int]]] = field(default_factory=list)
    final: dict[int, float] = field(default_factory=dict)

    def state(self) -> int:
        self.arcs.append([])
        return len(self.arcs) - 1

    def arc(self, source: int, label: int, word: int, cost: float, target: int) -> None:
        self.arcs[source].append((label, word, cost, target))

    def to_bytes(self, start: int) -> bytes:
        parts = [_START_OF_FST, struct.pack("<qqq", start, len(self.arcs), sum(map(len, self.arcs)))]
        arc = struct.Struct("<iifi").pack
        for state, leaving in enumerate(self.arcs):
            parts.append(struct.pack("<fq", self.final.get(state, float("inf")), len(leaving)))
            parts.extend([arc(*one) for one in leaving])
        return b"".join(parts)


def frame_ids(phone: str) -> tuple[int, int]:
    """Transition ids of a frame of the phone itself and of a blank frame after it, as final.mdl numbers them."""
    first = 3 + 5 * (_NUMBER[phone] - 2)
    return first, first + 3


def _useful(graph: WordGraph) -> WordGraph:
    """Only the arcs that lie on some whole sentence: a dead end would be heard as half a reading."""
    before: dict[int, list[int]] = {}
    for source, target, _, _ in graph.arcs:
        before.setdefault(target, []).append(source)
    good, todo = set(graph.finals), list(graph.finals)
    while todo:
        for source in before.get(todo.pop(), ()):
            if source not in good:
                good.add(source)
                todo.append(source)
    return WordGraph(tuple(arc for arc in graph.arcs if arc[1] in good), graph.finals)


class _Expansion:
    """Word states and arcs laid out as frames.

    A word state becomes one state after silence, plus one for each phone that a word ends with there: a word
    that begins with that very phone must wait for a blank, or one long "oh" would count as two. The words that
    leave a word state are laid out once, one group for each first phone, whatever was said before.
    """

    def __init__(self, graph: WordGraph, numbers: Mapping[str, int], filler_cost: float) -> None:
        self.fst = _Fst()
        self.numbers = numbers
        self.filler_cost = filler_cost
        self.finals = graph.finals
        self.leaving: dict[int, list[tuple[int, str, float]]] = {}
        self.silent: dict[int, list[tuple[int, float]]] = {}
        for source, target, word, cost in graph.arcs:
            if word is None:
                self.silent.setdefault(source, []).append((target, cost))
            else:
                self.leaving.setdefault(source, []).append((target, word, cost))
        self.rested: dict[int, int] = {}
        self.ended: dict[tuple[int, str], int] = {}
        self.groups: dict[int, dict[str, int]] = {}
        self.todo: list[tuple[int, str | None, int]] = []

    def run(self) -> bytes:
        start = self.fst.state()
        # nothing said is always a legal end, so that noise need not become a word; a state of
        # its own, as a grammar may come back to its first one
        self.fst.final[start] = 0.0
        self.fst.arc(start, _SILENCE_ID, 0, 0.0, start)
        self.fst.arc(start, 0, 0, 0.0, self.after_silence(0))
        while self.todo:
            state, last, place = self.todo.pop()
            for target, cost in self.silent.get(state, ()):
                there = self.after_silence(target) if last is None else self.after_phone(target, last)
                self.fst.arc(place, 0, 0, cost, there)
            for first, group in self.grouped(state).items():
                if first != last:
                    self.fst.arc(place, 0, 0, 0.0, group)
        return self.fst.to_bytes(start)

    def after_silence(self, state: int) -> int:
        if state not in self.rested:
            place = self.rested[state] = self._place(state, None)
            self.fst.arc(place, _SILENCE_ID, 0, 0.0, place)
        return self.rested[state]

    def after_phone(self, state: int, phone: str) -> int:
        if (state, phone) not in self.ended:
            place = self.ended[state, phone] = self._place(state, phone)
            self.fst.arc(place, _SILENCE_ID, 0, 0.0, self.after_silence(state))
        return self.ended[state, phone]

    def _place(self, state: int, phone: str | None) -> int:
        place = self.fst.state()
        if state in self.finals:
            self.fst.final[place] = self.finals[state]
        self.todo.append((state, phone, place))
        return place

    def grouped(self, state: int) -> dict[str, int]:
        """Words that leave a word state, laid out behind one state for each first phone; FILLER is its own."""
        if state not in self.groups:
            groups = self.groups[state] = {}
            for target, word, cost in self.leaving.get(state, ()):
                if word == FILLER:
                    groups[FILLER] = self.fst.state()
                    self.filler(groups[FILLER], target, cost)
                    continue
                for phones in pronounce(word):
                    if phones[0] not in groups:
                        groups[phones[0]] = self.fst.state()
                    self.row(groups[phones[0]], phones, self.numbers[word], cost, target=target)
        return self.groups[state]

    def row(self, place: int, phones: tuple[str, ...], number: int, cost: float, *, target: int) -> None:
        fst, before, label = self.fst, [place], number
        for i, phone in enumerate(phones):
            own, blank = frame_ids(phone)
            here = fst.state()
            for one in before:
                fst.arc(one, own, label, cost, here)
            fst.arc(here, own, 0, 0.0, here)
            if i == len(phones) - 1:
                break
            pause = fst.state()
            fst.arc(here, blank, 0, 0.0, pause)
            fst.arc(pause, blank, 0, 0.0, pause)
            before = [pause] if phones[i + 1] == phone else [here, pause]
            label, cost = 0, 0.0
        fst.arc(here, 0, 0, 0.0, self.after_phone(target, phones[-1]))

    def filler(self, place: int, target: int, cost: float) -> None:
        """One or more phones of any kind, each at the filler's cost."""
        fst = self.fst
        loop = fst.state()
        fst.arc(loop, _SILENCE_ID, 0, 0.0, loop)
        for phone in PHONES[1:]:
            own, _ = frame_ids(phone)
            here = fst.state()
            fst.arc(place, own, self.numbers[FILLER], cost + self.filler_cost, here)
            fst.arc(loop, own, 0, self.filler_cost, here)
            fst.arc(here, own, 0, 0.0, here)
            fst.arc(here, 0, 0, 0.0, loop)
        fst.arc(loop, 0, 0, 0.0, self.after_silence(target))


def compile_graph(
    word_graph: WordGraph, *, filler_cost: float | None = FILLER_COST, filler_entry: float = FILLER_ENTRY
) -> tuple[bytes, str]:
    """HCLG.fst and words.txt of a grammar.

    filler_cost: cost of each phone of a way round the whole grammar that is heard as FILLER [natural log], on
    top of filler_entry; None for no such way. Silence alone is heard as no words, whatever the grammar.
    Raises UnknownWordError for a word without a pronunciation, ValueError when no sentence is possible.
    """
    plain = _useful(word_graph)
    if not any(word for _, _, word, _ in plain.arcs):
        raise ValueError("the grammar allows no sentence: no final state can be reached by words")
    if filler_cost is not None:
        end = 1 + max(max(source, target) for source, target, _, _ in plain.arcs)
        plain = WordGraph((*plain.arcs, (0, end, FILLER, filler_entry)), {**plain.finals, end: 0.0})
    words = sorted({word for _, _, word, _ in plain.arcs if word is not None})
    numbers = {word: number for number, word in enumerate(words, 1)}
    fst = _Expansion(plain, numbers, FILLER_COST if filler_cost is None else filler_cost).run()
    return fst, _word_table(words)


def _word_table(words: Iterable[str]) -> str:
    names = ["<eps>", *words, "#0"]
    return "".join(f"{name} {number}\n" for number, name in enumerate(names))


def write_model_folder(
    folder: Path,
    word_graph: WordGraph,
    *,
    model: Path = MODEL,
    filler_cost: float | None = FILLER_COST,
    filler_entry: float = FILLER_ENTRY,
) -> Path:
    """A folder the recogniser loads: the network and settings of `model`, linked, beside this grammar's graph."""
    fst, words = compile_graph(word_graph, filler_cost=filler_cost, filler_entry=filler_entry)
    (folder / "graph").mkdir(parents=True, exist_ok=True)
    (folder / "graph" / "HCLG.fst").write_bytes(fst)
    (folder / "graph" / "words.txt").write_text(words, encoding="utf-8")
    for part in ("am/final.mdl", "conf/mfcc.conf", "conf/model.conf"):
        (folder / part).parent.mkdir(exist_ok=True)
        _link(model / part, folder / part)
    return folder


def _link(source: Path, target: Path) -> None:
    target.unlink(missing_ok=True)
    try:
        os.link(source, target)
    except OSError:  # another disk, or a file system without links
        shutil.copyfile(source, target)
