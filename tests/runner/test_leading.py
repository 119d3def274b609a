"""When a step's own sentence is said before what is to be done, and when that says it all."""

import pytest

from flows.bench import Bench
from flows.model import DEFAULT_STATE, Measure, Step
from flows.source import load_sheet
from flows.staging import stages
from runner.talk.workbench import led

SHEET = load_sheet("th2")
ON = {**DEFAULT_STATE, "key": "on"}
BENCH = Bench(red="plug.supply", black="plug.ground", dial="dc_voltage", state=ON)
BOTH = {"plug.signal", "plug.ground"}


def step(red: str = "plug.signal", quantity: str = "dc_voltage", black: str | None = "plug.ground") -> Step:
    measure = Measure(quantity=quantity, red=red, black=black, state=ON)
    return Step(name="x", kind="check", say="Sensor signal.", measure=measure, outcomes={})


@pytest.mark.parametrize(
    ("one", "known", "brief", "leads"),
    [
        (step(), (), False, True),  # a pin nobody has been told of
        (step(), (), True, False),
        (step(), BOTH, False, False),  # both probes have been there: their place says it
        (
            step("plug.supply"),
            BOTH | {"plug.supply"},
            True,
            True,
        ),  # nothing moves: only the sentence tells what is wanted
        (step("plug.supply", "ac_voltage"), BOTH | {"plug.supply"}, True, True),  # only the dial moves
        (step("display.pressure", "pressure", None), BOTH | {"display.pressure"}, True, True),
    ],
)
def test_the_sentence_is_left_out_only_where_a_probe_moves_to_a_place_that_is_known(
    one: Step, known: set[str], brief: bool, leads: bool
) -> None:
    first = stages(BENCH, one, SHEET, known=known)[0]
    said = led(one, first, BENCH, SHEET, known=known, brief=brief)
    assert said == (f"Sensor signal. {first.say}" if leads else first.say)


def test_a_sentence_that_is_said_already_is_not_said_twice() -> None:
    one = step("display.pressure", "pressure", None).model_copy(update={"say": "Data display."})
    first = stages(BENCH, one, SHEET)[0]
    assert led(one, first, BENCH, SHEET, known=(), brief=False) == "Call manifold pressure on the data display."
