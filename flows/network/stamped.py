"""What parts stamp into a network, kept: in one state of the same engines a part that no fault concerns stamps the same.

A part is asked once and what it wanted to know is noted; as long as no answer to that is another, nor its mode, it need
not be asked again. Of a hundred faults in one state, and of each try for modes, only a few parts are then stamped anew.
"""

from collections.abc import Callable, Hashable
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from flows.network.crowd import Crowd
from flows.network.description import Description
from flows.network.here import Here
from flows.network.moded import Moded
from flows.network.stacked import Stack

STATES_ONE, STATES_MANY = 256, 24  # kept of one engine and of many; all states of a circuit and both phases fit


class Stamped(NamedTuple):
    """What one part has stamped, and the faults and shares it wanted to know of."""

    net: Stack
    asked: frozenset[str]

    def concerned(self, here: Here) -> bool:
        """Whether a fault that is there changes an answer it was given."""
        return any(fault.name in self.asked or fault.replaces in self.asked for fault in here.wrong)


class Stamps:
    """Stamps of one circuit's networks."""

    def __init__(self, description: Description, reference: str) -> None:
        self._description, self._reference = description, reference
        parts = [part.name if isinstance(part, Moded) else "" for part in description.parts]
        self._steps = [*zip(description.stamps, [*parts, *("" for _ in description.runs)], strict=True)]
        self._one = lru_cache(maxsize=STATES_ONE)(_nothing_yet)
        self._many = lru_cache(maxsize=STATES_MANY)(_nothing_yet)

    def stack(self, here: Here) -> Stack:
        """The whole network, in the modes that `here` has."""
        kept = (self._one if here.count == 1 else self._many)(tuple(sorted(here.state.items())), here.crowd, here.phase)
        net = Stack(self._reference, here.count)
        for number, (stamp, moded) in enumerate(self._steps):
            mode = _alike(here.modes[moded]) if moded else 0
            found = kept.get((number, mode))
            if found is None or found.concerned(here):
                found = self._asked(stamp, here)
                if mode is not None and not found.concerned(here):
                    kept[number, mode] = found
            net.add(found.net)
        self._description.stamp_bridges(net, here)
        return net

    def _asked(self, stamp: Callable[[Stack, Here], None], here: Here) -> Stamped:
        net = Stack(self._reference, here.count)
        here.asked.clear()
        stamp(net, here)
        return Stamped(net, frozenset(here.asked))


def _nothing_yet(state: Hashable, crowd: Crowd, phase: int) -> dict[tuple[int, int | None], Stamped]:
    return {}


def _alike(mode: np.ndarray) -> int | None:
    """The mode of all engines; None where they differ, which seldom comes again."""
    return int(mode[0]) if len(mode) == 1 or (mode == mode[0]).all() else None
