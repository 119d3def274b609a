"""Leaks of wet or corroded plugs: generated where two can leak to each other, sized from the least that counts, by Ohm's law."""

import math
from dataclasses import replace

import pytest

from flows.circuits import CIRCUITS, MODULES, NOMINAL
from flows.network.described import DescribedCircuit
from flows.network.unserved import UNSERVED, unserved
from flows.sensors import Thermistor
from flows.site import Site
from flows.source import load_flow, load_sheet, shipped_flows

SHEET = load_sheet("th2")
COOLANT = CIRCUITS["coolant-temperature"](SHEET)
SITE = Site(outdoor_c=20)
BOTH_OFF = {"key": "off", "coolant_plug": "out", "control_unit_plug": "out"}
SIGNAL = "coolant_plug.coolant-signal"
R25_OHM, BETA_K, TOLERANCE_K, PULL_OHM = 2480.0, 3540.0, 2.5, 2700.0  # of the machine sheet


def leaks(circuit: DescribedCircuit) -> set[str]:
    return {fault.name for fault in circuit.faults(later=True).values() if fault.kind == "leak"}


def ntc_ohm(celsius: float) -> float:
    """The Beta equation, by hand."""
    return R25_OHM * math.exp(BETA_K * (1 / (celsius + 273.15) - 1 / 298.15))


def test_the_sheet_still_has_the_numbers_used_by_hand() -> None:
    sensor, entry = SHEET.sensors["coolant"], SHEET.control_unit.inputs["coolant"]
    assert isinstance(sensor, Thermistor)
    assert (sensor.r25_ohm, sensor.beta_k, sensor.tolerance_k) == (R25_OHM, BETA_K, TOLERANCE_K)
    assert entry.pull_ohm == PULL_OHM


def test_a_signal_leaks_to_ground_and_to_its_neighbour_in_the_plug() -> None:
    assert leaks(COOLANT) == {"coolant-signal-leak-to-ground", "coolant-signal-leak-to-coolant-ground-wire"}
    throttle = {name.removeprefix("throttle-signal-leak-to-") for name in leaks(CIRCUITS["throttle-position"](SHEET))}
    assert throttle == {"ground", "supply", "throttle-ground-wire"}


@pytest.mark.parametrize("name", sorted(MODULES))
def test_a_leak_joins_what_lies_side_by_side(name: str) -> None:
    circuit = CIRCUITS[name](SHEET)
    runs = list(circuit.description.runs)
    for leak in leaks(circuit):
        fault = circuit.faults(later=True)[leak]
        if fault.other != "ground":
            other = circuit.description.supply if fault.other == "supply" else fault.other.removeprefix("wire ")
            numbers = [i for i, run in enumerate(runs) if run.wire in (fault.wire, other)]
            assert numbers[1] - numbers[0] == 1 and runs[numbers[0]].ends[0].place == runs[numbers[1]].ends[0].place
        assert circuit.description.run(fault.wire).role != "ground" or fault.other != "ground"


def test_the_least_leak_puts_the_display_a_tolerance_off() -> None:
    """In parallel with the sensor it makes it seem as warm as one that is its tolerance warmer."""
    fault = COOLANT.faults(later=True)["coolant-signal-leak-to-coolant-ground-wire"]
    least_ohm = 1 / COOLANT.size(fault, replace(NOMINAL, severity=0.25), site=SITE)
    cold, warm = ntc_ohm(20), ntc_ohm(20 + TOLERANCE_K)
    assert least_ohm == pytest.approx(1 / (1 / warm - 1 / cold), rel=0.02)


def test_leaks_go_two_decades_from_the_least_towards_a_short() -> None:
    fault = COOLANT.faults(later=True)["coolant-signal-leak-to-ground"]
    least, typical, most = (COOLANT.size(fault, replace(NOMINAL, severity=s), site=SITE) for s in (0.25, 1.0, 2.5))
    assert typical / least == pytest.approx(16) and most / least == pytest.approx(100)
    assert most <= 1 / 100


def test_the_wire_alone_shows_the_leak_in_ohms() -> None:
    fault = COOLANT.faults(later=True)["coolant-signal-leak-to-ground"]
    ohm = COOLANT.reading(fault, SIGNAL, "engine.block", "resistance", BOTH_OFF, site=SITE)
    assert ohm == pytest.approx(1 / COOLANT.size(fault, site=SITE), rel=1e-3)
    for sound in (None, "thermistor-drift-high"):
        assert math.isinf(COOLANT.reading(sound, SIGNAL, "engine.block", "resistance", BOTH_OFF, site=SITE))


def test_the_plug_off_and_nothing_in_it_shows_the_leak_in_volts() -> None:
    """Pull resistor and leak share the five volts; with a drifted sensor all five stand there."""
    fault = COOLANT.faults(later=True)["coolant-signal-leak-to-ground"]
    state = {"key": "on", "coolant_plug": "out"}
    leak_ohm = 1 / COOLANT.size(fault, site=SITE)
    args = (SIGNAL, "engine.block", "dc_voltage", state)
    assert COOLANT.reading(fault, *args, site=SITE) == pytest.approx(5 * leak_ohm / (leak_ohm + PULL_OHM), abs=0.02)
    assert COOLANT.reading("thermistor-drift-high", *args, site=SITE) == pytest.approx(5, abs=0.02)


@pytest.mark.parametrize("name", sorted(MODULES))
def test_no_leak_is_taken_for_another_fault(name: str) -> None:
    circuit = CIRCUITS[name](SHEET)
    for leak in leaks(circuit):
        assert circuit.classes()[leak] == {leak}


def test_what_is_not_served_yet_is_there_and_blamed_by_no_finding() -> None:
    """A line of UNSERVED that no fault answers to, or whose faults a flow blames by now, is stale."""
    blamed: dict[str, set[str]] = {}
    for name in shipped_flows():
        flow = load_flow(name, SHEET)
        blamed.setdefault(flow.circuit, set()).update(f for end in flow.findings.values() for f in end.blames)
    for circuit, patterns in UNSERVED.items():
        every = CIRCUITS[circuit](SHEET).faults(later=True)
        later = unserved(circuit, every)
        assert patterns and later, f"{circuit}: nothing answers to {patterns}"
        assert not later & blamed.get(circuit, set()), f"{circuit}: its flow blames these by now, take the line out"
        assert not later & set(CIRCUITS[circuit](SHEET).faults())
