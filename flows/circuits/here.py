"""What parts of a described circuit are asked about: the state of the bench, many engines, and the one fault in them."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from flows.circuits.crowd import Crowd
from flows.circuits.faults import Fault
from flows.sheet import MachineSheet


@dataclass
class Here:
    """One state of the bench on many engines with one fault (or none). size: how bad it is in each."""

    sheet: MachineSheet
    state: Mapping[str, str]
    crowd: Crowd
    fault: Fault | None = None
    size: np.ndarray = field(default_factory=lambda: np.zeros(1))
    phase: int = 0  # 0 or 1: which half of a turn, where something toggles
    modes: dict[str, np.ndarray] = field(default_factory=dict)  # part -> its mode in each engine

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

    @property
    def moving(self) -> str:
        """Place that is moved while the reading is taken, or ""."""
        return self.state.get("moving", "")

    def at(self, item: str) -> str:
        """Value of a bench item, its home value when nobody has touched it."""
        return self.state.get(item) or self.sheet.home(item)

    def share(self, name: str) -> np.ndarray:
        """Where in its tolerance the named part lies in each engine, -1..1."""
        return self.crowd.share(name)

    def has(self, fault: str) -> bool:
        """Whether the engines have this fault; one that comes and goes only while its place is moved."""
        found = self.fault
        if found is None or found.name != fault:
            return False
        return found.kind != "intermittent" or self.moving == found.where

    def grown(self, fault: str) -> np.ndarray:
        """Size of this fault in each engine, 0 where it is not the fault they have."""
        return self.size if self.has(fault) else np.zeros(self.count)

    @property
    def air_c(self) -> np.ndarray:
        """Air beside the engine [degC]."""
        return self.crowd.air_c

    @property
    def coolant_c(self) -> np.ndarray:
        """Coolant [degC]: as the air after a night's rest, else what a warm engine holds."""
        warm = self.state.get("warmth") == "warm"
        return np.full(self.count, self.sheet.engine.warm_c) if warm else self.air_c
