"""What is said to bring the bench from where it is to where a step wants it."""

from dataclasses import replace

import pytest

from flows.acts import known_after
from flows.bench import Bench, Stage
from flows.model import DEFAULT_STATE, Measure, Step, Watch
from flows.source import load_flow, load_sheet, shipped_flows
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


def test_black_goes_first_red_last_and_what_is_too_long_for_one_breath_is_said_in_two() -> None:
    step = check("plug.signal", "plug.ground").model_copy(update={"say": "Signal at the plug."})
    made = stages(Bench(dial="dc_voltage"), step, SHEET)
    assert [s.reply for s in made] == ["set", "reading"]
    assert made[0].say == (
        "Black to sensor plug, wire side, latch up, far right, brown. Red to second from left, white with green. Say set."
    )
    assert made[1].say == "Key on. Call the volts."
    assert made[1].wait_s == SHEET.settle_s


def test_only_what_differs_is_said_in_one_breath_and_the_key_is_off_before_a_probe_moves() -> None:
    bench = after(Bench(dial="dc_voltage"), stages(Bench(), check("plug.supply", "plug.ground"), SHEET))
    (stage,) = stages(bench, check("plug.signal", "plug.ground"), SHEET)
    assert stage.say == "Key off. Red to second from left, white with green. Key on. Call the volts."
    assert (stage.reply, stage.changes, stage.red) == ("reading", {"key": "on", "engine": "off"}, "plug.signal")


def test_a_pin_is_described_in_full_once_and_by_its_place_after() -> None:
    bench = Bench(dial="dc_voltage", black="battery.negative", red="battery.positive")
    first = stages(bench, check("plug.signal", "battery.negative"), SHEET)
    assert "Red to sensor plug, wire side, latch up, second from left, white with green." in first[0].say
    known = known_after(first[-1], SHEET)
    (stage,) = stages(bench, check("plug.supply", "battery.negative"), SHEET, known=known)
    assert stage.say == "Red to sensor plug, far left, orange. Key on. Volts?"
    (stage,) = stages(bench, check("plug.signal", "battery.negative"), SHEET, known=known)
    assert stage.say == "Red to sensor plug, second from left. Key on. Volts?"
    assert stage.full == (
        "Red to sensor plug, wire side, latch up, second from left, white with green. Key on. Call the volts."
    )
    assert first[0].full == first[0].say


def test_what_two_points_share_is_said_once() -> None:
    bench = Bench(dial="dc_voltage", red="plug.signal", black="plug.ground")
    (stage,) = stages(bench, check("battery.positive", "battery.negative", key="off"), SHEET)
    assert stage.say == "Black to battery negative post. Red to positive post. Call the volts."


def test_red_comes_out_before_the_dial_is_turned_across_a_battery() -> None:
    bench = Bench(dial="dc_voltage", red="battery.positive", black="battery.negative")
    (stage,) = stages(bench, check("leads.tips", "leads.tips", "resistance", key="off"), SHEET)
    assert stage.say == "Red out. Meter to ohms. Touch the probe tips together. Call the ohms."
    (stage,) = stages(replace(bench, red=None), check("leads.tips", "leads.tips", "resistance", key="off"), SHEET)
    assert stage.say.startswith("Meter to ohms.")


def test_what_is_taken_apart_is_answered_before_the_probes_move() -> None:
    bench = Bench(dial="dc_voltage", red="plug.ground", black="battery.negative", state={**DEFAULT_STATE, "key": "on"})
    made = stages(bench, check("plug.signal", "battery.negative", plug="out"), SHEET, known={"set"})
    assert [(s.say, s.reply) for s in made] == [
        ("Key off. Unplug the sensor plug.", "set"),
        (
            "Red to sensor plug, wire side, latch up, second from left, white with green. Key on. Call the volts.",
            "reading",
        ),
    ]


def test_a_long_sentence_before_it_makes_the_first_breath_shorter() -> None:
    bench = Bench(dial="dc_voltage", state={**DEFAULT_STATE, "key": "on"}, red="unit.signal", black="plug.ground")
    step = check("plug.signal", "plug.ground").model_copy(update={"say": " ".join(["word"] * 14) + "."})
    made = stages(bench, step, SHEET)
    assert made[0].reply == "set" and len(f"{step.say} {made[0].say}".split()) <= 33


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
    assert made[0].say == "Meter to ohms. Touch the probe tips together. Call the ohms."


def test_a_display_leaves_the_probes_where_they_are() -> None:
    bench = Bench(red="plug.signal", black="plug.ground", state={**DEFAULT_STATE, "key": "on"})
    (stage,) = stages(bench, FLOW.steps["display-pressure"], SHEET)
    assert stage.say == "Call manifold pressure on the data display."
    (again,) = stages(bench, FLOW.steps["display-pressure"], SHEET, known={"display.pressure"})
    assert (again.say, again.full) == ("Manifold pressure?", stage.say)
    assert (stage.red, stage.black) == ("plug.signal", "plug.ground")


def test_a_watch_has_one_stage_a_place() -> None:
    step = FLOW.steps["watch-plug"].model_copy(update={"watch": Watch(places=("sensor plug", "wiring loom"))})
    made = stages(Bench(), step, SHEET)
    assert [s.reply for s in made] == ["movement", "movement"]
    assert made[0].say.startswith("Key on. Watch manifold pressure")
    assert made[0].say.endswith("Move the sensor plug. Steady or moved?")
    assert (made[1].say, made[1].full) == ("Move the wiring loom. Steady?", "Move the wiring loom. Steady?")


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


def test_hardly_anything_is_said_in_more_than_twenty_five_words() -> None:
    """A step's own sentence and one act that the sheet words in many cannot be parted; such are few, and none is far over."""
    said: list[str] = []
    for name in shipped_flows():
        for step in load_flow(name, SHEET).steps.values():
            for bench in (Bench(), Bench(red="plug.supply", black="plug.ground", state={**DEFAULT_STATE, "key": "on"})):
                made = [stage.say for stage in stages(bench, step, SHEET)]
                said += [f"{step.say} {made[0]}", *made[1:]] if made else [step.say]
    long = {text for text in said if len(text.split()) > 25}
    assert max(len(text.split()) for text in said) <= 36
    assert len(long) < 0.02 * len(said), long
