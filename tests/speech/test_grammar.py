"""Grammars: small, strict, and nothing in them that the rest of the room cannot understand."""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from speech.choices import CHOICES, parse_choice
from speech.commands import COMMANDS, EVERYWHERE, parse_command
from speech.grammar import grammar_for, vocabulary
from speech.graph import compile_graph
from speech.lexicon import missing
from speech.numbers import NumberProblem, parse_codes, parse_digits, parse_initials, parse_reading
from speech.ports import KINDS, ListeningKind
from speech.sentences import Walker, all_of, costly, either, many, maybe, repeat, seq, shared, to_graph
from speech.spelling import spell_code

WALKERS = {kind: Walker(grammar_for(kind)) for kind in KINDS}


@pytest.mark.parametrize("kind", KINDS)
def test_commands_are_legal_everywhere(kind: ListeningKind) -> None:
    for phrase in EVERYWHERE:
        assert WALKERS[kind].accepts(phrase), phrase


@pytest.mark.parametrize("kind", KINDS)
def test_every_word_has_a_pronunciation(kind: ListeningKind) -> None:
    assert missing(vocabulary(kind)) == []


@pytest.mark.parametrize("kind", KINDS)
def test_graphs_stay_small(kind: ListeningKind) -> None:
    graph, table = compile_graph(grammar_for(kind))
    assert len(graph) < 3_000_000
    assert table.startswith("<eps> 0\n")


def understood(kind: ListeningKind, words: str) -> bool:
    if parse_command(words) is not None:
        return True
    if kind == "reading":
        result = parse_reading(words)
        return not isinstance(result, NumberProblem) or bool(result.ask)
    parsers = {"codes": parse_codes, "digits": parse_digits, "initials": parse_initials}
    if kind in parsers:
        return parsers[kind](words) is not None
    return kind == "choice" and parse_choice(words) is not None


@pytest.mark.parametrize("kind", KINDS)
def test_whatever_can_be_heard_is_understood(kind: ListeningKind) -> None:
    rng = random.Random(3)
    for _ in range(500):
        words = " ".join(WALKERS[kind].sample(rng))
        assert understood(kind, words), words


@pytest.mark.parametrize(
    "words",
    ["four point nine point six point two", "volts", "one two three four five six seven", "yes", "four point nine okay",
     "five to six volts", "point", "okay", "point point", "minus", "four point one two three four five"],
)  # fmt: skip
def test_what_is_no_reading_is_not_in_the_reading_grammar(words: str) -> None:
    assert not WALKERS["reading"].accepts(words)


@pytest.mark.parametrize(
    "words",
    ["four point point six", "four point nine point six", "four point", "four nine six volts", "four ninety eight",
     "twelve six volts", "about five volts", "correction four point two", "four point correction four point six volts",
     "bouncing four point two to four point six volts"],
)  # fmt: skip
def test_what_people_say_wrong_can_be_heard_so_that_it_can_be_asked_about(words: str) -> None:
    assert WALKERS["reading"].accepts(words)


@given(st.text("0123456789", min_size=1, max_size=8))
def test_any_string_of_digits_can_be_heard(figures: str) -> None:
    words = spell_code(figures)
    assert WALKERS["digits"].accepts(words)
    assert parse_digits(words) == figures
    assert parse_digits(words.replace("zero", "oh")) == figures


@given(st.lists(st.from_regex(r"[PBCU][0-3][0-9]{3}", fullmatch=True), min_size=1, max_size=4))
def test_any_generic_codes_can_be_heard(codes: list[str]) -> None:
    words = " and ".join(spell_code(code).lower() for code in codes)
    assert WALKERS["codes"].accepts(words)
    assert parse_codes(words) == tuple(codes)


def test_codes_as_people_say_them() -> None:
    assert parse_codes("p oh one thirteen") == ("P0113",)
    assert parse_codes("p oh one oh seven p oh one oh eight") == ("P0107", "P0108")
    assert parse_codes("none") == parse_codes("no codes") == ()
    for broken in ("p zero one", "p four zero zero one", "zero one zero seven", "p p", "", "p hundred"):
        assert parse_codes(broken) is None


def test_initials() -> None:
    assert parse_initials("kilo lima") == "KL"
    assert parse_initials("x-ray yankee zulu") == "XYZ"
    for broken in ("kilo", "kilo lima mike november", "kilo five", ""):
        assert parse_initials(broken) is None


def test_complaints_and_numbers_are_choices() -> None:
    for words in (*CHOICES, "one", "nine"):
        assert WALKERS["choice"].accepts(words)
        assert parse_choice(words) is not None
    assert parse_choice("stalling at idle") == "stalling"
    assert [parse_choice(words) for words in ("three", "zero", "four volts", "")] == ["3", None, None, None]


def test_only_commands_hold_every_answer() -> None:
    for phrase in COMMANDS:
        assert WALKERS["commands"].accepts(phrase)
    assert WALKERS["yes_no"].accepts("affirm")
    assert not WALKERS["yes_no"].accepts("fine")
    assert not WALKERS["commands"].accepts("negative")


def test_an_unknown_kind_is_refused() -> None:
    with pytest.raises(ValueError, match="no kind of listening 'song'"):
        grammar_for("song")  # type: ignore[arg-type]


def sentences(part: object) -> list[str]:
    return sorted(" ".join(words) for words in all_of(to_graph(part)))  # type: ignore[arg-type]


def test_combinators() -> None:
    assert sentences(either("a", seq("b", maybe("c")))) == ["a", "b", "b c"]
    assert sentences(repeat("a", 1, 3)) == ["a", "a a", "a a a"]
    loop = Walker(to_graph(seq("x", many("y"))))
    assert loop.accepts("x") and loop.accepts("x y y y") and not loop.accepts("y")
    assert loop.after("x") == (True, frozenset({"y"}))


def test_the_same_ending_is_kept_once() -> None:
    graph = to_graph(either(seq("a", "x", "y"), seq("b", "x", "y"), seq("c", "y")))
    assert len({state for arc in graph.arcs for state in arc[:2]}) == 4


def test_costs_stay_with_the_words_they_were_given_to() -> None:
    graph = to_graph(either("a", costly("a b", 2.0)))
    assert sorted((word, cost) for _, _, word, cost in graph.arcs) == [("a", 0.0), ("a", 2.0), ("b", 0.0)]


def test_a_shared_part_says_the_same() -> None:
    unit = either("volts", "milli volts")
    plain, part = seq(either("one", "two"), maybe(unit)), seq(either("one", "two"), maybe(shared(unit, "<unit>")))
    walker = Walker(to_graph(part))
    for words in sentences(plain):
        assert walker.accepts(words)
    assert not walker.accepts("one milli")
    assert {" ".join(walker.sample(random.Random(i))) for i in range(60)} == set(sentences(plain))


def test_ending_where_a_unit_could_follow_costs() -> None:
    unit = shared("volts", "<unit>")
    graph = to_graph(either(seq("four", maybe(unit)), "open"), ending_before={"<unit>": 1.5})
    assert sorted(graph.finals.values()) == [0.0, 1.5]
    walker = Walker(graph)
    assert walker.accepts("four") and walker.accepts("four volts") and walker.accepts("open")
