"""Many engines walked at once take the very way that each takes alone: judged one by one, step by step."""

import math
from collections.abc import Iterable

import numpy as np
import pytest

from flows.circuits import CIRCUITS
from flows.judging import Reading, judge
from flows.meter import load_meter
from flows.model import Flow, Step
from flows.source import load_flow, load_sheet
from flows.trial.engines import draw_engines
from flows.trial.lots import Engines
from flows.trial.slips import Slips
from flows.trial.solving import TrueValues
from flows.trial.walk import Course, Walked, Walker, path_of
from flows.walking import automatic, denied_places, path
from flows.windows import WindowError, compute

FAULTS = (None, "supply-open", "signal-resistance", "temperature-short-to-ground", "sensor-drift-high", "hose-leak")


@pytest.fixture(scope="module")
def course() -> Course:
    sheet = load_sheet()
    flow = load_flow("manifold-pressure", sheet)
    return Course(flow, CIRCUITS[flow.circuit](sheet), sheet, load_meter())


class Alone:
    """One engine's technician, who judges each reading with the scalar judge."""

    def __init__(self, course: Course, engines: Engines, number: int, fault: str | None) -> None:
        self.course, self.fault = course, fault
        self.site, self.draw = engines.sites[engines.site_of[number]], engines.draws[number]
        self.gain, self.offset = float(engines.gain[number]), float(engines.offset[number])
        self.reaches = bool(engines.reaches[number])
        self.readings: dict[str, float] = {}
        self.walked: list[tuple[str, str]] = []

    def __call__(self, step: Step) -> str:
        outcome = self._outcome(step)
        self.walked.append((step.name, outcome))
        return outcome

    def _outcome(self, step: Step) -> str:
        known = automatic(step, denied_places(self.course.flow, self.walked, self.course.sheet))
        if known is not None:
            return known
        if "unit" in step.places and not self.reaches:
            return "cannot"
        circuit, here = self.course.circuit, {"site": self.site, "draw": self.draw}
        if step.ask is not None:
            codes = circuit.codes(self.fault, **here)
            told = {"codes": "answered" if codes else "none", "yes_no": "yes" if codes else "no", "choice": "cold"}
            return told.get(step.ask.reply, "answered") if "light" not in step.ask.choices else "light"
        if step.look is not None:
            return circuit.look(self.fault, step.look.place, draw=self.draw)
        if step.measure is None:
            return "done"
        m = step.measure
        if step.watch is not None:
            seen = [
                circuit.watch(self.fault, m.red, m.black, m.quantity, m.state, place=p, meter_ohm=1e7, **here)
                for p in step.watch.places
            ]
            return "moved" if "moved" in seen else "steady"
        return self._check(step)

    def _check(self, step: Step) -> str:
        assert step.measure is not None
        m, meter, readings = step.measure, self.course.meter, dict(self.readings)
        true = self.course.circuit.reading(
            self.fault, m.red, m.black, m.quantity, m.state, site=self.site, draw=self.draw, meter_ohm=meter.input_ohm
        )
        shown = float(meter.shows(m.quantity, true, gain=self.gain, offset=self.offset))
        try:
            window = step.expect and compute(
                step.expect, sheet=self.course.sheet, site=self.site, meter=meter, readings=readings
            )
        except WindowError:
            self.readings.pop(step.name, None)
            return "cannot"
        if math.isfinite(shown):
            self.readings[step.name] = shown
        else:
            self.readings.pop(step.name, None)
        if not window:
            return "in"
        over = math.isinf(shown)
        return judge(Reading(m.quantity, None if over else shown, over_range=over), window, meter).outcome


@pytest.mark.parametrize("fault", FAULTS)
def test_the_walk_of_many_is_the_walk_of_each(course: Course, fault: str | None) -> None:
    engines = draw_engines(10, seed=7, beyond_reach=0.4)
    walked = Walker(course, engines).walk(fault)
    for number in range(len(engines)):
        alone = path(course.flow, Alone(course, engines, number, fault))
        together = path_of(walked, number)
        assert plainly(course, alone[:-1]) == plainly(course, together["path"]), number
        assert alone[-1][0] == together["finding"]


def plainly(course: Course, walked: Iterable[tuple[str, str]]) -> list[tuple[str, str]]:
    """The path without answers that make no difference."""
    asks = {name for name, step in course.flow.steps.items() if step.ask and len(set(step.outcomes.values())) == 1}
    return [(name, "" if name in asks else outcome) for name, outcome in walked]


def test_every_engine_ends_exactly_once_and_every_branch_is_counted(course: Course) -> None:
    engines = draw_engines(30, seed=3)
    walked = Walker(course, engines).walk("supply-resistance")
    ended = np.concatenate([party.which for party in walked.ends])
    assert sorted(ended) == list(range(30))
    taken = sum(len(party.path) * len(party.which) for party in walked.ends)
    assert sum(walked.branches.values()) == taken
    assert all(outcome in course.flow.steps[step].outcomes for step, outcome in walked.branches)


def test_the_same_seed_walks_the_same_way_and_slips_do_too(course: Course) -> None:
    slipping = Course(course.flow, course.circuit, course.sheet, course.meter, Slips(0.1), seed=4)
    findings = [Walker(slipping, draw_engines(20, seed=2)).walk("signal-open").finding_of(20) for _ in range(2)]
    assert findings[0] == findings[1]


def test_who_cannot_reach_the_control_unit_never_reads_there(course: Course) -> None:
    engines = draw_engines(12, seed=5, beyond_reach=1.0)
    for fault in ("signal-open", "temperature-short-to-ground", None):
        walked: Walked = Walker(course, engines).walk(fault)
        unit = {name for name, step in course.flow.steps.items() if "unit" in step.places}
        assert {o for (step, o) in walked.branches if step in unit} <= {"cannot"}


def test_a_place_is_paid_for_once(course: Course) -> None:
    engines = draw_engines(1, seed=1)
    walked = Walker(course, engines).walk(None)
    (end,) = walked.ends
    access = {name: place.access_minutes for name, place in course.sheet.places.items()}
    steps = [course.flow.steps[name] for name, _ in end.path]
    talk = len(steps) * course.sheet.costs.talk + sum(step.minutes for step in steps)
    assert end.hands.minutes > talk + sum(access[place] for place in end.hands.reached)
    assert {"battery", "plug"} <= end.hands.reached


def test_a_batched_circuit_is_asked_in_one_go(course: Course) -> None:
    class Batched:
        calls = 0

        def readings(self, fault, red, black, quantity, state, *, crowd, meter_ohm):  # type: ignore[no-untyped-def]
            Batched.calls += 1
            return np.arange(len(crowd), dtype=float)

    engines = draw_engines(6, seed=1)
    values = TrueValues(Batched(), None, engines, meter_ohm=1e7)
    assert list(values.reading("a", "b", "dc_voltage", {}, np.array([4, 1]))) == [4.0, 1.0]
    assert list(values.reading("a", "b", "dc_voltage", {}, np.array([1, 5]))) == [1.0, 5.0]  # kept
    assert Batched.calls == 1


def test_an_endless_flow_is_cut_off(course: Course) -> None:
    step = Step(name="round", kind="act", say="Again.", act={}, outcomes={"done": "round", "cannot": "round"})  # type: ignore[arg-type]
    flow = Flow(name="f", title="f", circuit="c", start="round", steps={"round": step}, findings={})
    walked = Walker(Course(flow, course.circuit, course.sheet, course.meter), draw_engines(2, seed=1)).walk(None)
    assert walked.finding_of(2) == ["", ""]
