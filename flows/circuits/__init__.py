"""Circuits as resistive networks with parts and faults; a flow names the one it is about."""

from collections.abc import Callable

from flows.circuits.faults import NOMINAL, Draw, Fault
from flows.circuits.manifold_pressure import ManifoldPressure
from flows.sheet import MachineSheet

Circuit = ManifoldPressure  # what every circuit offers; a protocol when there is a second one
CIRCUITS: dict[str, Callable[[MachineSheet], Circuit]] = {"manifold-pressure": ManifoldPressure}

__all__ = ["CIRCUITS", "NOMINAL", "Circuit", "Draw", "Fault"]
