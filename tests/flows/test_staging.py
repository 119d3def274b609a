"""What is said to bring the bench from where it is to where a step wants it."""

from dataclasses import replace

import pytest

from flows.bench import Bench, Stage
from flows.model import DEFAULT_STATE, Measure, Step, Watch
from flows.source import load_flow, load_sheet
from flows.staging import put_right, stages

SHEET = load_sheet()
FLOW = load_flow("manifold-pressure", SHEET)


def check(red: str, black: str, quantity: str = "dc_voltage", hold: str | None = None, **state: str) -> Step:
    measure = Measure(quantity=quantity, red=red, black=black, state={**DEFAULT_STATE, "key": "on", **state}, hold=hold)
    return Step(name="x", kind="check", say="X.", measure=measure, outcomes={})


def after(bench: Bench, made: tuple[Stage, ...]) -> Bench:
    for stage in made:
        bench = bench.after(stage)
    return bench


def test_black_goes_first_red_last_then_key_and_the_call() -> None:
    made = stages(Bench(dial="dc_voltage"), check("plug.signal", "plug.ground"), SHEET)
    assert [s.reply for s in made] == ["set", "reading"]
    assert made[0].say == (
        "Black to sensor plug, wire side, latch up, far right, brown. Red to second from left, white with green. Say set."
    )
    assert made[1].say == "Key on. Call the volts."
    assert made[1].wait_s == SHEET.settle_s


def test_only_what_differs_is_said_and_the_key_is_off_before_a_probe_moves() -> None:
    bench = after(Bench(dial="dc_voltage"), stages(Bench(), check("plug.supply", "plug.ground"), SHEET))
    made = stages(bench, check("plug.signal", "plug.ground"), SHEET)
    assert [s.say for s in made] == [
        "Key off. Red to second from left, white with green. Say set.",
        "Key on. Call the volts.",
    ]


def test_the_same_reading_again_only_asks_for_the_call() -> None:
    step = check("plug.supply", "plug.ground")
    bench = after(Bench(), stages(Bench(), step, SHEET))
    (stage,) = stages(bench, step, SHEET)
    assert (stage.say, stage.reply, stage.changes, stage.minutes) == ("Call the volts.", "reading", {}, 0)


def test_plug_off_then_resistor_in_and_back_in_reverse() -> None:
    bench = Bench(dial="dc_voltage", red="plug.signal", black="plug.ground", state={**DEFAULT_STATE, "key": "on"})
    made = stages(bench, check("plug.signal", "plug.ground", plug="out", jumper="signal-ground"), SHEET)
    assert made[0].say.startswith("Key off. Unplug the sensor plug. Ten kilohm resistor: ")
    bench = after(bench, made)
    assert bench.out_of_place() == ("resistor is fitted", "sensor plug is out")
    back = stages(bench, check("plug.signal", "plug.ground"), SHEET)
    assert back[0].say == "Key off. Take the resistor off. Plug in the sensor plug. Say set."


def test_put_right_takes_red_off_first_and_leaves_nothing() -> None:
    bench = Bench(
        state={
            **DEFAULT_STATE,
            "key": "on",
            "plug": "out",
            "jumper": "signal-ground",
            "vacuum": "on",
            "control_unit_plug": "out",
        },
        red="plug.signal",
        black="plug.ground",
    )
    made = put_right(bench, SHEET)
    assert made[0].say.startswith("Key off. Red out, black out.")
    done = after(bench, made)
    assert done.out_of_place() == () and done.red is None and done.black is None
    assert done.state == DEFAULT_STATE
    assert put_right(Bench(), SHEET) == ()


def test_cranking_clears_first_and_calls_after_the_starter() -> None:
    step = check("plug.signal", "plug.ground", hold="min", engine="cranking")
    made = stages(Bench(dial="dc_voltage"), step, SHEET)
    assert [s.reply for s in made][-2:] == ["clear", "reading"]
    assert made[-1].say == "Key on, crank five seconds, key off. Call the minimum."
    assert any("Min max on." in s.say for s in made)
    bench = after(Bench(dial="dc_voltage"), made)
    assert any("Min max off." in s.say for s in stages(bench, check("plug.signal", "plug.ground"), SHEET))


def test_ohms_turn_the_dial_and_need_no_key() -> None:
    step = check("plug.signal", "engine.block", "resistance", key="off", plug="out", control_unit_plug="out")
    made = stages(Bench(dial="dc_voltage", state={**DEFAULT_STATE, "key": "on"}), step, SHEET)
    said = " ".join(s.say for s in made)
    assert said.startswith("Key off. Unplug the control unit plug. Unplug the sensor plug.")
    assert "Meter to ohms." in said and "Key on" not in said and said.endswith("Call the ohms.")


def test_a_range_that_is_wanted_is_said() -> None:
    step = check("plug.signal", "unit.signal")
    assert step.measure is not None
    step = step.model_copy(update={"measure": step.measure.model_copy(update={"needs_range": "mV"})})
    made = stages(Bench(dial="dc_voltage"), step, SHEET)
    assert made[0].say.startswith("Meter to millivolts.")
    again = stages(after(Bench(dial="dc_voltage"), made), step, SHEET)
    assert again[0].say == "Call the volts."


def test_probe_tips_together() -> None:
    made = stages(Bench(), check("leads.tips", "leads.tips", "resistance", key="off"), SHEET)
    assert made[0].say == "Meter to ohms. Touch the probe tips together. Say set."


def test_a_display_leaves_the_probes_where_they_are() -> None:
    bench = Bench(red="plug.signal", black="plug.ground", state={**DEFAULT_STATE, "key": "on"})
    (stage,) = stages(bench, FLOW.steps["display-pressure"], SHEET)
    assert stage.say == "Read manifold pressure on the data display. Call the pressure."
    assert (stage.red, stage.black) == ("plug.signal", "plug.ground")


def test_a_watch_has_one_stage_a_place() -> None:
    step = FLOW.steps["watch-plug"].model_copy(update={"watch": Watch(places=("sensor plug", "wiring loom"))})
    made = stages(Bench(), step, SHEET)
    assert [s.reply for s in made] == ["movement", "movement"]
    assert made[0].say.startswith("Key on. Watch manifold pressure")
    assert made[1].say == "Move the wiring loom. Steady or moved?"


def test_questions_and_looks_need_no_stage() -> None:
    assert stages(Bench(), FLOW.steps["opening/codes"], SHEET) == ()
    assert stages(Bench(), FLOW.steps["look-hose"], SHEET) == ()


@pytest.mark.parametrize("name", [n for n, s in FLOW.steps.items() if s.measure is not None])
def test_from_any_bench_a_step_gets_what_it_wants_in_short_breaths(name: str) -> None:
    step = FLOW.steps[name]
    assert step.measure is not None
    wild = Bench(
        state={**DEFAULT_STATE, "key": "on", "plug": "out", "jumper": "signal-ground"},
        red="unit.signal",
        black="plug.ground",
    )
    for start in (Bench(), wild, replace(wild, state={**DEFAULT_STATE, "vacuum": "on"})):
        made = stages(start, step, SHEET)
        done = after(start, made)
        for item in DEFAULT_STATE:
            assert done.state[item] == step.measure.state[item], item
        if step.measure.black is not None:
            assert (done.red, done.black) == (step.measure.red, step.measure.black)
        for stage in made:
            assert len(stage.say.split()) <= 26, stage.say
            assert not set("/_%{}()=") & set(stage.say), stage.say


@pytest.mark.parametrize("name", [n for n, s in FLOW.steps.items() if s.kind == "check"])
def test_a_check_takes_under_twelve_seconds_of_talking_at_each_turn(name: str) -> None:
    """165 words a minute: 33 words are 12 s. The step's own sentence leads its first stage."""
    step = FLOW.steps[name]
    made = stages(
        Bench(red="plug.supply", black="plug.ground", dial="dc_voltage", state={**DEFAULT_STATE, "key": "on"}),
        step,
        SHEET,
    )
    assert len(f"{step.say} {made[0].say}".split()) <= 33
