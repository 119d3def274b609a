"""The circuit of the demo engine: healthy by hand, and each fault as its physics wants it."""

import math

import numpy as np
import pytest

from flows.circuits import CIRCUITS, NOMINAL, Circuit, variants
from flows.model import DEFAULT_STATE
from flows.network.alike import states_of
from flows.network.crowd import alone
from flows.physics.atmosphere import standard_pressure_kpa
from flows.site import Site
from flows.source import load_sheet

SHEET = load_sheet()
SHEETS = dict(variants("manifold-pressure", SHEET))
CIRCUIT = CIRCUITS["manifold-pressure"](SHEET)
ON = {"key": "on"}
OUT = {"key": "on", "plug": "out"}
DEAD = {"plug": "out", "control_unit_plug": "out"}


def volts(fault: str | None, red: str, black: str = "plug.ground", circuit: Circuit = CIRCUIT, **state: str) -> float:
    return circuit.reading(fault, red, black, "dc_voltage", {**ON, **state})


def ohms(fault: str | None, red: str, black: str, **state: str) -> float:
    return CIRCUIT.reading(fault, red, black, "resistance", {**DEAD, **state})


def test_a_healthy_engine_by_hand() -> None:
    """V = Vs (a p - b) with the supply at the plug; the thermistor shares the supply with its pull-up."""
    supply = volts(None, "plug.supply")
    assert supply == pytest.approx(5.0, abs=0.01)
    sensor = SHEET.sensors["pressure"]
    share = sensor.a_per_kpa * standard_pressure_kpa(0) - sensor.b
    assert volts(None, "plug.signal") == pytest.approx(supply * share, abs=0.003)
    assert 0.6 < volts(None, "plug.signal") < 4.8  # common practice, no source
    assert volts(None, "plug.temperature") == pytest.approx(5 * 5339 / (5339 + 3300), abs=0.01)
    assert 0 < volts(None, "plug.ground", "battery.negative") < SHEET.limits.sensor_ground_v
    assert CIRCUIT.display(None, "pressure", ON) == pytest.approx(101.3, abs=0.3)
    assert CIRCUIT.display(None, "temperature", ON) == pytest.approx(15, abs=0.2)
    assert CIRCUIT.codes(None) == ()


def test_key_off_everything_is_dead_but_the_battery() -> None:
    assert CIRCUIT.reading(None, "plug.supply", "plug.ground", "dc_voltage", {}) == pytest.approx(0, abs=1e-3)
    assert CIRCUIT.reading(None, "battery.positive", "battery.negative", "dc_voltage", {}) == pytest.approx(
        12.55, abs=0.01
    )


def test_cranking_pulls_battery_and_manifold_down_and_an_open_throttle_lets_it_back() -> None:
    assert 9.6 < volts(None, "battery.positive", "battery.negative", engine="cranking") < 11.5
    still, closed = volts(None, "plug.signal"), volts(None, "plug.signal", engine="cranking")
    opened = volts(None, "plug.signal", engine="cranking", throttle="open")
    drop_psi = (still - closed) / (SHEET.sensors["pressure"].a_per_kpa * volts(None, "plug.supply")) / 6.894757
    assert 3 <= drop_psi <= 4  # common practice, no source
    assert closed < opened < still


def test_a_known_vacuum_takes_a_known_step() -> None:
    step = volts(None, "plug.signal") - volts(None, "plug.signal", vacuum="on")
    assert step == pytest.approx(
        volts(None, "plug.supply") * SHEET.sensors["pressure"].a_per_kpa * SHEET.vacuum_kpa, rel=1e-3
    )


def test_an_open_shared_ground_drives_both_signals_high_and_an_open_supply_only_the_pressure() -> None:
    assert CIRCUIT.codes("ground-open") == ("P0108", "P0113")
    assert volts("ground-open", "plug.ground", "battery.negative") > 4.5
    assert CIRCUIT.codes("supply-open") == ("P0108",)
    assert volts("supply-open", "plug.supply") == pytest.approx(0, abs=0.01)


@pytest.mark.parametrize(("label", "code"), [("up/floats", "P0108"), ("down/floats", "P0107")])
def test_an_open_signal_goes_where_the_input_pulls_it_and_the_plug_does_not_show_it(label: str, code: str) -> None:
    circuit = CIRCUITS["manifold-pressure"](SHEETS[label])
    assert circuit.codes("signal-open") == (code,)
    assert volts("signal-open", "plug.signal", circuit=circuit) == pytest.approx(volts(None, "plug.signal"), abs=0.01)


def test_without_supply_a_sinking_chip_pulls_its_signal_down() -> None:
    circuit = CIRCUITS["manifold-pressure"](SHEETS["up/sinks"])
    assert volts("supply-open", "plug.signal", circuit=circuit) < 0.1
    assert circuit.codes("supply-open") == ("P0107",)


def test_pull_up_and_resistors_on_the_unplugged_signal_wire() -> None:
    """180 kilohm up, 10 kilohm down: 5 * 10 / 190 = 0.263 V. Open at the far end nothing lifts it."""
    jumper = {"plug": "out", "jumper": "signal-ground"}
    assert volts(None, "plug.signal", **jumper) == pytest.approx(5 * 10 / 190, abs=0.002)
    assert volts("signal-open", "plug.signal", **jumper) == pytest.approx(0, abs=0.001)
    down = CIRCUITS["manifold-pressure"](SHEETS["down/floats"])
    jumper = {"plug": "out", "jumper": "supply-signal"}
    assert volts(None, "plug.signal", "battery.negative", circuit=down, **jumper) == pytest.approx(
        5 * 180 / 190, abs=0.02
    )
    assert volts("signal-open", "plug.signal", "battery.negative", circuit=down, **jumper) == pytest.approx(
        5.0, abs=0.02
    )


def test_shorts() -> None:
    assert volts("signal-short-to-battery", "plug.signal") > 12
    assert volts("signal-short-to-supply", "plug.signal") == pytest.approx(
        volts("signal-short-to-supply", "plug.supply"), abs=0.01
    )
    assert abs(volts("signal-short-to-ground", "plug.signal")) < 0.02
    assert CIRCUIT.codes("signal-short-to-ground") == ("P0107",)
    assert (
        CIRCUIT.display("signal-short-to-ground", "pressure", ON)
        == SHEET.control_unit.inputs["pressure"].substitute_low
    )
    assert volts("supply-short-to-ground", "plug.supply") < 0.05
    assert volts("supply-short-to-battery", "plug.supply") > 12


def test_ohms_only_tell_the_truth_on_what_is_dead() -> None:
    assert ohms(None, "plug.signal", "unit.signal") == pytest.approx(0.06, abs=0.03)
    assert ohms(None, "plug.signal", "engine.block") == math.inf
    assert ohms("signal-short-to-ground", "plug.signal", "engine.block") == pytest.approx(0.3, abs=0.05)
    assert ohms("signal-open", "plug.signal", "unit.signal") == math.inf
    assert ohms("signal-short-to-battery", "plug.signal", "battery.negative") == math.inf  # live
    assert ohms(None, "sensor.temperature", "sensor.ground") == pytest.approx(5339, rel=0.01)
    assert CIRCUIT.reading(None, "leads.tips", "leads.tips", "resistance", {}) == 0


@pytest.mark.parametrize("wire", ["supply", "signal", "temperature", "ground"])
@pytest.mark.parametrize(("where", "said"), [("harness", ""), ("plug", "plug-"), ("unit", "unit-")])
def test_an_intermittent_is_there_only_while_its_place_is_moved_and_leaves_its_code(
    wire: str, where: str, said: str
) -> None:
    fault = f"{wire}-{said}intermittent"
    name = "temperature" if wire == "temperature" else "pressure"
    assert CIRCUIT.display(fault, name, ON) == pytest.approx(CIRCUIT.display(None, name, ON))
    seen = {
        place: CIRCUIT.watch(fault, f"display.{name}", None, "pressure", ON, place=place)
        for place in ("plug", "harness", "unit")
    }
    assert seen == {place: "moved" if place == where else "steady" for place in seen}
    assert CIRCUIT.codes(fault)


# A leak whose typical size is the worst there is (100 ohm) has no size that leads back to its threshold.
@pytest.mark.parametrize(
    "name", [f.name for f in CIRCUIT.faults().values() if f.grows and CIRCUIT.size(f) != max(f.grows)]
)
def test_a_fault_counts_from_the_size_at_which_it_shows(name: str) -> None:
    """A quarter of its typical size (a sixteenth of a leak) is the threshold: just under it nothing leaves its tolerance."""
    fault, site = CIRCUIT.faults()[name], Site()
    least = CIRCUIT.size(fault) / 4**fault.stretch
    assert fault.grows is not None and fault.grows[0] < least < fault.grows[1]
    assert CIRCUIT.sizing.counts(fault, np.array([least * 1.02]), alone(site, NOMINAL))
    assert not CIRCUIT.sizing.counts(fault, np.array([least * 0.98]), alone(site, NOMINAL))


def test_every_fault_shows_somewhere() -> None:
    """Each fault differs from a healthy engine in some state, or only eyes and hose can tell."""
    pairs = [("plug.supply", "plug.ground"), ("plug.signal", "plug.ground"), ("plug.temperature", "plug.ground"),
             ("plug.ground", "battery.negative"), ("unit.signal", "unit.ground"), ("unit.temperature", "unit.ground"),
             ("engine.block", "battery.negative"), ("battery.positive", "battery.negative")]  # fmt: skip
    for name in CIRCUIT.faults():
        apart = 0.0
        for state in states_of(CIRCUIT.description):
            for red, black in pairs:
                apart = max(
                    apart,
                    abs(
                        CIRCUIT.reading(name, red, black, "dc_voltage", state)
                        - CIRCUIT.reading(None, red, black, "dc_voltage", state)
                    ),
                )
            for shown in ("pressure", "temperature"):
                apart = max(apart, abs(CIRCUIT.display(name, shown, state) - CIRCUIT.display(None, shown, state)) / 100)
        assert apart > 0.02, name


def test_classes_hold_only_what_nothing_separates() -> None:
    classes = CIRCUIT.classes()
    assert all(name in others for name, others in classes.items())
    assert classes["hose-leak"] == {"hose-leak", "hose-blocked"}
    assert classes["signal-open"] == {"signal-open"}
    assert {frozenset(c) for c in classes.values() if len(c) > 1} == {
        frozenset({"hose-leak", "hose-blocked"}),
        frozenset({"supply-plug-intermittent", "signal-plug-intermittent"}),
    }


def test_what_cannot_be_read_is_told() -> None:
    with pytest.raises(ValueError, match="no fault 'signal-opn'"):
        volts("signal-opn", "plug.signal")
    with pytest.raises(ValueError, match="no current between two points"):
        CIRCUIT.reading(None, "plug.signal", "plug.ground", "current", ON)
    with pytest.raises(ValueError, match="needs a second point"):
        CIRCUIT.reading(None, "plug.signal", None, "dc_voltage", ON)


def test_hose_off_is_seen_when_it_can_be_seen() -> None:
    assert CIRCUIT.look("hose-leak", "hose") == "bad"
    assert CIRCUIT.look("hose-blocked", "hose") == "fine"
    assert CIRCUIT.look(None, "hose") == "fine"
    assert DEFAULT_STATE["plug"] == "in" and NOMINAL.severity == 1
