"""The best possible minutes for one flow: its opening as it stands, then the best order of every check there is.

The opening is what the flow does on a healthy engine before its first check of its own: questions, the meter, the
battery, looking. All it tells counts as told, the stored codes among it; both sides pay for it.
"""

from dataclasses import dataclass

from flows.model import Step
from flows.trial.checks import CheckTable
from flows.trial.costs import Clock, Hands
from flows.trial.optimum import Search, Set
from flows.trial.paths import usual_path
from flows.trial.telling import Check
from flows.trial.walk import Course

OPENING_POINTS = {"leads.tips", "battery.positive", "battery.negative"}


@dataclass(frozen=True)
class Best:
    """Mean minutes a fault. No order of the checks can do with less than lower; found is an order's that exists."""

    lower_minutes: float
    found_minutes: float
    exact: bool
    opening_minutes: float
    checks: int  # that tell something no cheaper one tells
    suspects: int
    sets: int
    first: str


@dataclass(frozen=True)
class Start:
    """Where a search for the best order begins."""

    table: CheckTable
    search: Search
    sets: tuple[Set, ...]  # what the opening leaves
    spent: float  # minutes in the opening, by weight
    opening_minutes: float  # all of it
    checks: int


def start_of(course: Course, *, by_value: bool = False) -> Start:
    """All suspects gone through the opening of a course."""
    table = CheckTable(course.circuit, course.sheet, course.meter, course.flow, by_value=by_value)
    checks = table.checks()
    search = Search(table.rows, checks, course.circuit.classes())
    sets, spent, whole = _Opening(course, table, search).gone_through()
    return Start(table, search, tuple(sets), spent, whole, len(checks))


def best_possible(course: Course, *, seconds: float = 15.0, by_value: bool = False) -> Best:
    """The best possible for a course; the search ends after so many seconds with what it has proved so far."""
    return best_from(start_of(course, by_value=by_value), seconds=seconds)


def best_from(start: Start, *, seconds: float) -> Best:
    """The best possible from a start."""
    share = start.search.weight(start.search.everything().true)
    found = start.search.best(start.sets, seconds=seconds)
    return Best(
        (start.spent + found.lower_minutes) / share,
        (start.spent + found.found_minutes) / share,
        found.exact,
        start.opening_minutes,
        start.checks,
        len(start.table.rows),
        found.sets,
        found.first,
    )


def opening_of(course: Course) -> tuple[Step, ...]:
    """Steps a healthy engine goes through before the flow's first check of its own."""
    plain = Course(course.flow, course.circuit, course.sheet, course.meter)
    path = usual_path(plain, None)
    steps: list[Step] = []
    for name in path:
        step = course.flow.steps[name]
        if step.kind == "watch" or (step.measure is not None and not _of_meter_or_battery(step)):
            break
        steps.append(step)
    return tuple(steps)


def _of_meter_or_battery(step: Step) -> bool:
    """Whether a check only proves the meter or the battery: a shared part's, on the posts, before the engine runs."""
    assert step.measure is not None
    points = {step.measure.red, step.measure.black}
    return (
        "/" in step.name and points <= OPENING_POINTS and step.measure.state.get("engine") in ("off", "cranking", None)
    )


class _Opening:
    """Goes through the opening with every suspect at once."""

    def __init__(self, course: Course, table: CheckTable, search: Search) -> None:
        self._course, self._table, self._search = course, table, search
        self._clock = Clock(course.sheet)

    def gone_through(self) -> tuple[list[Set], float, float]:
        """Suspect sets after it, minutes spent in it (by weight), and what it takes whole."""
        hands, sets, spent = Hands(), [self._search.everything()], 0.0
        for step in opening_of(self._course):
            before = hands.minutes
            hands = self._clock.after(hands, step)
            open_sets = [s for s in sets if not self._search.settled(s)]
            spent += (hands.minutes - before) * sum(self._search.weight(s.true) for s in open_sets)
            check = self._told(step)
            if check is not None:
                sets = [Set(t, left, s.paid) for s in sets for t, left in self._search.part(s, check.labels)]
        paid = sum({self._search.bit_of.get(f"to {place}", 0) for place in hands.reached})
        return [Set(s.true, s.compatible, paid) for s in sets], spent, hands.minutes

    def _told(self, step: Step) -> Check | None:
        """What an opening step tells."""
        if step.ask is not None and step.ask.reply == "codes":
            return self._table.codes()
        if step.look is not None:
            return next((c for c in self._table.looks() if c.name == f"look at {step.look.place}"), None)
        if step.measure is not None and step.watch is None and step.measure.red != step.measure.black:
            return self._table.check(step.measure)
        return None
