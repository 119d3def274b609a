"""Which faults no measurement of the circuit can tell apart: every probe pair, quantity and state is tried."""

import math
from collections.abc import Mapping
from itertools import combinations, product
from typing import Any

from flows.model import DEFAULT_STATE
from flows.sheet import Jumper

POINTS = tuple(
    f"{place}.{wire}" for place in ("plug", "sensor", "unit") for wire in ("supply", "signal", "temperature", "ground")
)
POINTS = (*POINTS, "battery.positive", "battery.negative", "engine.block")
METER_OHM = 10e6


def fitting(jumpers: Mapping[str, Jumper]) -> tuple[str, ...]:
    """Names of the jumpers that go between pins of this circuit."""
    return tuple(name for name, jumper in jumpers.items() if set(jumper.between) <= set(POINTS))


def states(jumpers: tuple[str, ...]) -> list[dict[str, str]]:
    """The states a technician can bring about, moving something included."""
    made = [
        {"key": key, "plug": plug, "control_unit_plug": unit}
        for key, plug, unit in product(("on", "off"), ("in", "out"), ("in", "out"))
    ]
    made += [{"key": "on", "plug": "out", "jumper": jumper} for jumper in jumpers]
    made += [{"key": "on", "vacuum": "on"}]
    made += [{"key": "on", "engine": "cranking", "throttle": throttle} for throttle in ("closed", "open")]
    made += [{"key": "on", "moving": place} for place in ("plug", "harness", "unit")]
    return [{**DEFAULT_STATE, **state} for state in made]


def classes_of(circuit: Any) -> dict[str, frozenset[str]]:
    """Fault -> those with the same readings everywhere, within what a good bench meter can tell."""
    faults = circuit.faults()
    rows = {name: _row(circuit, fault) for name, fault in faults.items()}
    same: dict[str, set[str]] = {name: {name} for name in faults}
    for one, two in combinations(faults, 2):
        if all(_alike(a, b) for a, b in zip(rows[one], rows[two], strict=True)):
            same[one].add(two)
            same[two].add(one)
    return {name: frozenset(others) for name, others in same.items()}


def _row(circuit: Any, fault: Any) -> list[tuple[str, float]]:
    row: list[tuple[str, float]] = []
    for state in states(fitting(circuit.sheet.jumpers)):
        solution = circuit.solution(fault, state)
        pairs = combinations([p for p in POINTS if state["plug"] == "out" or not p.startswith("sensor.")], 2)
        for red, black in pairs:
            if state.get("moving"):  # an eye on MIN/MAX sees a jump, not what the meter loads
                row.append(("moved volt", solution.volt(red, black)))
                continue
            row.append(("volt", solution.metered_v(red, black, meter_ohm=METER_OHM)))
            if state["key"] == "off":
                ohm = solution.between_ohm(red, black)
                row.append(("ohm", math.inf if ohm > 6e7 or abs(solution.volt(red, black)) > 0.05 else ohm))
        row += [("shown", circuit.display(fault, name, state)) for name in circuit.sheet.control_unit.inputs]
    return row


def _alike(a: tuple[str, float], b: tuple[str, float]) -> bool:
    """Nearer than twice what a meter of 0.5 percent and a few counts (a display: one unit) can tell.

    While something is moved, MIN/MAX is watched by eye: 50 mV at least.
    """
    kind, one, two = *a, b[1]
    if math.isinf(one) or math.isinf(two):
        return one == two
    size = max(abs(one), abs(two))
    apart = {"moved volt": 0.05 + 0.01 * size, "volt": 0.0015 + 0.01 * size, "ohm": 0.6 + 0.02 * size, "shown": 1.0}[
        kind
    ]
    return abs(one - two) <= apart
