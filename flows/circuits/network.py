"""Nodal analysis of a small network: resistors, sources with a resistance, and controlled sources.

Method: modified nodal analysis without extra unknowns; every voltage source has a series resistance and is stamped as
its Norton equivalent. Each node leaks a little to the reference, so that a floating node has a voltage: none.
"""

import numpy as np

LEAK_S = 1e-11  # 100 gigohm from each node to the reference


class Network:
    """Nodes by name; `reference` is at 0 V. Stamps first, then solve()."""

    def __init__(self, reference: str) -> None:
        self.reference = reference
        self._index: dict[str, int] = {}
        self._conductances: list[tuple[int, int, float]] = []  # row, column, siemens
        self._currents: list[tuple[int, float]] = []  # node, amperes into it

    def node(self, name: str) -> int:
        """Number of a node, made when new; the reference is -1."""
        if name == self.reference:
            return -1
        return self._index.setdefault(name, len(self._index))

    def resistor(self, a: str, b: str, ohm: float) -> None:
        """A resistance between two nodes. Raises ValueError when it is not above 0."""
        if not ohm > 0:
            raise ValueError(f"resistor from {a} to {b} is {ohm:g} ohm, must be above 0")
        if ohm == float("inf"):
            return
        i, j, g = self.node(a), self.node(b), 1 / ohm
        self._conductances += [(i, i, g), (j, j, g), (i, j, -g), (j, i, -g)]

    def current(self, a: str, b: str, ampere: float) -> None:
        """A current that leaves node a and enters node b."""
        self._currents += [(self.node(a), -ampere), (self.node(b), ampere)]

    def source(self, plus: str, minus: str, *, volt: float, ohm: float) -> None:
        """A voltage source with its series resistance."""
        self.resistor(plus, minus, ohm)
        self.current(minus, plus, volt / ohm)

    def controlled(self, out: str, drain: str, weights: dict[str, float], *, ohm: float) -> None:
        """Drives `out` to the weighted sum of node voltages through ohm; what flows into it leaves `drain`."""
        g = 1 / ohm
        o, d = self.node(out), self.node(drain)
        for name, weight in {**weights, out: weights.get(out, 0) - 1}.items():
            j = self.node(name)
            self._conductances += [(o, j, -g * weight), (d, j, g * weight)]

    def solve(self) -> "Solution":
        """Every node's voltage, and the resistance between any two nodes with the sources dead."""
        size = len(self._index)
        matrix = np.zeros((size + 1, size + 1))  # the last row and column take what belongs to the reference
        right = np.zeros(size + 1)
        for i, j, g in self._conductances:
            matrix[i, j] += g
        for i, ampere in self._currents:
            right[i] += ampere
        square = matrix[:size, :size]
        square[np.arange(size), np.arange(size)] += LEAK_S
        inverse = np.zeros((size + 1, size + 1))
        inverse[:size, :size] = np.linalg.inv(square)
        volts = inverse @ np.append(right[:size], 0.0)
        return Solution({**self._index, self.reference: size}, volts, inverse)


class Solution:
    """A solved network: voltages and, by the inverse, what a meter between two nodes does to them."""

    def __init__(self, index: dict[str, int], volts: np.ndarray, inverse: np.ndarray) -> None:
        self._index, self._volts, self._inverse = index, volts, inverse

    def volt(self, plus: str, minus: str) -> float:
        """Voltage between two nodes with nothing connected. A node the network does not have is at 0 V."""
        return self._at(plus) - self._at(minus)

    def between_ohm(self, a: str, b: str) -> float:
        """Resistance between two nodes with every source dead: a test current injected, Thevenin's resistance."""
        i, j = self._index.get(a), self._index.get(b)
        if i is None or j is None:
            return 0.0 if a == b else float("inf")
        z = self._inverse
        return float(z[i, i] + z[j, j] - z[i, j] - z[j, i])

    def metered_v(self, plus: str, minus: str, *, meter_ohm: float) -> float:
        """Voltage a meter of this input resistance shows: the open voltage shared with Thevenin's resistance."""
        return self.volt(plus, minus) * meter_ohm / (meter_ohm + self.between_ohm(plus, minus))

    def _at(self, node: str) -> float:
        i = self._index.get(node)
        return 0.0 if i is None else float(self._volts[i])
