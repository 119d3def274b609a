"""Circuits as networks with parts and faults; a flow names the one it is about.

A module in this folder with `CIRCUIT = "its-name"` and `describe(sheet) -> Description` is a circuit; one with
`variants(sheet)` besides gives the sheets it is tried on.
"""

import pkgutil
from collections.abc import Callable, Iterator
from importlib import import_module
from typing import Any

from flows.circuits.described import DescribedCircuit
from flows.circuits.faults import NOMINAL, Draw, Fault
from flows.circuits.manifold_pressure import ManifoldPressure
from flows.sheet import MachineSheet

Circuit = Any  # a ManifoldPressure or a DescribedCircuit: the same methods


def _described(module: Any) -> Callable[[MachineSheet], Circuit]:
    return lambda sheet: DescribedCircuit(module.describe(sheet))


def _found() -> Iterator[tuple[str, Any]]:
    for info in pkgutil.iter_modules(__path__):
        module = import_module(f"{__name__}.{info.name}")
        if hasattr(module, "CIRCUIT") and hasattr(module, "describe"):
            yield module.CIRCUIT, module


MODULES: dict[str, Any] = dict(_found())
CIRCUITS: dict[str, Callable[[MachineSheet], Circuit]] = {
    "manifold-pressure": lambda sheet: ManifoldPressure(sheet.only("pressure", "temperature")),
    **{name: _described(module) for name, module in MODULES.items()},
}

__all__ = ["CIRCUITS", "MODULES", "NOMINAL", "Circuit", "DescribedCircuit", "Draw", "Fault", "variants"]


def variants(circuit: str, sheet: MachineSheet) -> list[tuple[str, MachineSheet]]:
    """The sheets a flow of this circuit is tried on: as it is, and with each pull the other way."""
    module = MODULES.get(circuit)
    if module is not None and hasattr(module, "variants"):
        return list(module.variants(sheet))
    return [("as built", sheet)]
