"""Engines side by side: each with its own healthy tolerances, place, meter error and reach; arrays, one entry an engine."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from flows.network.crowd import Crowd
from flows.site import Site


@dataclass(frozen=True)
class Engines:
    """So many engines, each with a place, a technician and a meter; arrays have one entry an engine."""

    draws: tuple[Any, ...]  # of flows.network.faults.Draw
    sites: tuple[Site, ...]  # the places there are
    site_of: np.ndarray  # which of them an engine stands at
    gain: np.ndarray  # -1..1, the meter's share of the percent its maker allows
    offset: np.ndarray  # -1..1, of the counts
    reaches: np.ndarray  # whether the whole engine can be reached

    def __len__(self) -> int:
        return len(self.draws)

    @cached_property
    def severity(self) -> np.ndarray:
        """Fault sizes, in times the typical one."""
        return self.crowd.severity

    @cached_property
    def places(self) -> tuple[Site, ...]:
        """The place of each engine."""
        return tuple(self.sites[i] for i in self.site_of)

    @cached_property
    def crowd(self) -> Crowd:
        """The engines without technicians and meters, as circuits want them."""
        return Crowd(self.draws, self.places)

    def some(self, chosen: slice) -> "Engines":
        """A part of the engines, places kept."""
        return Engines(
            self.draws[chosen],
            self.sites,
            self.site_of[chosen],
            self.gain[chosen],
            self.offset[chosen],
            self.reaches[chosen],
        )

    def blocks(self, size: int) -> Iterator["Engines"]:
        """All engines, so many at a time."""
        for start in range(0, len(self), size):
            yield self.some(slice(start, start + size))
