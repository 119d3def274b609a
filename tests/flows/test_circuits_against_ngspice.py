"""Every described circuit, every fault, in a few states: node voltages as ngspice has them, 1 mV or 0.1 percent."""

import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

from flows.circuits import CIRCUITS, MODULES, DescribedCircuit, variants
from flows.circuits.alike import states_of
from flows.circuits.spice import netlist, voltages
from flows.source import load_sheet

SHEET = load_sheet("th2")
STATES = 4  # of each fault, spread over all of the circuit's
needs_ngspice = pytest.mark.skipif(shutil.which("ngspice") is None, reason="needs ngspice: apt-get install ngspice")


def asked(text: str, folder: Path) -> str:
    path = folder / "circuit.cir"
    path.write_text(text)
    done = subprocess.run(["ngspice", "-b", str(path)], capture_output=True, text=True, timeout=60, check=False)
    return done.stdout


@needs_ngspice
@pytest.mark.parametrize("name", sorted(MODULES))
def test_voltages_are_those_of_ngspice(name: str, tmp_path: Path) -> None:
    for label, sheet in variants(name, SHEET):
        circuit = CIRCUITS[name](sheet)
        assert isinstance(circuit, DescribedCircuit)
        states = states_of(circuit.description)
        for number, fault in enumerate((None, *circuit.faults(later=True))):
            picked = [states[(number * STATES + i) % len(states)] for i in range(STATES)]
            for state in picked if fault else states[:STATES]:
                solved = circuit.solved(fault, state)
                text, names = netlist(circuit, solved)
                theirs = voltages(asked(text, tmp_path), names)
                assert len(theirs) >= len(names) - 1, "ngspice gave no operating point"
                for node, volt in theirs.items():
                    ours = float(solved.first.volt(node, "battery.negative")[0])
                    assert abs(ours - volt) <= max(1e-3, 1e-3 * abs(volt)), (label, fault, state, node, ours, volt)


def test_a_divider_as_a_netlist_has_its_resistors_and_source() -> None:
    circuit = CIRCUITS["coolant-temperature"](SHEET)
    text, names = netlist(circuit, circuit.solved(None, {"key": "on"}))
    assert names["battery.negative"] == "0" and text.startswith("* ") and text.endswith(".end\n")
    assert any(line.split()[1:3] == [names["battery.positive"], "0"] for line in text.splitlines() if line[0] == "R")
    assert np.isfinite([float(line.split()[-1]) for line in text.splitlines() if line[0] in "RI"]).all()
