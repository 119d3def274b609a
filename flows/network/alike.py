"""Faults of a described circuit that no measurement can tell apart: every probe pair, quantity and state is tried."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import combinations, product
from typing import TYPE_CHECKING, Any

import numpy as np

from flows.network.conditions import ON_THE_BENCH
from flows.network.description import Description
from flows.network.faults import Fault

if TYPE_CHECKING:
    from flows.network.described import DescribedCircuit

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


def conditions_of(faults: Iterable[Fault]) -> list[dict[str, str]]:
    """The states in which a technician brings these out: each condition at each place."""
    made = {(fault.when, fault.where): {"key": "on", fault.when: fault.where} for fault in faults}
    return [state for (when, _), state in made.items() if when in ON_THE_BENCH]


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


def classes_of(
    circuit: "DescribedCircuit", faults: Mapping[str, Fault], states: Sequence[Mapping[str, str]]
) -> dict[str, frozenset[str]]:
    """Fault -> those with the same readings in all of these states, within what a good bench meter can tell."""
    kinds, rows = [], []
    for fault in faults.values():
        row = list(_row(circuit, fault, states))
        kinds = [kind for kind, values in row for _ in values]
        rows.append(np.concatenate([values for _, values in row]))
    constant, share = (np.array([APART[kind][i] for kind in kinds]) for i in (0, 1))
    same: dict[str, set[str]] = {name: {name} for name in faults}
    for (i, one), (j, two) in combinations(enumerate(faults), 2):
        if _alike(rows[i], rows[j], constant, share):
            same[one].add(two)
            same[two].add(one)
    return {name: frozenset(others) for name, others in same.items()}


def _alike(one: np.ndarray, two: np.ndarray, constant: np.ndarray, share: np.ndarray) -> bool:
    if not np.array_equal(np.isinf(one), np.isinf(two)):
        return False
    known = ~np.isinf(one)
    size = np.maximum(np.abs(one[known]), np.abs(two[known]))
    return bool(np.all(np.abs(one[known] - two[known]) <= constant[known] + share[known] * size))


def _row(
    circuit: "DescribedCircuit", fault: Any, states: Sequence[Mapping[str, str]]
) -> Iterator[tuple[str, np.ndarray]]:
    """All that can be read of a fault, by kind of reading."""
    d = circuit.description
    for state in states:
        yield from _pairs(circuit.solved(fault, state), points_of(d, state), state)
        yield "shown", np.array([circuit.display(fault, name, state) for name in (*d.inputs, *d.displays)])
        yield "clamp", np.array([circuit.reading(fault, clamp, None, "current", state) for clamp in d.clamps])


def _pairs(solved: Any, points: tuple[str, ...], state: Mapping[str, str]) -> Iterator[tuple[str, np.ndarray]]:
    phases = [(weight, solution.pairs(points)) for weight, solution in solved.phases]
    plain = sum(weight * pairs.volt for weight, pairs in phases)
    if any(state.get(condition) for condition in ON_THE_BENCH):
        yield "moved", plain
        return
    mean = sum(weight * pairs.volt * pairs.loading(METER_OHM) for weight, pairs in phases)
    yield "volt", mean
    if state.get("engine", "off") != "off":
        square = sum(
            weight * ((p.volt * p.loading(METER_OHM) - mean) ** 2 + (p.ac_volt * p.loading(METER_OHM)) ** 2)
            for weight, p in phases
        )
        yield "ac", np.sqrt(square)
    if state["key"] == "off":
        ohm = phases[0][1].ohm
        yield "ohm", np.where((np.abs(plain) > 0.05) | (ohm > OPEN_FROM_OHM), np.inf, ohm)
