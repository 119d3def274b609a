"""A described circuit as a SPICE netlist, so that an independent solver can be asked for the same voltages."""

import numpy as np

from flows.network.described import DescribedCircuit
from flows.network.solved import Solved
from flows.network.stacked import LEAK_S, Stack, Value

LEAST_S = 1e-15


def netlist(circuit: DescribedCircuit, solved: Solved, *, title: str = "leadsman") -> tuple[str, dict[str, str]]:
    """The first engine's network in the modes it was solved in, and node name -> name in the netlist.

    Steady state only: sources as they are, each part in its mode, as resistors, current and controlled sources.
    """
    return _written(circuit.stack(solved.phases_here[0]), title=title)


def _written(stack: Stack, *, title: str) -> tuple[str, dict[str, str]]:
    names: dict[str, str] = {stack.reference: "0"}
    lines = [f"* {title}"]

    def node(name: str) -> str:
        return names.setdefault(name, f"n{len(names)}")

    for number, (a, b, siemens, ampere) in enumerate(stack.branches):
        conductance, current = _first(siemens), _first(ampere)
        if conductance > LEAST_S:
            lines.append(f"R{number} {node(a)} {node(b)} {1 / conductance:.12g}")
        if current:
            lines.append(f"I{number} {node(a)} {node(b)} DC {current:.12g}")
    for number, (out, drain, weights, siemens) in enumerate(stack.controls):
        conductance = _first(siemens)
        if conductance <= 0:
            continue
        for i, (name, weight) in enumerate({**weights, out: _first(weights.get(out, 0.0)) - 1.0}.items()):
            # a current of siemens * weight * V(name) leaves the drain and enters the output
            lines.append(f"G{number}x{i} {node(drain)} {node(out)} {node(name)} 0 {conductance * _first(weight):.12g}")
    lines += [f"Rleak{i} {name} 0 {1 / LEAK_S:.12g}" for i, name in enumerate(names.values()) if name != "0"]
    lines += [".options reltol=1e-9 abstol=1e-14 vntol=1e-10 gmin=1e-18", ".op", ".end"]
    return "\n".join(lines) + "\n", names


def _first(value: Value) -> float:
    return float(np.ravel(np.asarray(value, dtype=float))[0])


def voltages(text: str, names: dict[str, str]) -> dict[str, float]:
    """Node voltages [V] from what `ngspice -b` prints for an operating point."""
    found: dict[str, float] = {"0": 0.0}
    for line in text.splitlines():
        words = line.split()
        if len(words) == 2 and words[0].startswith(("n", "V(n", "v(n")):
            name = words[0].removeprefix("V(").removeprefix("v(").removesuffix(")")
            try:
                found[name] = float(words[1])
            except ValueError:
                continue
    return {name: found[there] for name, there in names.items() if there in found}
