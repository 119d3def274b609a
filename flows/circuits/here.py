"""What parts of a described circuit are asked about: the state of the bench, many engines, and the one fault in them."""

import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from flows.circuits.faults import Draw, Fault
from flows.sheet import MachineSheet
from flows.site import Site

NAMED = ("supply", "pressure", "thermistor", "weather", "suction", "battery")  # healthy shares every draw has


def share_of(draw: Draw, name: str) -> float:
    """Where in its tolerance a part of this engine lies, -1..1: its own number, the same each time it is asked.

    >>> share_of(Draw(), "coolant"), -1 <= share_of(Draw(supply=0.3), "coolant") <= 1
    (0.0, True)
    """
    shares = [getattr(draw, known) for known in NAMED]
    if not any(shares):
        return 0.0  # the nominal engine
    if name in NAMED:
        return float(getattr(draw, name))
    text = name + ",".join(f"{share:.9f}" for share in shares)
    return zlib.crc32(text.encode()) / 2**31 - 1


@dataclass
class Here:
    """One state of the bench on many engines with one fault (or none). size: how bad it is in each."""

    sheet: MachineSheet
    state: Mapping[str, str]
    draws: Sequence[Draw]
    sites: Sequence[Site]
    fault: Fault | None = None
    size: np.ndarray = field(default_factory=lambda: np.zeros(1))
    phase: int = 0  # 0 or 1: which half of a turn, where something toggles
    modes: dict[str, np.ndarray] = field(default_factory=dict)  # part -> its mode in each engine

    @property
    def count(self) -> int:
        return len(self.draws)

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
        return np.array([share_of(draw, name) for draw in self.draws])

    def has(self, fault: str) -> bool:
        """Whether the engines have this fault; one that comes and goes only while its place is moved."""
        found = self.fault
        if found is None or found.name != fault:
            return False
        return found.kind != "intermittent" or self.moving == found.where

    def grown(self, fault: str) -> np.ndarray:
        """Size of this fault in each engine, 0 where it is not the fault they have."""
        return self.size if self.has(fault) else np.zeros(self.count)

    @cached_property
    def air_c(self) -> np.ndarray:
        """Air beside the engine [degC]."""
        return np.array([s.outdoor_c if s.thermometer_c is None else s.thermometer_c for s in self.sites])

    @property
    def coolant_c(self) -> np.ndarray:
        """Coolant [degC]: as the air after a night's rest, else what a warm engine holds."""
        warm = self.state.get("warmth") == "warm"
        return np.full(self.count, self.sheet.engine.warm_c) if warm else self.air_c
