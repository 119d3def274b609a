"""A relay in a socket: pulled like a plug, its own four pins can then be read, and the socket can be bridged."""

from dataclasses import dataclass, replace

import numpy as np

from flows.circuits.here import Here
from flows.circuits.moded import Relay
from flows.circuits.stacked import Stack, StackSolution


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
