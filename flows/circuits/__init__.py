"""Circuits as resistive networks with parts and faults; a flow names the one it is about."""

from collections.abc import Callable
from typing import Any

from flows.circuits.manifold_pressure import ManifoldPressure
from flows.sheet import MachineSheet

CIRCUITS: dict[str, Callable[[MachineSheet], Any]] = {"manifold-pressure": ManifoldPressure}
