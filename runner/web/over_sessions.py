"""One check's reading over all sessions with its limits, and how often people had to call a reading against noise."""

import math
import statistics
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from starlette.requests import Request
from starlette.responses import Response

from flows.model import FlowError
from flows.source import load_flow, load_sheet, shipped_flows
from runner.record.across import Asking, Taken
from runner.report import figures
from runner.report.gauges import nice_step
from runner.report.story import title_of
from runner.web.paper import page
from runner.web.records import Records
from runner.web.sections import Page, Role

MOST_DOTS = 2000  # drawn; the figures are over all
LEFT, RIGHT, TOP, BOTTOM = 60.0, 880.0, 20.0, 280.0
NOISE_EDGES_DB = (0.0, 5.0, 10.0, 15.0, 20.0, 30.0)  # of the voice above the noise


@dataclass(frozen=True)
class Dot:
    """One session's reading. out: not in its limits, drawn hollow."""

    x: float
    y: float
    out: bool
    words: str
    session: str


@dataclass(frozen=True)
class Drawn:
    """The spread as a drawing: sessions from left to right, readings upwards, each session's limits as a band."""

    dots: tuple[Dot, ...]
    bands: tuple[tuple[float, float, float, float], ...]  # x, y, width, height
    ticks: tuple[tuple[float, str], ...]
    unit: str
    left_out: int  # far beyond the limits and the rest, told in words


@dataclass(frozen=True)
class Summary:
    """The spread in figures, written out."""

    count: int
    middle: str
    p5: str
    p95: str
    least: str
    most: str
    outside: int


def summary(taken: Sequence[Taken]) -> Summary:
    """Over all of them; there is at least one."""
    values, unit = sorted(each.value for each in taken), taken[0].unit
    scale = figures.scale_for(max(map(abs, values)), unit)

    def told(value: float) -> str:
        return figures.figure(float(f"{value:.4g}"), unit, scale=scale)

    outside = sum(each.outcome not in ("in", "recorded", "answered", "") for each in taken)
    low, high = values[math.floor(0.05 * (len(values) - 1))], values[math.ceil(0.95 * (len(values) - 1))]
    return Summary(
        len(values), told(statistics.median(values)), told(low), told(high), told(values[0]), told(values[-1]), outside
    )


def drawn(taken: Sequence[Taken]) -> Drawn:
    """The newest of them as dots. A reading that would squeeze all others flat is left out and counted."""
    taken = taken[-MOST_DOTS:]
    ends = [end for each in taken for end in (each.low, each.high) if end is not None]
    values = sorted(each.value for each in taken)
    middle = values[len(values) // 10 : len(values) - len(values) // 10] or values
    low, high = min([*middle, *ends]), max([*middle, *ends])
    room = 0.15 * (high - low) or abs(high) * 0.1 or 1.0
    low, high = max(low - room, min([*values, low])) - room / 4, min(high + room, max([*values, high])) + room / 4
    unit, factor = figures.scale_for(max(abs(low), abs(high)), taken[0].unit)

    def y(value: float) -> float:
        return round(BOTTOM - (value - low) / (high - low) * (BOTTOM - TOP), 1)

    each_width = (RIGHT - LEFT) / len(taken)
    dots, bands, left_out = [], [], 0
    for number, each in enumerate(taken):
        x = LEFT + number * each_width
        top = y(min(high, each.high)) if each.high is not None else TOP
        bottom = y(max(low, each.low)) if each.low is not None else BOTTOM
        if (each.low, each.high) != (None, None) and bottom > top:
            bands.append((round(x, 2), top, round(each_width + 0.05, 2), round(bottom - top, 1)))
        if low <= each.value <= high:
            words = f"{each.session}: {figures.figure(each.value, each.unit)}, {each.outcome or 'not judged'}"
            dots.append(Dot(round(x + each_width / 2, 1), y(each.value), each.outcome != "in", words, each.session))
        else:
            left_out += 1
    step = nice_step((high - low) * factor, most=6)
    decimals = figures.decimals_in(step)
    first = math.ceil(low * factor / step)
    ticks = [n * step for n in range(first, math.floor(high * factor / step) + 1)]
    marks = tuple((y(tick / factor), figures.number(tick, decimals)) for tick in ticks)
    return Drawn(tuple(dots), tuple(bands), marks, figures.symbol(unit), left_out)


def steps_of(flow: str) -> list[tuple[str, str]]:
    """The steps of a shipped flow that measure something."""
    try:
        steps = load_flow(flow, load_sheet("th2")).steps if flow in shipped_flows() else {}
    except FlowError:
        return []
    return [(name, title_of(name)) for name, step in steps.items() if step.measure is not None]


def spread(request: Request) -> Response:
    """One check over all sessions."""
    flow, step = (request.query_params.get(key, "")[:100] for key in ("flow", "step"))
    records: Records = request.app.state.records
    taken = list(records.readings(flow, step)) if flow and step else []
    return page(
        request,
        "spread.html",
        flow=flow,
        step=step,
        flows=shipped_flows(),
        steps=steps_of(flow),
        taken=taken[::-1][:200],
        figures=summary(taken) if taken else None,
        drawing=drawn(taken) if taken else None,
        title_of_step=title_of(step),
    )


# --- re-asking --------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Rate:
    """Calls for each reading in one stretch of noise, or of one person. again: share of readings called more than once needs."""

    name: str
    sessions: int
    readings: int
    calls: int

    @property
    def per_reading(self) -> float:
        """Calls for a reading; 1 when none had to be repeated."""
        return self.calls / self.readings if self.readings else 0.0


def rates(askings: Iterable[Asking]) -> tuple[list[Rate], list[tuple[str, list[Rate]]]]:
    """Over all, by how far the voice stood above the noise; then the same for each person, most calls first."""
    everything = [each for each in askings if each.readings]
    persons = {each.person for each in everything}
    each_person = [
        (person or "initials not given", by_noise([each for each in everything if each.person == person]))
        for person in persons
    ]
    each_person.sort(key=lambda named: -named[1][-1].per_reading)
    return by_noise(everything), each_person


def by_noise(askings: Sequence[Asking]) -> list[Rate]:
    """A rate for each stretch of noise that was met, the sum last."""
    names = [f"below {NOISE_EDGES_DB[0]:.0f} dB"]
    names += [f"{low:.0f} to {high:.0f} dB" for low, high in pairwise(NOISE_EDGES_DB)]
    names += [f"above {NOISE_EDGES_DB[-1]:.0f} dB", "not known"]
    groups: dict[str, list[Asking]] = {name: [] for name in names}
    for each in askings:
        level = each.above_noise_db
        place = len(names) - 1 if level is None else sum(level >= edge for edge in NOISE_EDGES_DB)
        groups[names[place]].append(each)
    return [_rate(name, group) for name, group in groups.items() if group] + [_rate("all", askings)]


def _rate(name: str, group: Sequence[Asking]) -> Rate:
    return Rate(name, len(group), sum(each.readings for each in group), sum(each.calls for each in group))


def re_asking(request: Request) -> Response:
    """Who had to call readings again, and in what noise."""
    records: Records = request.app.state.records
    everybody, persons = rates(records.askings())
    return page(request, "re_asking.html", everybody=everybody, persons=persons)


PAGES = (Page("/spread", spread), Page("/re-asking", re_asking, least=Role.SUPERVISOR))
