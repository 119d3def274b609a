"""Whole numbers in words, both ways: digits one by one, as one number, or in the mixtures people use."""

from dataclasses import dataclass
from typing import Literal

DIGIT_WORDS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
DIGITS: dict[str, int] = {**{word: value for value, word in enumerate(DIGIT_WORDS)}, "oh": 0, "niner": 9}
TEENS: dict[str, int] = dict(
    zip(
        ["ten", "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen"],
        range(10, 20),
        strict=True,
    )
)
TENS: dict[str, int] = dict(
    zip(["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"], range(20, 100, 10), strict=True)
)
REPEATS = {"double": 2, "triple": 3}

Shape = Literal["digits", "cardinal", "mixed", "pairs"]


@dataclass(frozen=True)
class Whole:
    """A whole number and how it was said.

    digits: one by one, at least two. cardinal: as a number. mixed: "one twenty". pairs: "twelve sixty five".
    """

    value: int
    shape: Shape
    figures: str


def parse_whole(words: list[str]) -> Whole | None:
    """The whole number these words are, or None.

    >>> parse_whole("two hundred and fifty".split()).value, parse_whole("one twenty".split()).shape
    (250, 'mixed')
    """
    if not words:
        return None
    cardinal = _cardinal(words)
    if cardinal is not None:
        return Whole(cardinal, "cardinal", str(cardinal))
    chunks = two_figure_chunks(words)
    if chunks is None:
        return None
    figures = "".join(chunks)
    if all(len(chunk) == 1 for chunk in chunks):
        shape: Shape = "digits"
    elif [len(chunk) for chunk in chunks] == [1, 2] and chunks[0] != "0":
        shape = "mixed"
    else:
        shape = "pairs"
    return Whole(int(figures), shape, figures)


def two_figure_chunks(words: list[str]) -> list[str] | None:
    """Figures of digits, teens and tens said one after another, or None when another word is among them.

    >>> two_figure_chunks("oh five ninety eight".split()), two_figure_chunks("double two".split())
    (['0', '5', '98'], ['2', '2'])
    """
    chunks: list[str] = []
    rest = list(words)
    while rest:
        word = rest.pop(0)
        if word in REPEATS and rest and rest[0] in DIGITS:
            chunks += [str(DIGITS[rest.pop(0)])] * REPEATS[word]
        elif word in DIGITS:
            chunks.append(str(DIGITS[word]))
        elif word in TEENS:
            chunks.append(str(TEENS[word]))
        elif word in TENS:
            ones = DIGITS[rest.pop(0)] if rest and DIGITS.get(rest[0], 0) > 0 else 0
            chunks.append(str(TENS[word] + ones))
        else:
            return None
    return chunks


def _below_hundred(words: list[str]) -> int | None:
    if len(words) == 1:
        word = words[0]
        if word == "oh":
            return 0
        return DIGITS.get(word, TEENS.get(word, TENS.get(word)))
    if len(words) == 2 and words[0] in TENS and DIGITS.get(words[1], 0) > 0:
        return TENS[words[0]] + DIGITS[words[1]]
    return None


def _tail(words: list[str]) -> list[str] | None:
    """What follows "hundred" or "thousand", without its "and"; None for an "and" with nothing after it."""
    if words[:1] != ["and"]:
        return words
    return words[1:] or None


def _below_thousand(words: list[str]) -> int | None:
    if "hundred" not in words:
        return _below_hundred(words)
    at = words.index("hundred")
    count = 1 if words[:at] == ["a"] else _below_hundred(words[:at])
    tail = _tail(words[at + 1 :])
    if count is None or count == 0 or tail is None:
        return None
    rest = _below_hundred(tail) if tail else 0
    if rest is None or (tail and rest == 0):
        return None
    return count * 100 + rest


def _cardinal(words: list[str]) -> int | None:
    if "thousand" not in words:
        return _below_thousand(words)
    at = words.index("thousand")
    count = 1 if words[:at] == ["a"] else _below_thousand(words[:at])
    tail = _tail(words[at + 1 :])
    if count is None or not 0 < count < 1000 or tail is None:
        return None
    rest = _below_thousand(tail) if tail else 0
    if rest is None or (tail and not 0 < rest < 1000):
        return None
    return count * 1000 + rest


def spell_digits(figures: str) -> str:
    """Figures one by one; a point and a minus are words too.

    >>> spell_digits("-0.02")
    'minus zero point zero two'
    """
    named = {"-": "minus", ".": "point"}
    return " ".join(named.get(figure) or DIGIT_WORDS[int(figure)] for figure in figures)


def spell_cardinal(number: int) -> str:
    """A whole number below a million as one number.

    >>> spell_cardinal(12), spell_cardinal(250)
    ('twelve', 'two hundred fifty')
    """
    if not 0 <= number < 1_000_000:
        raise ValueError(f"{number} is not between 0 and 999999")
    if number < 10:
        return DIGIT_WORDS[number]
    for names in (TEENS, TENS):
        for word, value in names.items():
            if value == number:
                return word
    if number < 100:
        return f"{spell_cardinal(number // 10 * 10)} {DIGIT_WORDS[number % 10]}"
    name, size = ("thousand", 1000) if number >= 1000 else ("hundred", 100)
    rest = f" {spell_cardinal(number % size)}" if number % size else ""
    return f"{spell_cardinal(number // size)} {name}{rest}"
