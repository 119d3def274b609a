"""The best possible of a real flow: its opening is questions, meter, battery and looks; the bounds lie in order."""

import pytest

from flows.circuits import CIRCUITS
from flows.meter import load_meter
from flows.source import load_flow, load_sheet
from flows.trial.engines import draw_engines
from flows.trial.possible import OPENING_POINTS, best_possible, opening_of
from flows.trial.walk import Course, Walker


def course(name: str) -> Course:
    sheet = load_sheet()
    flow = load_flow(name, sheet)
    return Course(flow, CIRCUITS[flow.circuit](sheet), sheet, load_meter())


@pytest.mark.parametrize("name", ["manifold-pressure", "coolant-temperature", "accelerator-pedal"])
def test_the_opening_holds_no_check_of_the_flow_itself(name: str) -> None:
    steps = opening_of(course(name))
    assert any(step.ask and step.ask.reply == "codes" for step in steps)
    assert any(step.measure for step in steps)
    for step in steps:
        if step.measure is not None:
            assert {step.measure.red, step.measure.black} <= OPENING_POINTS


def test_the_bounds_lie_in_order_and_below_what_the_flow_takes() -> None:
    on = course("coolant-temperature")
    best = best_possible(on, seconds=1)
    assert best.lower_minutes <= best.found_minutes
    assert best.lower_minutes > 0.9 * best.opening_minutes  # some are settled before the opening is through
    engines = draw_engines(3, seed=1)
    minutes = [party.hands.minutes for fault in on.circuit.faults() for party in Walker(on, engines).walk(fault).ends]
    assert best.lower_minutes < sum(minutes) / len(minutes)
