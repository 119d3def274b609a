"""One reading and its judgement as the page shows them: value, limits, guard band, gauge."""

from collections.abc import Sequence

from runner.report import figures
from runner.report.gauges import Gauge, Shown, draw
from runner.report.story import Event


def value_of(measured: Event, judged: Event) -> str:
    """A reading as it is written; "" where there is none."""
    if not measured:
        return ""
    if measured.get("over_range"):
        return "OL"
    unit, decimals = str(measured.get("unit", "")), measured.get("decimals")
    scale = _scale(measured, judged)
    low = figures.figure(measured.get("value"), unit, decimals=decimals, scale=scale)
    if measured.get("high") is None:
        return low
    high = figures.figure(measured["high"], unit, decimals=decimals, scale=scale)
    return f"{low.partition(figures.THIN)[0] if scale else low} to {high}"


def _scale(measured: Event, judged: Event) -> tuple[str, float] | None:
    """One unit for the reading and its limits, so that they can be compared at a glance."""
    numbers = (measured.get("value"), measured.get("high"), judged.get("low"), judged.get("high"))
    return figures.common_scale(numbers, str(measured.get("unit", "")))


def allowed(judged: Event) -> str:
    """The window in words, one digit finer than most meters show."""
    low, high, unit = judged.get("low"), judged.get("high"), str(judged.get("unit", ""))
    ends = [each for each in (low, high) if isinstance(each, int | float)]
    if not ends:
        return ""
    shown, factor = figures.scale_for(max(map(abs, ends)), unit)
    sign = figures.symbol(shown)
    decimals = _limit_decimals([each * factor for each in ends])
    texts = [figures.number(each * factor, decimals) for each in ends]
    if len(ends) == 2:
        return f"{texts[0]} to {texts[1]}{figures.THIN}{sign}"
    return f"{'at least' if low is not None else 'at most'} {texts[0]}{figures.THIN}{sign}"


def guard(judged: Event) -> str:
    """Half-width of the doubtful zone, to two figures: it is an estimate."""
    guard = judged.get("guard")
    if not isinstance(guard, int | float) or guard <= 0 or (judged.get("low") is None and judged.get("high") is None):
        return ""
    return figures.figure(float(f"{guard:.1e}"), str(judged.get("unit", "")))


def _limit_decimals(ends: Sequence[float]) -> int:
    """The same for both ends, as many as the larger one needs: four figures or so."""
    largest = max(map(abs, ends))
    enough = 3 if largest < 10 else 2 if largest < 100 else 1
    return max(min(enough, figures.decimals_in(round(end, enough))) for end in ends)


def gauge_of(measured: Event, judged: Event) -> Gauge | None:
    """The gauge of a reading; None where there is no value to put on one."""
    value = measured.get("value")
    if not measured or (value is None and not measured.get("over_range")):
        return None
    return draw(
        Shown(
            value=value,
            value_high=measured.get("high"),
            over_range=bool(measured.get("over_range")),
            low=judged.get("low"),
            high=judged.get("high"),
            guard=float(judged.get("guard") or 0.0),
            unit=str(judged.get("unit") or measured.get("unit", "")),
            outcome=str(judged.get("outcome", "")),
        )
    )
