"""Where everything on a gauge stands: a plain bar with ticks, the window, its doubtful edges and the reading. Pure.

Told apart by shape, place and word, never by colour: a disc is in, triangles point the way a reading is out, a diamond
is doubtful, a bar with two heads is unsteady, a ring is an open line.
"""

import math
from dataclasses import dataclass

from runner.report.figures import decimals_in, figure, number, scale_for, symbol

LEFT, RIGHT = 14.0, 308.0  # of a drawing 340 wide; the unit stands at the right end
STUB = 30.0  # room at an end for a reading that lies beyond the axis
SHAPES = {
    "in": "disc",
    "low": "left",
    "high": "right",
    "doubtful": "diamond",
    "unsteady": "span",
    "open_line": "ring",
}


@dataclass(frozen=True)
class Mark:
    """Something written at a place along the bar; `anchor` as SVG has it."""

    x: float
    text: str
    anchor: str = "middle"


@dataclass(frozen=True)
class Stretch:
    """A part of the bar."""

    x: float
    width: float


@dataclass(frozen=True)
class Gauge:
    """Geometry of one gauge, in the units of its drawing."""

    ticks: tuple[Mark, ...]
    minor: tuple[float, ...]
    limits: tuple[Mark, ...]
    window: Stretch | None
    doubtful: tuple[Stretch, ...]
    x: float  # of the reading
    x_high: float | None  # of the upper end of a reading that bounces
    shape: str
    beyond: str  # "", "left" or "right": the axis is broken and the reading lies past it
    axis: Stretch
    unit: str
    open_left: bool  # the window has no lower end
    open_right: bool
    words: str  # the same in a sentence, for who cannot see it


@dataclass(frozen=True)
class Scale:
    """Values to places along the bar."""

    start: float
    end: float
    x_start: float
    x_end: float

    def x(self, value: float) -> float:
        """Place of a value, kept on the bar."""
        share = (value - self.start) / (self.end - self.start)
        return round(self.x_start + min(1.0, max(0.0, share)) * (self.x_end - self.x_start), 2)


@dataclass(frozen=True)
class Shown:
    """What a gauge shows, in base units."""

    value: float | None
    value_high: float | None
    over_range: bool
    low: float | None
    high: float | None
    guard: float
    unit: str
    outcome: str


def draw(shown: Shown) -> Gauge:
    """Lay the gauge out; a reading far outside the window gets a broken axis instead of a squeezed window."""
    start, end = _window_domain(shown)
    readings = [each for each in (shown.value, shown.value_high) if each is not None]
    span = end - start
    if readings and start - 0.9 * span <= min(readings) < start:
        start = min(readings) - 0.06 * span
    if readings and end < max(readings) <= end + 0.9 * span:
        end = max(readings) + 0.06 * span
    beyond = _beyond(readings, start, end, over_range=shown.over_range)
    scale = Scale(start, end, LEFT + (STUB if beyond == "left" else 0), RIGHT - (STUB if beyond == "right" else 0))
    unit, factor = scale_for(max(abs(start), abs(end)), shown.unit)
    ticks, minor = _ticks(scale, factor)
    return Gauge(
        ticks=ticks,
        minor=minor,
        limits=_limits(shown, scale, factor),
        window=_window(shown, scale),
        doubtful=_doubtful(shown, scale),
        x={"left": LEFT + 5, "right": RIGHT - 5}.get(beyond)
        or scale.x(shown.value if shown.value is not None else end),
        x_high=None if beyond or shown.value_high is None else scale.x(shown.value_high),
        shape="ring" if shown.over_range else SHAPES.get(shown.outcome, "disc"),
        beyond=beyond,
        axis=Stretch(scale.x_start, scale.x_end - scale.x_start),
        unit=symbol(unit),
        open_left=shown.low is None and shown.high is not None,
        open_right=shown.high is None and shown.low is not None,
        words=_words(shown),
    )


def _window_domain(shown: Shown) -> tuple[float, float]:
    """Ends of the axis that show the window and its doubtful edges well."""
    low, high, guard = shown.low, shown.high, shown.guard
    if low is not None and high is not None:
        span = max(high - low, 3 * guard, 1e-9 * max(abs(low), abs(high)), 1e-12)
        middle = (low + high) / 2
        return middle - 1.1 * span, middle + 1.1 * span
    if high is not None:
        span = max(abs(high), 4 * guard, 1e-12)
        return (-0.06 * span if high > 0 else high - span), high + 0.7 * span
    if low is not None:
        span = max(abs(low), 4 * guard, 1e-12)
        return low - 0.7 * span, low + span
    size = max((abs(each) for each in (shown.value, shown.value_high) if each is not None), default=1.0)
    size = size if size > 1e-12 else 1.0  # nothing a meter shows is smaller; an axis must have a length
    return (-1.3 * size if (shown.value or 0) < 0 else -0.05 * size), 1.3 * size


def _beyond(readings: list[float], start: float, end: float, *, over_range: bool) -> str:
    if over_range or (readings and max(readings) > end):
        return "right"
    return "left" if readings and min(readings) < start else ""


def nice_step(span: float, *, most: int) -> float:
    """Distance of ticks: 1, 2 or 5 times a power of ten, at most so many of them.

    >>> nice_step(0.44, most=5), nice_step(12.0, most=5)
    (0.1, 5.0)
    """
    rough = span / most
    power = 10.0 ** math.floor(math.log10(rough))
    return next(step * power for step in (1.0, 2.0, 5.0, 10.0) if step * power >= rough * (1 - 1e-9))


def _ticks(scale: Scale, factor: float) -> tuple[tuple[Mark, ...], tuple[float, ...]]:
    start, end = scale.start * factor, scale.end * factor
    step = nice_step(end - start, most=5)
    decimals = decimals_in(step)
    first = math.ceil(start / step - 1e-9)
    values = [index * step for index in range(first, math.floor(end / step + 1e-9) + 1)]
    small = step / (4 if f"{step:e}"[0] == "2" else 5)
    count = range(math.ceil(start / small - 1e-9), math.floor(end / small + 1e-9) + 1)
    marks = tuple(Mark(scale.x(each / factor), number(each, decimals)) for each in values)
    return marks, tuple(scale.x(index * small / factor) for index in count)


def _limits(shown: Shown, scale: Scale, factor: float) -> tuple[Mark, ...]:
    """Limits written above the bar, pushed apart where they stand close."""
    ends = [(each, scale.x(each)) for each in (shown.low, shown.high) if each is not None]
    fine = max(0, min(4, 2 - math.floor(math.log10(max((scale.end - scale.start) * factor, 1e-9)))))
    digits = max((decimals_in(value * factor, most=fine) for value, _x in ends), default=0)
    close = len(ends) == 2 and ends[1][1] - ends[0][1] < 50
    marks = []
    for index, (value, x) in enumerate(ends):
        anchor = ("end", "start")[index] if close else "middle"
        marks.append(Mark(x, number(value * factor, digits), anchor))
    return tuple(marks)


def _window(shown: Shown, scale: Scale) -> Stretch | None:
    if shown.low is None and shown.high is None:
        return None
    left = scale.x_start if shown.low is None else scale.x(shown.low)
    right = scale.x_end if shown.high is None else scale.x(shown.high)
    return Stretch(left, round(max(right - left, 1.5), 2))


def _doubtful(shown: Shown, scale: Scale) -> tuple[Stretch, ...]:
    """Where this meter cannot tell in from out; two edges that meet are one."""
    if shown.guard <= 0:
        return ()
    ends = [
        (scale.x(each - shown.guard), scale.x(each + shown.guard))
        for each in (shown.low, shown.high)
        if each is not None
    ]
    if len(ends) == 2 and ends[0][1] >= ends[1][0]:
        ends = [(ends[0][0], ends[1][1])]
    return tuple(Stretch(left, round(max(right - left, 1.0), 2)) for left, right in ends)


def _words(shown: Shown) -> str:
    value = "Over range" if shown.over_range else figure(shown.value, shown.unit)
    if shown.value_high is not None and not shown.over_range:
        value = f"Between {value} and {figure(shown.value_high, shown.unit)}"
    ends = {"from": shown.low, "to": shown.high}
    allowed = " ".join(f"{word} {figure(end, shown.unit)}" for word, end in ends.items() if end is not None)
    return f"{value}; allowed {allowed}" if allowed else f"{value}; not judged"
