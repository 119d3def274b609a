"""What can go wrong in a circuit: `python -m flows.circuits neutral-switch` names its faults, for a flow's `blames:`."""

import argparse
import math
from collections.abc import Iterator

from flows.circuits import CIRCUITS
from flows.problems import did_you_mean
from flows.source import load_sheet


def rows(name: str, machine: str = "th2") -> Iterator[tuple[str, str, str, str]]:
    """Fault, its usual size, the codes it stores and the faults no measurement tells it from."""
    circuit = CIRCUITS[name](load_sheet(machine))
    classes = circuit.classes()
    for fault, made in circuit.faults().items():
        alike = sorted(classes[fault] - {fault})
        yield fault, _size(circuit.size(made)), ", ".join(circuit.codes(fault)), ", ".join(alike)


def _size(size: float) -> str:
    """As it is: ohms of a resistance, siemens of a leak, kelvin or a share of a drift; nothing where none grows."""
    return "" if not size or not math.isfinite(size) else f"{size:.3g}"


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m flows.circuits", description="Faults of a circuit, by rule.")
    parser.add_argument("circuit", help=", ".join(CIRCUITS))
    parser.add_argument("--machine", default="th2")
    asked = parser.parse_args()
    if asked.circuit not in CIRCUITS:
        parser.error(f"there is no circuit '{asked.circuit}'. {did_you_mean(asked.circuit, list(CIRCUITS))}")
    table = [("fault", "size", "codes", "told apart by nothing from"), *rows(asked.circuit, asked.machine)]
    widths = [max(len(row[i]) for row in table) for i in range(3)]
    for row in table:
        print("  ".join([*(cell.ljust(width) for cell, width in zip(row, widths, strict=False)), row[3]]).rstrip())


if __name__ == "__main__":
    main()
