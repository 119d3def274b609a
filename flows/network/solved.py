"""One state of a circuit solved, and what a meter makes of it: steady or in two phases of a turn."""

import math
from collections.abc import Sequence

import numpy as np

from flows.network.here import Here
from flows.network.stacked import StackSolution


class Solved:
    """One state solved, by phase: weights that sum to 1, and a solution each."""

    def __init__(
        self, here: Here, phases: Sequence[tuple[float, StackSolution]], phases_here: Sequence[Here] = ()
    ) -> None:
        self.here, self.phases = here, phases
        self.phases_here = phases_here or (here,)  # with the modes each phase was solved in

    def dc(self, plus: str, minus: str, *, meter_ohm: float = math.inf) -> np.ndarray:
        return np.sum([w * self._metered(s, plus, minus, meter_ohm) for w, s in self.phases], axis=0)

    def ac(self, plus: str, minus: str, *, meter_ohm: float = math.inf) -> np.ndarray:
        """What an AC meter shows: the alternating part, root mean square."""
        mean = self.dc(plus, minus, meter_ohm=meter_ohm)
        square = np.zeros(self.here.count)
        for weight, solution in self.phases:
            load = 1.0 if math.isinf(meter_ohm) else solution.loading(plus, minus, meter_ohm=meter_ohm)
            swing = self._metered(solution, plus, minus, meter_ohm) - mean
            square = square + weight * (swing**2 + (solution.ac_volt(plus, minus) * load) ** 2)
        return np.sqrt(square)

    @property
    def first(self) -> StackSolution:
        return self.phases[0][1]

    @staticmethod
    def _metered(solution: StackSolution, plus: str, minus: str, meter_ohm: float) -> np.ndarray:
        volt = solution.volt(plus, minus)
        return volt if math.isinf(meter_ohm) else volt * solution.loading(plus, minus, meter_ohm=meter_ohm)
