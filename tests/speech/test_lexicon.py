"""The lexicon: every word can be said, in phones the network knows."""

import pytest

from speech.lexicon import PHONES, TABLE, UnknownWordError, missing, pronounce, read_table, words

SPELLING_ALPHABET = [
    "alfa",
    "bravo",
    "charlie",
    "delta",
    "echo",
    "foxtrot",
    "golf",
    "hotel",
    "india",
    "juliett",
    "kilo",
    "lima",
    "mike",
    "november",
    "oscar",
    "papa",
    "quebec",
    "romeo",
    "sierra",
    "tango",
    "uniform",
    "victor",
    "whiskey",
    "x-ray",
    "yankee",
    "zulu",
]
NUMBERS = [
    "zero",
    "oh",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "niner",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
    "twenty",
    "thirty",
    "forty",
    "fifty",
    "sixty",
    "seventy",
    "eighty",
    "ninety",
    "hundred",
    "thousand",
    "point",
    "decimal",
    "minus",
    "negative",
    "and",
    "a",
    "half",
    "quarter",
]
UNITS = [
    "volt",
    "volts",
    "millivolt",
    "millivolts",
    "ohm",
    "ohms",
    "kilohm",
    "kilohms",
    "k",
    "megohm",
    "megohms",
    "meg",
    "amp",
    "amps",
    "milliamp",
    "milliamps",
    "degree",
    "degrees",
    "celsius",
    "fahrenheit",
    "kilopascal",
    "kilopascals",
    "psi",
    "bar",
    "inches",
    "hertz",
    "kilohertz",
    "rpm",
    "percent",
]
COMMANDS = [
    "say",
    "again",
    "repeat",
    "stand",
    "by",
    "pause",
    "go",
    "ahead",
    "resume",
    "affirm",
    "yes",
    "yeah",
    "no",
    "wrong",
    "correction",
    "disregard",
    "back",
    "cannot",
    "can't",
    "see",
    "fine",
    "bad",
    "set",
    "done",
    "ready",
    "why",
    "limits",
    "help",
    "slower",
    "faster",
    "louder",
    "quieter",
    "note",
    "enough",
    "stop",
    "test",
    "clear",
    "cold",
    "warm",
    "hot",
    "cool",
    "skip",
    "next",
    "suspects",
    "how",
    "many",
    "left",
    "none",
    "all",
    "other",
    "light",
    "starting",
    "stalling",
    "power",
    "idle",
    "smoke",
    "first",
    "second",
    "confirm",
]
OTHER = ["open", "overload", "el", "dead", "nothing", "bouncing", "to", "about", "steady", "moved", "p", "b", "c", "u"]


@pytest.mark.parametrize("group", [SPELLING_ALPHABET, NUMBERS, UNITS, COMMANDS, OTHER], ids=lambda group: group[0])
def test_every_word_of_the_job_can_be_said(group: list[str]) -> None:
    assert missing(group) == []


def test_all_phones_are_known_to_the_network() -> None:
    for word in words():
        for way in pronounce(word):
            assert way, word
            assert set(way) <= set(PHONES[1:]), word


def test_there_are_39_phones_and_silence() -> None:
    assert len(PHONES) == len(set(PHONES)) == 40
    assert PHONES[0] == "SIL"


@pytest.mark.parametrize(
    ("word", "way"),
    [
        ("five", "F AY F"),  # ICAO Annex 10 volume II, 5.2.1.4.3: FIFE
        ("three", "T R IY"),  # TREE
        ("four", "F OW ER"),  # FOW-er
        ("niner", "N AY N ER"),
        ("thousand", "T AW Z AH N D"),  # TOU-SAND
        ("volts", "V OW L S"),
        ("psi", "P IY EH S AY"),
    ],
)
def test_radio_and_quick_ways_of_saying_a_word(word: str, way: str) -> None:
    assert tuple(way.split()) in pronounce(word)


def test_no_two_words_of_a_reading_sound_alike() -> None:
    alike = {frozenset(("oh", "o")), frozenset(("k", "kay")), frozenset(("el", "l")), frozenset(("four", "for"))}
    alike |= {frozenset(("two", "to")), frozenset(("a", "uh")), frozenset(("grey", "gray"))}
    said: dict[tuple[str, ...], str] = {}
    for word in [*NUMBERS, *UNITS, "dead", "nothing", "open", "overload"]:
        for way in pronounce(word):
            other = said.setdefault(way, word)
            assert other == word or frozenset((word, other)) in alike, f"{word} and {other}"


def test_words_are_found_whatever_the_case() -> None:
    assert pronounce("Five") == pronounce("five")


def test_a_missing_word_is_named_with_the_place_to_add_it() -> None:
    with pytest.raises(UnknownWordError, match=r"'blorp'.*lexicon\.txt") as caught:
        pronounce("blorp")
    assert caught.value.word == "blorp"


def test_missing_words_come_sorted_and_once() -> None:
    assert missing(["zap", "five", "blorp", "zap"]) == ["blorp", "zap"]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("five: F AY Q", "line 1: 'five': no phone is called Q"),
        ("five: F AY V\nfive: F AY F", "line 2: 'five': given twice"),
        ("# numbers\nfive", "line 2: 'five': has no phones"),
        ("five: F AY V |", "has no phones"),
        ("five: SIL", "no phone is called SIL"),
    ],
)
def test_a_mistake_in_the_table_is_told_with_its_line(text: str, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        read_table(text)


def test_the_table_ships_beside_the_model() -> None:
    assert TABLE.parent.name == "model"
    assert TABLE.stat().st_size < 50_000
