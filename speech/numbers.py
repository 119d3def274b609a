"""Words -> the reading they are, and a value -> the words for it. What is not certain is asked for, never guessed."""

from dataclasses import dataclass, replace
from typing import Literal

from speech.cardinals import spell_cardinal, spell_digits
from speech.plain_numbers import GIVE_POINT, SIGNS, BrokenNumberError, Number, Shape, number_with_k
from speech.spelling import parse_codes, parse_digits, parse_initials
from speech.units import BARE_DEGREES, PHRASES, UNITS, unit_words

__all__ = [
    "NumberProblem",
    "Spoken",
    "parse_codes",
    "parse_digits",
    "parse_initials",
    "parse_reading",
    "speak_value",
    "with_unit",
]

SpokenKind = Literal["value", "over_range", "range", "zero_word"]

HESITATIONS = ("uh", "um")
LEADS = (("it", "is"), ("i", "read"), ("reading",), ("steady",))
VAGUE = ("about", "around", "roughly", "nearly")
UNSTEADY = ("bouncing", "jumping", "drifting", "unsteady", "moving", "between")
OVER_RANGE: frozenset[str] = frozenset(
    (
        "oh el",
        "o l",
        "oh l",
        "open",
        "open line",
        "overload",
        "over load",
        "over range",
        "infinite",
        "infinity",
        "over limit",
    )
)
ZERO_WORDS = frozenset(("dead", "nothing"))


@dataclass(frozen=True)
class Spoken:
    """A reading as it was said.

    value: None when over range, the lower end of a range. high: the upper end. digits: decimals said.
    shape, figures: how the number was said and of how many figures, for `with_unit`.
    """

    kind: SpokenKind
    value: float | None = None
    high: float | None = None
    unit: str | None = None
    correction: bool = False
    digits: int = 0
    shape: Shape = "cardinal"
    figures: int = 1


@dataclass(frozen=True)
class NumberProblem:
    """Words that are no reading. what: what is wrong; ask: the sentence to say back."""

    what: str
    ask: str
    correction: bool = False


def parse_reading(words: str, *, expected_unit: str | None = None) -> Spoken | NumberProblem:
    """The reading these words are, or what to ask.

    expected_unit: decides what "degrees" means and where a missing point matters when no unit is said; the unit
    of the result is still None then, so that the caller knows it was inferred.

    >>> parse_reading("minus zero point zero two volts").value
    -0.02
    >>> parse_reading("four point point six").ask
    'I heard two points. Give me the digits.'
    """
    said = [word for word in words.lower().split() if word not in HESITATIONS]
    correction = "correction" in said
    if correction:
        said = said[len(said) - said[::-1].index("correction") :]
    try:
        spoken = _reading(said, expected_unit)
        if spoken.unit is None and expected_unit is not None:
            _want_point(spoken, expected_unit)
    except BrokenNumberError as broken:
        return NumberProblem(broken.what, broken.ask, correction)
    return replace(spoken, correction=correction)


def with_unit(spoken: Spoken, unit: str) -> Spoken | NumberProblem:
    """The same reading once its unit is known; asks for the point when that unit makes its absence doubtful."""
    try:
        _want_point(spoken, unit)
    except BrokenNumberError as broken:
        return NumberProblem(broken.what, broken.ask)
    return replace(spoken, unit=unit)


def _reading(said: list[str], expected_unit: str | None) -> Spoken:
    for lead in LEADS:
        if tuple(said[: len(lead)]) == lead and len(said) > len(lead):
            said = said[len(lead) :]
    if not said:
        raise BrokenNumberError("no words")
    if said[0] in VAGUE:
        raise BrokenNumberError(f"'{said[0]}' is not a reading")
    if said[0] in UNSTEADY or "to" in said:
        return _range(said[1:] if said[0] in UNSTEADY else said, expected_unit)
    rest, unit = _split_unit(said, expected_unit)
    bare = " ".join(word for word in rest if word not in SIGNS)
    if bare in OVER_RANGE:
        return Spoken("over_range", unit=unit)
    if bare in ZERO_WORDS:
        return Spoken("zero_word", value=0.0, unit=unit)
    number, unit = number_with_k(rest, unit)
    spoken = _value(number, unit)
    if unit is not None:
        _want_point(spoken, unit)
    return spoken


def _value(number: Number, unit: str | None) -> Spoken:
    value = float(number.value) + 0.0
    return Spoken("value", value, None, unit, False, number.decimals, number.shape, number.figures)


def _want_point(spoken: Spoken, unit: str) -> None:
    if spoken.kind not in ("value", "range") or spoken.shape not in ("digits", "mixed", "pairs"):
        return
    if spoken.shape == "pairs" or spoken.figures >= UNITS[unit].wants_point_from:
        raise BrokenNumberError("no point", GIVE_POINT)


def _unit_spans(said: list[str]) -> list[tuple[int, int, tuple[str, ...]]]:
    spans, at = [], 0
    while at < len(said):
        for length in (3, 2, 1):
            phrase = tuple(said[at : at + length])
            if len(phrase) == length and phrase in PHRASES:
                spans.append((at, at + length, phrase))
                at += length
                break
        else:
            at += 1
    return spans


def _split_unit(said: list[str], expected_unit: str | None) -> tuple[list[str], str | None]:
    """Words without the unit at their end or beginning; a "k" in the middle stays."""
    spans = [span for span in _unit_spans(said) if span[2] not in (("k",), ("meg",)) or span[1] == len(said)]
    names = {_unit_name(phrase, expected_unit) for _, _, phrase in spans}
    if len(names) > 1:
        raise BrokenNumberError("two units", "I heard two units. Give me the digits and one unit.")
    for start, end, _ in spans:
        if start > 0 and end < len(said):
            raise BrokenNumberError("a unit inside the number", "Say the digits first, then the unit.")
    for start, end, _ in reversed(spans):
        said = said[:start] + said[end:]
    return said, names.pop() if names else None


def _unit_name(phrase: tuple[str, ...], expected_unit: str | None) -> str:
    if phrase in BARE_DEGREES and expected_unit == "degF":
        return "degF"
    return PHRASES[phrase]


def _range(said: list[str], expected_unit: str | None) -> Spoken:
    """Two ends with "to" or "and" between them; "to" and "two" sound the same, so every split is tried."""
    for lead in ("from", "between"):
        if said[:1] == [lead]:
            said = said[1:]
    if said[:1] and said[0] in VAGUE:
        raise BrokenNumberError(f"'{said[0]}' is not a reading")
    splits = [at for at in range(1, len(said) - 1) if said[at] in ("to", "two", "and")]
    pairs = [pair for at in splits if (pair := _ends(said[:at], said[at + 1 :], expected_unit)) is not None]
    same_digits = [pair for pair in pairs if pair[0].digits == pair[1].digits]
    same_shape = [pair for pair in same_digits if pair[0].figures == pair[1].figures]
    best = same_shape or same_digits or pairs
    if len(best) != 1:
        raise BrokenNumberError("two ends not found", "Give me the lowest and the highest, each with its digits.")
    low, high = sorted(best[0], key=lambda end: end.value or 0.0)
    spoken = replace(low, kind="range", high=high.value, digits=max(low.digits, high.digits))
    if spoken.unit is not None:
        _want_point(spoken, spoken.unit)
        _want_point(high, spoken.unit)
    return spoken


def _ends(left: list[str], right: list[str], expected_unit: str | None) -> tuple[Spoken, Spoken] | None:
    """Lower and upper end as said, with the unit of either, or None when one of them is no plain value."""
    ends = []
    for part in (left, right):
        try:
            words, unit = _split_unit(_twos(part), expected_unit)
            ends.append(_value(*number_with_k(words, unit)))
        except BrokenNumberError:
            return None
    first, last = ends
    units = {end.unit for end in ends} - {None}
    if len(units) > 1:
        return None
    unit = last.unit or first.unit
    return replace(first, unit=unit), replace(last, unit=unit)


def _twos(said: list[str]) -> list[str]:
    return ["two" if word == "to" else word for word in said]


def speak_value(value: float, unit: str | None, *, decimals: int) -> str:
    """The value digit by digit, unit last.

    A whole number of volts is said as one number: said digit by digit its missing point would be in doubt.

    >>> speak_value(4.96, "V", decimals=2)
    'four point nine six volts'
    >>> speak_value(12, "V", decimals=0)
    'twelve volts'
    """
    figures = f"{value:.{decimals}f}"
    if not figures.lstrip("-").replace(".", "").isdigit():
        raise ValueError(f"{value} cannot be spoken as a reading; an over-range value has no digits")
    if figures.startswith("-") and not figures.strip("-0."):
        figures = figures[1:]
    size = figures.lstrip("-")
    wants_point = unit is None or len(size) >= UNITS[unit].wants_point_from
    if "." not in size and len(size) > 1 and wants_point and int(size) < 1_000_000:
        words = ("minus " if figures.startswith("-") else "") + spell_cardinal(int(size))
    else:
        words = spell_digits(figures)
    return words if unit is None else f"{words} {unit_words(unit, one=size == '1')}"
