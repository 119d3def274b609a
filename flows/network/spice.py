"""Described circuits as a SPICE netlist, so that an independent solver can be asked for the same voltages."""

from collections.abc import Mapping, Sequence

import numpy as np

from flows.network.described import DescribedCircuit
from flows.network.solved import Solved
from flows.network.stacked import LEAK_S, Stack, Value

LEAST_S = 1e-15


def netlist(networks: Sequence[Stack], *, title: str = "leadsman") -> tuple[str, list[dict[str, str]]]:
    """The first engine of each network, side by side on one ground, and for each: node name -> name in the netlist.

    Steady state only: sources as they are, each part in its mode, as resistors, current and controlled sources.
    """
    lines, names = [f"* {title}"], []
    for number, network in enumerate(networks):
        written, named = _written(network, prefix=str(number))
        lines += written
        names.append(named)
    lines += [".options reltol=1e-9 abstol=1e-14 vntol=1e-10 gmin=1e-18", ".op", ".end"]
    return "\n".join(lines) + "\n", names


def network_of(circuit: DescribedCircuit, solved: Solved) -> Stack:
    """What was solved, in the modes it was solved in."""
    return circuit.stack(solved.phases_here[0])


def _written(stack: Stack, *, prefix: str) -> tuple[list[str], dict[str, str]]:
    """Lines of one network, names of nodes and elements its own by the prefix."""
    names: dict[str, str] = {stack.reference: "0"}
    lines = []

    def node(name: str) -> str:
        return names.setdefault(name, f"n{prefix}x{len(names)}")

    for number, (a, b, siemens, ampere) in enumerate(stack.branches):
        conductance, current, element = _first(siemens), _first(ampere), f"{prefix}x{number}"
        if conductance > LEAST_S:
            lines.append(f"R{element} {node(a)} {node(b)} {1 / conductance:.12g}")
        if current:
            lines.append(f"I{element} {node(a)} {node(b)} DC {current:.12g}")
    for number, (out, drain, weights, siemens) in enumerate(stack.controls):
        conductance, element = _first(siemens), f"{prefix}x{number}"
        if conductance <= 0:
            continue
        for i, (name, weight) in enumerate({**weights, out: _first(weights.get(out, 0.0)) - 1.0}.items()):
            # a current of siemens * weight * V(name) leaves the drain and enters the output
            volts = conductance * _first(weight)
            lines.append(f"G{element}x{i} {node(drain)} {node(out)} {node(name)} 0 {volts:.12g}")
    lines += [f"R{name}leak {name} 0 {1 / LEAK_S:.12g}" for name in names.values() if name != "0"]
    return lines, names


def _first(value: Value) -> float:
    return float(np.ravel(np.asarray(value, dtype=float))[0])


def voltages(text: str, names: Sequence[Mapping[str, str]]) -> list[dict[str, float]]:
    """Node voltages [V] of each network, from what `ngspice -b` prints for an operating point."""
    found: dict[str, float] = {"0": 0.0}
    for line in text.splitlines():
        words = line.split()
        if len(words) == 2 and words[0].startswith(("n", "V(n", "v(n")):
            name = words[0].removeprefix("V(").removeprefix("v(").removesuffix(")")
            try:
                found[name] = float(words[1])
            except ValueError:
                continue
    return [{name: found[there] for name, there in named.items() if there in found} for named in names]
