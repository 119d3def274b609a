"""Every described circuit, every fault, in a few states: node voltages as ngspice has them, 1 mV or 0.1 percent."""

import shutil
import subprocess
from collections.abc import Iterable, Mapping
from pathlib import Path

import numpy as np
import pytest

from flows.circuits import CIRCUITS, MODULES, Fault, variants
from flows.network.alike import states_of
from flows.network.conditions import SHAKEN
from flows.network.described import DescribedCircuit, State
from flows.network.solved import Solved
from flows.network.spice import netlist, network_of, voltages
from flows.source import load_sheet

SHEET = load_sheet("th2")
STATES = 4  # of each fault, spread over all of the circuit's
TOGETHER = 40  # networks that one ngspice solves, side by side: a process each is most of the time
needs_ngspice = pytest.mark.skipif(shutil.which("ngspice") is None, reason="needs ngspice: apt-get install ngspice")


Case = tuple[Fault | str | None, State]


def asked(text: str, folder: Path) -> str:
    path = folder / "circuit.cir"
    path.write_text(text)
    done = subprocess.run(["ngspice", "-b", str(path)], capture_output=True, text=True, timeout=60, check=False)
    return done.stdout


def held_to_ngspice(circuit: DescribedCircuit, cases: Iterable[Case], folder: Path) -> None:
    """Every node voltage of each fault in its state, within 1 mV or 0.1 percent."""
    left = list(cases)
    while left:
        some, left = left[:TOGETHER], left[TOGETHER:]
        solved = [circuit.solved(fault, state) for fault, state in some]
        text, names = netlist([network_of(circuit, one) for one in solved])
        theirs = voltages(asked(text, folder), names)
        for case, ours, named, volts in zip(some, solved, names, theirs, strict=True):
            alike(case, ours, named, volts)


def alike(case: Case, solved: Solved, names: Mapping[str, str], theirs: Mapping[str, float]) -> None:
    assert theirs.keys() == names.keys(), f"ngspice gave no operating point of {case}"
    for node, volt in theirs.items():
        ours = float(solved.first.volt(node, "battery.negative")[0])
        assert abs(ours - volt) <= max(1e-3, 1e-3 * abs(volt)), (*case, node, ours, volt)


@needs_ngspice
@pytest.mark.parametrize("name", sorted(MODULES))
def test_voltages_are_those_of_ngspice(name: str, tmp_path: Path) -> None:
    for _, sheet in variants(name, SHEET):
        circuit = CIRCUITS[name](sheet)
        assert isinstance(circuit, DescribedCircuit)
        states = states_of(circuit.description)
        cases: list[Case] = [(None, state) for state in states[:STATES]]
        for number, fault in enumerate(circuit.faults(later=True), 1):
            cases += [(fault, states[(number * STATES + i) % len(states)]) for i in range(STATES)]
        held_to_ngspice(circuit, cases, tmp_path)


@needs_ngspice
@pytest.mark.parametrize("name", sorted(MODULES))
def test_voltages_of_what_comes_and_goes_and_of_two_at_once(name: str, tmp_path: Path) -> None:
    """Each that comes and goes while it is there, and each pair in a state of its own."""
    circuit = CIRCUITS[name](SHEET)
    states = states_of(circuit.description)
    cases: list[Case] = []
    for fault in circuit.come_and_go().values():
        brought = {"engine": "idle"} if fault.when == SHAKEN else {fault.when: fault.where}
        cases.append((fault, {"key": "on", **brought}))
    cases += [(pair, states[number % len(states)]) for number, pair in enumerate(circuit.pairs().values())]
    held_to_ngspice(circuit, cases, tmp_path)


def test_a_divider_as_a_netlist_has_its_resistors_and_source() -> None:
    circuit = CIRCUITS["coolant-temperature"](SHEET)
    text, (names,) = netlist([network_of(circuit, circuit.solved(None, {"key": "on"}))])
    assert names["battery.negative"] == "0" and text.startswith("* ") and text.endswith(".end\n")
    assert any(line.split()[1:3] == [names["battery.positive"], "0"] for line in text.splitlines() if line[0] == "R")
    assert np.isfinite([float(line.split()[-1]) for line in text.splitlines() if line[0] in "RI"]).all()
