"""Faults of a described circuit that no measurement can tell apart: every probe pair, quantity and state is tried."""

import math
from collections.abc import Mapping
from itertools import combinations, product
from typing import TYPE_CHECKING, Any

import numpy as np

from flows.circuits.description import Description

if TYPE_CHECKING:
    from flows.circuits.described import DescribedCircuit

METER_OHM = 10e6
OPEN_FROM_OHM = 6e7  # a bench meter shows no more
# How near two readings must be to count as alike: (constant, share). Twice what a good bench meter can tell; while
# something is moved an eye on MIN/MAX needs fifty millivolts, a clamp shows a tenth of an ampere.
APART = {"moved": (0.05, 0.01), "volt": (0.0015, 0.01), "ac": (0.01, 0.03), "ohm": (0.6, 0.02), "shown": (1.0, 0.0)}
APART |= {"clamp": (0.05, 0.04)}


def states_of(d: Description) -> list[dict[str, str]]:
    """The states a technician can bring about in this circuit, moving something included."""
    items, sheet = d.items(), d.sheet
    plugs: list[dict[str, str]] = [
        dict(zip(items, where, strict=True)) for where in product(("in", "out"), repeat=len(items))
    ]
    made = [{"key": key, **plug} for key in ("on", "off") for plug in plugs]
    nodes = {run.node(end) for run in d.runs for end in (0, 1)}
    for name, jumper in sheet.jumpers.items():
        if nodes.issuperset(jumper.between):
            off = {item: "out" for p in jumper.between if (item := sheet.item_of(p.partition(".")[0]))}
            made.append({"key": "on", "jumper": name, **off})
    places = dict.fromkeys(("harness", *(end.place for run in d.runs for end in run.ends), *_part_places(d)))
    made += [{"key": "on", "moving": place} for place in places]
    made += [{"key": "on", **state} for state in d.states]
    return made


def _part_places(d: Description) -> list[str]:
    return [fault.where for fault in d.generated() if fault.kind == "intermittent" and fault.where != "harness"]


def points_of(d: Description, state: Mapping[str, str]) -> tuple[str, ...]:
    """Probe points of this circuit in a state: ends of wires, battery, block, what the description adds.

    A device's own pins can be reached with its plug off only; a splice in the loom never.
    """
    made = []
    for run in d.runs:
        for number, end in enumerate(run.ends):
            if end.place in d.sheet.places:
                made.append(run.node(number))
            if end.item and state.get(end.item) == "out" and end.inside.partition(".")[0] in d.sheet.places:
                made.append(end.inside)
    return tuple(dict.fromkeys((*made, "battery.positive", "battery.negative", "engine.block", *d.points)))


def classes_of(circuit: "DescribedCircuit") -> dict[str, frozenset[str]]:
    """Fault -> those with the same readings everywhere, within what a good bench meter can tell."""
    faults = circuit.faults()
    kinds, rows = [], []
    for fault in faults.values():
        row = _row(circuit, fault)
        kinds = [kind for kind, _ in row]
        rows.append([value for _, value in row])
    constant, share = (np.array([APART[kind][i] for kind in kinds]) for i in (0, 1))
    table = np.array(rows)
    same: dict[str, set[str]] = {name: {name} for name in faults}
    for (i, one), (j, two) in combinations(enumerate(faults), 2):
        if _alike(table[i], table[j], constant, share):
            same[one].add(two)
            same[two].add(one)
    return {name: frozenset(others) for name, others in same.items()}


def _alike(one: np.ndarray, two: np.ndarray, constant: np.ndarray, share: np.ndarray) -> bool:
    if not np.array_equal(np.isinf(one), np.isinf(two)):
        return False
    known = ~np.isinf(one)
    size = np.maximum(np.abs(one[known]), np.abs(two[known]))
    return bool(np.all(np.abs(one[known] - two[known]) <= constant[known] + share[known] * size))


def _row(circuit: "DescribedCircuit", fault: Any) -> list[tuple[str, float]]:
    d, row = circuit.description, []
    for state in states_of(d):
        points = points_of(d, state)
        solved = circuit.solved(fault, state)
        moving = bool(state.get("moving"))
        for red, black in combinations(points, 2):
            row += _pair(solved, red, black, state, moving=moving)
        for name in (*d.inputs, *d.displays):
            row.append(("shown", circuit.display(fault, name, state)))
        for clamp in d.clamps:
            row.append(("clamp", circuit.reading(fault, clamp, None, "current", state)))
    return row


def _pair(solved: Any, red: str, black: str, state: Mapping[str, str], *, moving: bool) -> list[tuple[str, float]]:
    if moving:
        return [("moved", float(solved.dc(red, black)[0]))]
    made = [("volt", float(solved.dc(red, black, meter_ohm=METER_OHM)[0]))]
    if state.get("engine", "off") != "off":
        made.append(("ac", float(solved.ac(red, black, meter_ohm=METER_OHM)[0])))
    if state["key"] == "off":
        ohm = float(solved.first.between_ohm(red, black)[0])
        live = abs(float(solved.dc(red, black)[0])) > 0.05
        made.append(("ohm", math.inf if live or ohm > OPEN_FROM_OHM else ohm))
    return made
