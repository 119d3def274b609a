"""Stored codes of many engines at once, for circuits that are described; the same rule as theirs, held to it by a test."""

from typing import Any

import numpy as np

from flows.model import DEFAULT_STATE
from flows.network.believing import seen_v
from flows.network.crowd import Crowd


def stores_code(circuit: Any, fault: Any, crowd: Crowd) -> np.ndarray:
    """Whether the control unit of each engine has stored a code; one that comes when something is moved counts."""
    base = {**DEFAULT_STATE, "key": "on"}
    if fault is not None and fault.kind == "intermittent":
        base[fault.when] = fault.where
    solved = circuit.solved(fault, base, crowd)
    stored = np.zeros(len(crowd), dtype=bool)
    for name in circuit.description.inputs:
        entry = circuit.sheet.control_unit.inputs[name]
        volt = seen_v(solved.first, circuit.sheet, entry.wire)
        stored |= (volt < entry.low_below_v) | (volt > entry.high_above_v)
    for monitor in circuit.description.monitors:
        there = circuit.solved(fault, {**base, **monitor.state}, crowd)
        volt = (there.ac if monitor.alternating else there.dc)(monitor.plus, monitor.minus)
        if monitor.below is not None:
            stored |= volt < monitor.below
        if monitor.above is not None:
            stored |= volt > monitor.above
    return stored
