"""A relay in a socket: pulled like a plug, its own four pins can then be read, and the socket can be bridged."""

from dataclasses import dataclass, replace

import numpy as np

from flows.network.here import Here
from flows.network.kinds import Contact
from flows.network.moded import Relay
from flows.network.stacked import Stack, StackSolution

APART_OHM = 1e13  # no test wire, or a fuse that has gone


@dataclass(frozen=True, kw_only=True)
class SocketRelay(Relay):
    """A relay by its own pins. The wires' contacts take it out of the socket, so that its coil can be read by itself."""

    item: str = "socket"

    def stamp(self, net: Stack, here: Here) -> None:
        super().stamp(net, self._whole(here))

    def follows(self, solution: StackSolution, here: Here) -> np.ndarray:
        return super().follows(solution, self._whole(here))

    def _whole(self, here: Here) -> Here:
        return replace(here, state={**here.state, self.item: "in"})


def bridge(wires: tuple[str, str], *, place: str, item: str) -> Contact:
    """A test wire between two pins of the socket at `place`, where the bench item says `fitted`."""
    return Contact(
        name="bridge",
        a=f"{place}.{wires[0]}",
        b=f"{place}.{wires[1]}",
        closed=lambda here: here.at(item) == "fitted",
        ohm=0.005,
        off_ohm=APART_OHM,
        healthy=True,
    )
