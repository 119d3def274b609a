"""Healthy engines side by side, each at its place: what lies where in its tolerance is worked out once for all of them."""

import zlib
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field, fields, replace
from functools import cached_property, lru_cache
from typing import Any

import numpy as np

from flows.network.faults import Draw
from flows.site import Site

# What differs between engines without anything being off: weather, charge of the battery, where a wheel has stopped.
SURROUNDINGS = frozenset({"weather", "suction", "battery", "cam-wheel"})
# healthy shares every draw has, by name
NAMED = tuple(field.name for field in fields(Draw) if field.type is float and field.default == 0.0)


def share_of(draw: Draw, name: str) -> float:
    """Where in its tolerance a part of this engine lies, -1..1: its own number, the same each time it is asked.

    >>> share_of(Draw(), "coolant"), -1 <= share_of(Draw(supply=0.3), "coolant") <= 1
    (0.0, True)
    """
    return _share(draw, name, _text(draw))


def _text(draw: Draw) -> str:
    """What tells this engine from others; nothing for the nominal one."""
    shares = [getattr(draw, known) for known in NAMED]
    return ",".join(f"{share:.9f}" for share in shares) if any(shares) else ""


def _share(draw: Draw, name: str, text: str) -> float:
    if not text:
        return 0.0  # the nominal engine
    if name in NAMED:
        return float(getattr(draw, name))
    return zlib.crc32((name + text).encode()) / 2**31 - 1


@dataclass(frozen=True, eq=False)
class Crowd:
    """So many engines: a draw and a site each. The same crowd is the same object; what is kept by it is kept once.

    exact: every part is as its sheet says, in the engine's own surroundings.
    """

    draws: tuple[Draw, ...]
    sites: tuple[Site, ...]
    exact: bool = False
    _kept: dict[Hashable, Any] = field(default_factory=dict, repr=False)

    def __len__(self) -> int:
        return len(self.draws)

    @cached_property
    def severity(self) -> np.ndarray:
        """Fault sizes, in times the typical one."""
        return np.array([draw.severity for draw in self.draws])

    @cached_property
    def places(self) -> tuple[Site, ...]:
        """The different sites there are."""
        return tuple(dict.fromkeys(self.sites))

    @cached_property
    def place_of(self) -> np.ndarray:
        """Which of the places each engine stands at."""
        number = {site: i for i, site in enumerate(self.places)}
        return np.array([number[site] for site in self.sites], dtype=int)

    @cached_property
    def air_c(self) -> np.ndarray:
        """Air beside each engine [degC]."""
        celsius = np.array([s.outdoor_c if s.thermometer_c is None else s.thermometer_c for s in self.places])
        return celsius[self.place_of]

    @cached_property
    def exactly(self) -> "Crowd":
        """The same engines with exact parts: what a control unit would see if nothing were off."""
        return Crowd(self.draws, self.sites, exact=True)

    @cached_property
    def bare(self) -> "Crowd":
        """The same engines whatever the size of their faults; one engine alone is the same object for all sizes."""
        return alone(self.sites[0], replace(self.draws[0], severity=1.0, visible=True)) if len(self) == 1 else self

    @cached_property
    def _texts(self) -> tuple[str, ...]:
        return tuple(_text(draw) for draw in self.draws)

    def share(self, name: str) -> np.ndarray:
        """Where in its tolerance the named part lies in each engine, -1..1."""
        if self.exact and name not in SURROUNDINGS:
            return np.zeros(len(self))
        each = zip(self.draws, self._texts, strict=True)
        found: np.ndarray = self.once(("share", name), lambda: np.array([_share(d, name, t) for d, t in each]))
        return found

    def once(self, key: Hashable, make: Callable[[], Any]) -> Any:
        """What `make` gives for these engines, kept by its key."""
        if key not in self._kept:
            self._kept[key] = make()
        return self._kept[key]


@lru_cache(maxsize=16384)
def alone(site: Site, draw: Draw) -> Crowd:
    """A crowd of one."""
    return Crowd((draw,), (site,))
