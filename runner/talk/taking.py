"""Pure rules for taking a called-out value: is it possible, does a second call agree, does it need one."""

from collections.abc import Iterator
from dataclasses import dataclass

from flows.judging import Judgement, Reading
from flows.meter import Meter
from flows.units import QUANTITIES, UnitMismatch, to_base
from speech.cardinals import TEENS, TENS
from speech.numbers import Spoken, speak_value

# What no meter on this machine can show, in base units: a slip of the ear, not a fault.  Common practice, no source.
_POSSIBLE = {
    "dc_voltage": (-60.0, 60.0),
    "ac_voltage": (0.0, 600.0),
    "resistance": (0.0, 60e6),
    "current": (-600.0, 600.0),
    "temperature": (-50.0, 150.0),
    "pressure": (-102.0, 400.0),  # a gauge sensor whose supply sags shows less than nothing
    "frequency": (0.0, 100e3),
    "engine_speed": (0.0, 10e3),
    "ratio": (0.0, 100.0),
}
# Read off the meter itself; other values may come from a display with digits of its own.
_ON_THE_METER = ("dc_voltage", "ac_voltage", "resistance", "current")
_SOUND_ALIKE = frozenset(word for word, value in {**TEENS, **TENS}.items() if value > 12 and value != 20)
POOR_CONFIDENCE = 0.9
REASONS = frozenset(
    (
        *("zero", "over_range", "unsteady", "unit", "doubtful", "grave", "out", "near_limit", "poorly_heard"),
        *("digits", "fits_nothing", "teens", "always"),
    )
)
"""Why a reading may be called a second time; see `why_again`."""


@dataclass(frozen=True)
class Rules:
    """What makes a reading sure enough to count; runner.safety.simulation measures what each of them earns."""

    twice: frozenset[str] = REASONS - {"digits", "always", "out"}
    poor_confidence: float = POOR_CONFIDENCE
    plausible: bool = True  # a value no meter shows here is not taken
    shown: bool = True  # a value with finer digits than this meter shows is not taken: a unit was heard as a digit
    unit_once: bool = True  # of two calls that agree one must have its unit
    n_best: bool = True  # what else the words may be counts as doubt, as far as the meter could show it
    second_best: bool = True  # words that can be no reading give way to the next likeliest that can
    lost: float = 0.6  # of the certainty of words that can be no reading, the part that stays doubt
    short_weight: float = 0.12  # weight of a reading short of the meter's digits against one that has them all
    pair_sure: float = 0.99  # two calls that agree are enough when weighed together they are this sure
    two_sure: float = 0.95  # both ways round is asked when it is one of two readings as surely as this
    contrast: bool = True  # what calls leave in doubt is asked both ways round: is it this, is it that
    quiet_db: float = 6.0  # speech less than this over the noise is not taken
    consent_db: float = 7.0  # who speaks less than this over the noise is asked to affirm: "wrong" might not be heard
    digits_again: bool = True  # what was called as a number is asked for digit by digit: the same words err alike twice


RULES = Rules()


@dataclass(frozen=True)
class Taken:
    """A call-out turned into a reading, with what has to be said about it."""

    reading: Reading
    spoken: Spoken
    unit: str  # the unit it is spoken in
    unit_inferred: bool
    words: str
    confidence: float
    typed: bool = False


class NotTaken(Exception):  # noqa: N818  an answer to the technician
    """The call-out cannot be a reading of this step; the text is the sentence to say."""


def take(spoken: Spoken, *, quantity: str, words: str, confidence: float, plausible: bool = True) -> Taken:
    """Turn what was said into a reading of the step's quantity, in base units.

    Raises NotTaken for a unit of another quantity and for a value no meter could show.
    """
    unit = spoken.unit or QUANTITIES[quantity].base
    inferred = spoken.unit is None and spoken.kind in ("value", "range")
    if spoken.kind == "over_range":
        return Taken(Reading(quantity, None, over_range=True), spoken, unit, False, words, confidence)
    if spoken.value is None:
        raise NotTaken("I heard no value. Call it again.")
    value = _base(spoken.value, unit, quantity)
    high = None if spoken.high is None else _base(spoken.high, unit, quantity)
    low_end, high_end = _POSSIBLE[quantity]
    for number in (value, high):
        if plausible and number is not None and not low_end <= number <= high_end:
            raise NotTaken("No meter shows that here. Call it again.")
    digit = abs(_base(10.0**-spoken.digits, unit, quantity) - _base(0.0, unit, quantity))
    return Taken(Reading(quantity, value, high, said_digit=digit), spoken, unit, inferred, words, confidence)


def _base(value: float, unit: str, quantity: str) -> float:
    try:
        return to_base(value, unit, quantity)
    except UnitMismatch as mismatch:
        raise NotTaken(str(mismatch)) from None


def said_as_number(words: str) -> bool:
    """Whether figures were said as one number, not digit by digit.

    >>> said_as_number("twelve point five volts"), said_as_number("one two point five volts")
    (True, False)
    """
    return any(word in TEENS or word in TENS or word in ("hundred", "thousand") for word in words.split())


def teens_or_tens(words: str) -> bool:
    """Whether a word was said whose twin sounds like it, as nineteen and ninety do: the reason radio calls digits one by
    one (ICAO Annex 10, volume II, transmission of numbers); the recogniser takes one for the other with certainty.

    >>> teens_or_tens("nineteen point seven volts"), teens_or_tens("twelve point seven volts")
    (True, False)
    """
    return any(word in _SOUND_ALIKE for word in words.split())


def agrees(first: Reading, second: Reading, meter: Meter) -> bool:
    """Two calls of the same reading agree: within five counts of the range, or one in two hundred; or both over range."""
    if first.over_range or second.over_range:
        return first.over_range and second.over_range
    if first.value is None or second.value is None:
        return False
    if (first.high is None) != (second.high is None):
        return False
    larger = max(abs(first.value), abs(second.value))
    slack = max(5 * meter.range_for(first.quantity, larger).resolution, 0.005 * larger)
    both = ((first.value, second.value), (first.high or 0.0, second.high or 0.0))
    return all(abs(one - other) <= slack for one, other in both)


def too_fine(taken: Taken, meter: Meter) -> bool:
    """The call has digits that this meter cannot show: most often its unit was heard as one more digit."""
    reading = taken.reading
    if reading.value is None or taken.spoken.digits == 0 or reading.quantity not in _ON_THE_METER:
        return False
    return reading.said_digit < 0.99 * meter.range_for(reading.quantity, reading.value).resolution


def why_again(
    taken: Taken, judgement: Judgement, *, grave: bool, meter: Meter, explained: bool = True, rules: Rules = RULES
) -> str | None:
    """The reason a reading has to be called a second time, or None when it stands unless the technician objects.

    explained: some fault that is still suspected, or a sound engine, could give it.
    """
    reasons = _reasons(taken, judgement, grave=grave, meter=meter, explained=explained, rules=rules)
    return next((reason for reason in reasons if reason in rules.twice), None)


def _reasons(
    taken: Taken, judgement: Judgement, *, grave: bool, meter: Meter, explained: bool, rules: Rules
) -> Iterator[str]:
    """Every reason there is, the one that tells the technician most to do first."""
    reading = taken.reading
    nothing = reading.value is not None and reading.quantity == "dc_voltage" and abs(reading.value) < 0.02 and grave
    holds = (
        ("zero", taken.spoken.kind == "zero_word"),
        ("over_range", reading.over_range),
        ("unsteady", judgement.outcome == "unsteady"),
        ("unit", taken.unit_inferred),
        ("fits_nothing", not explained),
        ("teens", teens_or_tens(taken.words)),
        ("zero", nothing),
        ("doubtful", judgement.outcome == "doubtful"),
        ("grave", grave),
        ("out", judgement.outcome != "in"),
        ("near_limit", judgement.near_limit),
        ("digits", not shown_in_full(reading, meter)),
        ("poorly_heard", taken.confidence < rules.poor_confidence),
        ("always", True),
    )
    return (reason for reason, there in holds if there)


def shown_in_full(reading: Reading, meter: Meter) -> bool:
    """The value has the digits that this meter shows of it: a lost or an added digit does not."""
    if reading.value is None or reading.over_range:
        return True
    digit = meter.range_for(reading.quantity, reading.value).resolution
    if digit > 1 and reading.said_digit == 1:  # a display of tens has a nought in its last place, and it is called too
        return reading.value % digit == 0
    return abs(reading.said_digit / digit - 1) < 0.01


def speak_taken(taken: Taken) -> str:
    """The value as heard, digit by digit with its unit, for the readback."""
    spoken = taken.spoken
    if spoken.kind == "over_range":
        return "Over range"
    if spoken.value is None:
        return "Nothing"
    low = speak_value(spoken.value, taken.unit, decimals=spoken.digits)
    if spoken.high is None:
        return low[:1].upper() + low[1:]
    return f"Between {low} and {speak_value(spoken.high, taken.unit, decimals=spoken.digits)}"
