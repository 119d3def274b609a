"""A machine sheet in several files, bench items of any name, and how they are spoken."""

from pathlib import Path

import pytest

from flows.bench import Bench
from flows.model import DEFAULT_STATE, Measure, Step
from flows.problems import FlowProblems
from flows.sheet import Setting
from flows.sheet_parts import read_sheet
from flows.source import MACHINES, load_sheet
from flows.staging import put_right, stages

RELAY = Setting(
    home="in",
    place="cab",
    say={"in": "Put the pump relay back.", "pulled": "Pull the pump relay.", "bridged": "Bridge the pump relay."},
)
PEDAL = Setting(home="up", key_off=False, say={"up": "Let the pedal go.", "down": "Hold the pedal down."})
SHEET = load_sheet("th2").model_copy(update={"settings": {"pump_relay": RELAY, "pedal": PEDAL}})
POINTS = {"red": "coolant_plug.coolant-signal", "black": "battery.negative"}


def step(**state: str) -> Step:
    measure = Measure(quantity="dc_voltage", state={**DEFAULT_STATE, **state}, **POINTS)
    return Step(name="s", kind="check", say="It.", measure=measure, outcomes={})


def done(bench: Bench, **state: str) -> tuple[Bench, list[str]]:
    made = stages(bench, step(**state), SHEET)
    for stage in made:
        bench = bench.after(stage)
    return bench, [stage.say for stage in made]


def copied(folder: Path, part: str) -> Path:
    (folder / "m").mkdir()
    (folder / "m.yaml").write_text((MACHINES / "th2.yaml").read_text())
    (folder / "m" / "part.yaml").write_text(part)
    return folder / "m.yaml"


def test_parts_are_put_into_the_sheet() -> None:
    assert "coolant" in SHEET.sensors and "coolant" in SHEET.control_unit.inputs and "P0117" in SHEET.codes
    assert SHEET.points["unit.coolant-signal"].spoken.endswith("yellow with grey")
    assert SHEET.plugs["coolant_plug"] == "coolant_plug" and SHEET.plugs["control_unit_plug"] == "unit"


@pytest.mark.parametrize(
    ("part", "rule", "line"),
    [
        ("codes:\n  P0999: a\n  P0107: twice\n", "duplicate-key", 3),
        ("battery: {}\n", "unknown-key", 1),
        ("codes: [\n", "yaml", 2),
        ("wires:\n  w: {colour: red, area_mm2: -1, length_m: 1, pins: {}}\n", "value", 2),
        ("spots:\n  a.b: {place: moon, spoken: a}\n", "unknown-place", 2),
    ],
)
def test_a_mistake_in_a_part_is_placed_in_its_own_file(tmp_path: Path, part: str, rule: str, line: int) -> None:
    with pytest.raises(FlowProblems) as caught:
        load_sheet(copied(tmp_path, part))
    problem = caught.value.problems[0]
    assert (problem.rule, problem.line) == (rule, line) and problem.file.endswith("part.yaml")
    assert read_sheet(MACHINES / "th2.yaml").data["machine"] == "th2"


def test_a_plug_of_any_name_is_unplugged_and_put_right() -> None:
    bench, said = done(Bench(), key="on", coolant_plug="out")
    assert "Unplug the coolant sensor plug." in " ".join(said)
    assert bench.out_of_place() == ("coolant plug is out",)
    back = put_right(bench, SHEET)
    assert "Plug in the coolant sensor plug." in " ".join(stage.say for stage in back)
    for stage in back:
        bench = bench.after(stage)
    assert bench.out_of_place() == ()


def test_what_a_step_does_not_name_goes_home() -> None:
    bench, _ = done(Bench(), key="on", coolant_plug="out")
    _, said = done(bench, key="on")
    assert "Plug in the coolant sensor plug." in " ".join(said) and "Key off." in said[0]


def test_a_relay_is_pulled_and_bridged_with_the_key_off() -> None:
    bench, _ = done(Bench(), key="on")
    bench, said = done(bench, key="on", pump_relay="bridged")
    assert "Key off. Bridge the pump relay." in " ".join(said)
    assert bench.out_of_place() == ("pump relay is bridged",)


def test_a_pedal_is_held_with_the_key_on() -> None:
    bench, _ = done(Bench(), key="on")
    bench, said = done(bench, key="on", pedal="down")
    assert "Key off" not in " ".join(said) and "Hold the pedal down." in " ".join(said)
    assert bench.out_of_place() == ()


def test_the_engine_is_started_held_at_speed_and_stopped() -> None:
    bench, said = done(Bench(), key="on", engine="idle")
    assert said[-2].endswith("yellow with grey. Stand clear of the engine. Say clear.")
    assert said[-1] == "Start the engine, let it idle. Call the volts."
    bench, said = done(bench, key="on", engine="fast")
    assert said == ["Hold it at about three thousand. Call the volts."]
    bench, said = done(bench, key="on", engine="fast")
    assert said == ["Call the volts."]
    bench, said = done(bench, key="on")
    assert said[0].startswith("Key off.") and bench.state["engine"] == "off"


def test_the_sheet_of_two_sensors_knows_nothing_else() -> None:
    small = SHEET.only("pressure", "temperature")
    assert set(small.control_unit.inputs) == set(small.sensors) == {"pressure", "temperature"}
    assert "coolant-signal" not in small.wires and "coolant-load" not in small.jumpers
