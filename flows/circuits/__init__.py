"""Circuits as networks with parts and faults; a flow names the one it is about.

A module in this folder with `CIRCUIT = "its-name"` and `describe(sheet) -> Description` is a circuit; one with
`variants(sheet)` besides gives the sheets it is tried on. A module is imported when its circuit is asked for, so that
one that is being written does not stop the others.
"""

import re
from collections.abc import Callable, Iterator, Mapping
from functools import cached_property
from importlib import import_module
from pathlib import Path
from typing import Any

from flows.network.faults import NOMINAL, Draw, Fault
from flows.sheet import MachineSheet

Circuit = Any  # a flows.network.described.DescribedCircuit, or anything with its methods
NAMED = re.compile(r'^CIRCUIT = "([a-z0-9-]+)"', re.MULTILINE)


class Modules(Mapping[str, Any]):
    """Circuit name -> its module, found by the line that names it."""

    @cached_property
    def _files(self) -> dict[str, str]:
        found = {}
        for path in sorted(Path(__file__).parent.glob("*.py")):
            named = NAMED.search(path.read_text(encoding="utf-8"))
            if named:
                found[named.group(1)] = path.stem
        return found

    def __getitem__(self, name: str) -> Any:
        return import_module(f"{__name__}.{self._files[name]}")

    def __iter__(self) -> Iterator[str]:
        return iter(self._files)

    def __len__(self) -> int:
        return len(self._files)


class Circuits(Mapping[str, Callable[[MachineSheet], Circuit]]):
    """Circuit name -> what makes the circuit of a sheet."""

    def __getitem__(self, name: str) -> Callable[[MachineSheet], Circuit]:
        from flows.network.described import DescribedCircuit  # nobody waits for it who only asks for names

        module = MODULES[name]
        return lambda sheet: DescribedCircuit(module.describe(sheet))

    def __iter__(self) -> Iterator[str]:
        return iter(MODULES)

    def __len__(self) -> int:
        return len(MODULES)

    def __contains__(self, name: object) -> bool:
        return name in MODULES._files


MODULES = Modules()
CIRCUITS = Circuits()

__all__ = ["CIRCUITS", "MODULES", "NOMINAL", "Circuit", "Draw", "Fault", "variants"]


def variants(circuit: str, sheet: MachineSheet) -> list[tuple[str, MachineSheet]]:
    """The sheets a flow of this circuit is tried on: as built, and what the circuit's module adds."""
    made = getattr(MODULES[circuit], "variants", None)
    return [("as built", sheet)] if made is None else list(made(sheet))
