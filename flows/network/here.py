"""What parts of a described circuit are asked about: the state of the bench, many engines, and what is wrong in them."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from flows.network.conditions import brought_out
from flows.network.crowd import Crowd
from flows.network.faults import Fault
from flows.sheet import MachineSheet


@dataclass
class Here:
    """One state of the bench on many engines with one fault, two or none. sizes: fault -> how bad it is in each."""

    sheet: MachineSheet
    state: Mapping[str, str]
    crowd: Crowd
    fault: Fault | None = None
    sizes: Mapping[str, np.ndarray] = field(default_factory=dict)
    phase: int = 0  # 0 or 1: which half of a turn, where something toggles
    modes: dict[str, np.ndarray] = field(default_factory=dict)  # part -> its mode in each engine
    asked: set[str] = field(default_factory=set)  # faults and shares that somebody wanted to know of

    @property
    def count(self) -> int:
        return len(self.crowd)

    @property
    def key_on(self) -> bool:
        return self.state.get("key") == "on"

    @property
    def turning(self) -> bool:
        """Whether the engine turns, by starter or by itself."""
        return self.rpm > 0

    @property
    def rpm(self) -> float:
        """Engine speed [1/min] in this state."""
        return self.sheet.engine.rpm(self.state.get("engine", "off"))

    def at(self, item: str) -> str:
        """Value of a bench item, its home value when nobody has touched it."""
        return self.state.get(item) or self.sheet.home(item)

    def share(self, name: str) -> np.ndarray:
        """Where in its tolerance the named part lies in each engine, -1..1; 0 where a fault takes the place of that."""
        self.asked.add(name)
        if name in self._replaced:
            return np.zeros(self.count)
        return self.crowd.share(name)

    @cached_property
    def wrong(self) -> tuple[Fault, ...]:
        """What is wrong in this state: of a pair both, of an intermittent what it does while it is brought out."""
        return tuple(self._in_force(self.fault)) if self.fault is not None else ()

    @cached_property
    def _names(self) -> frozenset[str]:
        return frozenset(fault.name for fault in self.wrong)

    @cached_property
    def _replaced(self) -> frozenset[str]:
        return frozenset(fault.replaces for fault in self.wrong if fault.replaces)

    def _in_force(self, fault: Fault) -> Iterator[Fault]:
        if fault.kind == "intermittent" and not brought_out(fault, self.state):
            return
        if not fault.of:
            yield fault
        for one in fault.of:
            yield from self._in_force(one)

    def has(self, fault: str) -> bool:
        """Whether the engines have this fault; one that comes and goes only while it is brought out."""
        self.asked.add(fault)
        return fault in self._names

    def grown(self, fault: str) -> np.ndarray:
        """Size of this fault in each engine, 0 where it is none that they have."""
        return self.sizes[fault] if self.has(fault) else np.zeros(self.count)

    @property
    def air_c(self) -> np.ndarray:
        """Air beside the engine [degC]."""
        return self.crowd.air_c

    @property
    def coolant_c(self) -> np.ndarray:
        """Coolant [degC]: as the air after a night's rest, else what a warm engine holds."""
        warm = self.state.get("warmth") == "warm"
        return np.full(self.count, self.sheet.engine.warm_c) if warm else self.air_c
