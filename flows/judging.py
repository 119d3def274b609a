"""Reading and window in, outcome out: pure, for one reading or for arrays of them (JCGM 106, ILAC-G8 with w = U)."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Protocol

import numpy as np

from flows.meter import Meter
from flows.physics.decision import conformance_probability
from flows.units import QUANTITIES, figure

OUTCOMES = ("low", "in", "high", "unsteady", "doubtful", "open_line")
LOW, IN, HIGH, UNSTEADY, DOUBTFUL, OPEN_LINE = range(len(OUTCOMES))
NEAR = 1.5  # a reading this many guard bands from a limit, or nearer, is near it


class Limits(Protocol):
    """What judging needs of a window; `simple` means limits on the display itself, so no guard band (w = 0)."""

    @property
    def low(self) -> float | None: ...
    @property
    def high(self) -> float | None: ...
    @property
    def unit(self) -> str: ...
    @property
    def simple(self) -> bool: ...


@dataclass(frozen=True)
class Reading:
    """What was called: a value in the base unit of its quantity, both ends of a bouncing one, or over range."""

    quantity: str
    value: float | None
    high: float | None = None  # upper end when the value bounces; value is the lower
    over_range: bool = False
    said_digit: float = 0.0  # last digit the person said, in base units, where coarser than the display's

    def __post_init__(self) -> None:
        if self.quantity not in QUANTITIES:
            raise ValueError(f"quantity {self.quantity!r} is unknown; use one of {', '.join(QUANTITIES)}")
        if self.value is None and not self.over_range:
            raise ValueError("a reading needs a value, or over_range")


@dataclass(frozen=True)
class Judgement:
    """What a reading means, with the guard band used and the chance that the true value is inside the window."""

    outcome: str
    guard: float
    near_limit: bool
    probability: float
    sentence: str  # to say after the value; at most 20 words


def judge(reading: Reading, window: Limits, meter: Meter) -> Judgement:
    """Judge one reading: inside by more than the meter's U is `in`, outside by more `low` or `high`."""
    if reading.over_range or reading.value is None or np.isinf(reading.value):
        return _over_range(reading, window)
    ends = [reading.value] if reading.high is None else sorted((reading.value, reading.high))
    parts = [_judge_value(reading, value, window, meter) for value in ends]
    worst = min(parts, key=lambda part: part.probability if part.outcome == "in" else -part.probability)
    if len({part.outcome for part in parts}) > 1:
        return Judgement(
            "unsteady", worst.guard, True, worst.probability, "Unsteady: the two ends do not judge the same."
        )
    near = any(part.near_limit for part in parts)
    return Judgement(worst.outcome, worst.guard, near, worst.probability, worst.sentence)


def judge_many(quantity: str, values: Any, *, low: Any, high: Any, meter: Meter, simple: bool = False) -> np.ndarray:
    """Outcome codes (places in OUTCOMES) for arrays of displayed values; inf is over range, nan bounds are no limit.

    values, low, high broadcast together; a bound may be None for no limit anywhere. Same rule as judge().
    """
    values = np.asarray(values, dtype=float)
    bottom = np.asarray(np.nan if low is None else low, dtype=float)
    top = np.asarray(np.nan if high is None else high, dtype=float)
    bottom, top = np.where(np.isnan(bottom), -np.inf, bottom), np.where(np.isnan(top), np.inf, top)
    over = np.isposinf(values)
    finite = np.where(over, 0.0, values)
    guard = 0.0 if simple else meter.expanded_uncertainty(quantity, finite)
    codes = _codes(finite, bottom, top, guard)
    return np.where(over, _over_code(quantity, np.isposinf(top)), codes).astype(np.int8)


def _codes(values: Any, low: Any, high: Any, guard: Any) -> Any:
    """The rule itself, for numbers or arrays; limits without a bound are infinite. Both ends of a window pass."""
    slack = 1e-9 * np.maximum(
        1.0, np.abs(values)
    )  # so that a reading that stands on a limit is not lost to binary digits
    passes = (values >= low + guard - slack) & (values <= high - guard + slack)
    under, above = values < low - guard - slack, values > high + guard + slack
    return np.select([passes, under, above], [IN, LOW, HIGH], DOUBTFUL)


def _over_code(quantity: str, unbounded_above: Any) -> Any:
    """Over range on ohms is an open line, or exactly what an isolation check wants; on anything else it is too high."""
    if quantity == "resistance":
        return np.where(unbounded_above, IN, OPEN_LINE)
    return np.where(unbounded_above, DOUBTFUL, HIGH)


def decides(quantity: str, window: Limits, meter: Meter) -> bool:
    """Whether any reading of this meter could pass the window: false when it is narrower than twice the meter's U."""
    if window.low is None or window.high is None or window.simple:
        return True
    guards = [float(meter.expanded_uncertainty(quantity, end)) for end in (window.low, window.high)]
    return window.high - window.low >= sum(guards)


OVER_SENTENCES: Mapping[str, str] = MappingProxyType(
    {
        "in": "Over range, so open, as it should be.",
        "open_line": "Over range: the line is open, or a probe does not touch.",
        "high": "Over range: more than this meter can show. Check its range.",
        "doubtful": "Over range decides nothing here. Check the meter's range and jack.",
    }
)


def _over_range(reading: Reading, window: Limits) -> Judgement:
    outcome = OUTCOMES[int(_over_code(reading.quantity, window.high is None))]
    return Judgement(outcome, 0.0, False, 1.0 if outcome == "in" else 0.0, OVER_SENTENCES[outcome])


def _judge_value(reading: Reading, value: float, window: Limits, meter: Meter) -> Judgement:
    u = meter.standard_uncertainty(reading.quantity, value, said_digit=reading.said_digit)
    guard = 0.0 if window.simple else 2 * u
    low = -np.inf if window.low is None else window.low
    high = np.inf if window.high is None else window.high
    outcome = OUTCOMES[int(_codes(value, low, high, guard))]
    distance = min(abs(value - low), abs(value - high))
    digit = meter.range_for(reading.quantity, value).resolution
    near = bool(distance <= (digit / 2 if window.simple else NEAR * guard))
    probability = conformance_probability(value, u, low=window.low, high=window.high)
    return Judgement(
        outcome, guard, near, probability, _sentence(outcome, value, window, guard, _decimals(reading, value, meter))
    )


def _decimals(reading: Reading, value: float, meter: Meter) -> int:
    return meter.decimals(reading.quantity, value)


def _sentence(outcome: str, value: float, window: Limits, guard: float, decimals: int) -> str:
    low, high, unit = window.low, window.high, window.unit
    if outcome == "in":
        return "In limits."
    if outcome == "low" and low is not None:
        return f"Low. The least is {figure(low, unit, decimals=decimals, trim=True)}."
    if outcome == "high" and high is not None:
        return f"High. The most is {figure(high, unit, decimals=decimals, trim=True)}."
    if low is not None and high is not None and high - low < 2 * guard:
        return cannot_decide(high - low, 2 * guard, unit=unit, decimals=decimals)
    nearest = min((limit for limit in (low, high) if limit is not None), key=lambda limit: abs(limit - value))
    return (
        f"Doubtful: the limit is {figure(nearest, unit, decimals=decimals, trim=True)}, "
        f"and this meter is only sure to {figure(guard, unit, decimals=decimals)}."
    )


def cannot_decide(width: float, needed: float, *, unit: str, decimals: int) -> str:
    """The sentence for a window that no reading of this meter could pass: both numbers, and what would decide."""
    instead = "Measure the drop itself on a lower range." if unit == "V" else "Use a finer meter."
    if figure(width, unit, decimals=decimals) == figure(needed, unit, decimals=decimals):
        decimals += 1  # so that the two numbers never sound alike
    window, share = figure(width, unit, decimals=decimals), figure(needed, unit, decimals=decimals)
    if window.split()[-1] == share.split()[-1]:
        window = window.split()[0]
    return f"This meter cannot decide: the window is {window}, it needs {share}. {instead}"
