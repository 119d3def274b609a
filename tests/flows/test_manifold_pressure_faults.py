"""The flow walked through every fault without audio: both pulls, both chips, with and without the control unit's plug."""

import math

import numpy as np
import pytest

from flows.circuits import CIRCUITS, variants
from flows.meter import load_meter
from flows.source import load_flow, load_sheet
from flows.walker import SLIPS, World, drawn, verdict, walk
from flows.walks import Row, table, walks

SHEETS = dict(variants("manifold-pressure", load_sheet()))
METER = load_meter()
WORLDS = {
    label: World(sheet, CIRCUITS["manifold-pressure"](sheet), load_flow("manifold-pressure", sheet), METER)
    for label, sheet in SHEETS.items()
}
FAULTS = ["none", *WORLDS["up/floats"].circuit.faults()]
# Without the control unit's plug these look alike from where one can get to; the finding names them and says so.
NEEDS_THE_UNIT = {
    "signal-open", "pressure-input-open", "signal-short-to-ground", "pressure-input-short", "temperature-open",
    "temperature-input-open", "temperature-short-to-ground", "temperature-short-to-ground-wire", "temperature-input-short",
    "supply-unit-intermittent", "signal-unit-intermittent", "temperature-unit-intermittent", "ground-unit-intermittent",
    "supply-resistance", "supply-leak-to-ground", "signal-leak-to-ground", "temperature-leak-to-ground",
    "temperature-leak-to-ground-wire",
}  # fmt: skip
# A drift, and a leak just large enough to count, hide behind the weather and a night's soak; two wires that touch hide where both carry the same volts.
MAY_HIDE = {
    "sensor-drift-high",
    "sensor-drift-low",
    "thermistor-drift-high",
    "thermistor-drift-low",
    "signal-short-to-temperature-wire",
    "signal-leak-to-ground",
    "signal-leak-to-supply",
    "signal-leak-to-temperature-wire",
    "temperature-leak-to-ground",
    "temperature-leak-to-ground-wire",
}


@pytest.mark.parametrize("label", SHEETS)
@pytest.mark.parametrize("name", FAULTS)
def test_with_the_control_unit_in_reach_every_fault_is_found(name: str, label: str) -> None:
    fault = None if name == "none" else name
    walked = walk(WORLDS[label], fault)
    assert verdict(walked, fault, WORLDS[label].circuit.classes()) == "right", (
        walked.finding,
        walked.problem,
        walked.path,
    )


@pytest.mark.parametrize("label", SHEETS)
@pytest.mark.parametrize("name", FAULTS)
def test_without_it_the_fault_is_found_or_named_among_those_left(name: str, label: str) -> None:
    fault = None if name == "none" else name
    world = World(**{**WORLDS[label].__dict__, "reaches_unit": False})
    walked = walk(world, fault)
    wanted = "undecided" if name in NEEDS_THE_UNIT else "right"
    assert verdict(walked, fault, world.circuit.classes()) == wanted, (walked.finding, walked.problem)


@pytest.mark.parametrize("name", FAULTS)
def test_other_engines_places_and_meters_never_end_in_a_wrong_finding(name: str) -> None:
    fault = None if name == "none" else name
    for number in range(4):
        world = WORLDS[list(SHEETS)[number]]
        draw, site, gain, offset = drawn(np.random.default_rng([7, number, len(name)]))
        world = World(**{**world.__dict__, "draw": draw, "site": site, "gain": gain, "offset": offset})
        walked = walk(world, fault)
        said = verdict(walked, fault, world.circuit.classes())
        assert said == "right" or (said == "undecided" and name in MAY_HIDE), (number, walked.finding, walked.path)


@pytest.mark.parametrize("slip", SLIPS)
@pytest.mark.parametrize(
    "name",
    ["none", "signal-open", "supply-open", "sensor-dead", "ground-open", "thermistor-open", "supply-short-to-ground"],
)
def test_one_slip_anywhere_condemns_nothing_that_is_well(name: str, slip: str) -> None:
    """A missed pin (nothing, or a ghost), the neighbour's pin, leads reversed: at each measurement of the walk in turn."""
    fault = None if name == "none" else name
    world = WORLDS["up/floats"]
    for at in range(walk(world, fault).measured):
        for ghost_v in (0.15, 1.8) if slip == "ghost" else (0.0,):
            slipping = World(**{**world.__dict__, "slip_at": at, "slip": slip, "ghost_v": ghost_v})
            walked = walk(slipping, fault)
            assert verdict(walked, fault, world.circuit.classes()) != "wrong", (
                at,
                ghost_v,
                walked.finding,
                walked.path,
            )


@pytest.mark.parametrize(
    "point", ["plug.supply", "plug.signal", "plug.temperature", "plug.ground", "unit.signal", "engine.block"]
)
@pytest.mark.parametrize("shown_v", [0.0, 0.15, 0.8, 1.9])
def test_a_probe_that_never_touches_a_pin_condemns_nothing(point: str, shown_v: float) -> None:
    """With the plug in, however often it is seated, the meter shows nothing or a ghost; the engine is well."""
    for label in ("up/floats", "down/sinks"):
        world = World(**{**WORLDS[label].__dict__, "misses": point, "misses_v": shown_v})
        walked = walk(world, None)
        assert not walked.blames and not walked.problem, (label, walked.finding, walked.path)


def test_a_healthy_job_is_short() -> None:
    walked = walk(WORLDS["up/floats"], None)
    assert walked.finding == "nothing-found"
    assert len(walked.path) < 30 and walked.measured <= 14 and walked.minutes < 15


@pytest.mark.parametrize("name", FAULTS[1:])
def test_no_job_needs_twenty_checks(name: str) -> None:
    assert walk(WORLDS["up/floats"], name).measured < 20


def test_the_table_counts_what_was_walked() -> None:
    """Of a small circuit: two builds of the sheet, with and without the control unit in reach."""
    rows = {name: Row(name) for name in ("none", "coolant-signal-open")}
    for told in walks("coolant-temperature", faults=tuple(rows)):
        rows[told.fault].take(told)
    assert sum(rows["none"].counts.values()) == 4 and rows["none"].counts["right"] == 4
    assert set(rows["coolant-signal-open"].counts) == {"right", "undecided"}
    assert "8 walks" in table(rows)


def test_no_window_needs_a_reading_that_was_not_taken() -> None:
    for label, world in WORLDS.items():
        for name in FAULTS:
            for reaches in (True, False):
                walked = walk(World(**{**world.__dict__, "reaches_unit": reaches}), None if name == "none" else name)
                assert not walked.problem, (label, name, walked.problem)
                assert all(math.isfinite(value) for value in walked.readings.values())
