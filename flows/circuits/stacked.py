"""Nodal analysis of many like networks at once: the same nodes, each value a number or an array of one a network.

Method as in network.py: no extra unknowns, every source has a resistance. Alternating sources are solved beside the
steady ones, on the same matrix, as root mean square values (no inductance, no capacitance: bench speeds only).
"""

import numpy as np

LEAK_S = 1e-11  # 100 gigohm from each node to the reference
Value = float | np.ndarray


class Stack:
    """`count` networks with the same nodes; `reference` is at 0 V in each. Stamps first, then solve()."""

    def __init__(self, reference: str, count: int) -> None:
        self.reference, self.count = reference, count
        self._index: dict[str, int] = {}
        self._conductances: list[tuple[int, int, Value]] = []  # row, column, siemens
        self._currents: list[tuple[int, Value]] = []  # node, amperes into it
        self._alternating: list[tuple[int, Value]] = []
        self.branches: list[tuple[str, str, Value, Value]] = []  # from, to, siemens, amperes driven: for ngspice
        self.controls: list[tuple[str, str, dict[str, Value], Value]] = []

    def node(self, name: str) -> int:
        """Number of a node, made when new; the reference is -1."""
        if name == self.reference:
            return -1
        return self._index.setdefault(name, len(self._index))

    def conductance(self, a: str, b: str, siemens: Value) -> None:
        """A conductance between two nodes [S], 0 allowed."""
        if a == b:
            return
        i, j = self.node(a), self.node(b)
        self._conductances += [(i, i, siemens), (j, j, siemens), (i, j, -siemens), (j, i, -siemens)]
        self.branches.append((a, b, siemens, 0.0))

    def resistor(self, a: str, b: str, ohm: Value) -> None:
        """A resistance between two nodes. Raises ValueError when one is not above 0."""
        if not np.all(np.asarray(ohm) > 0):
            raise ValueError(f"resistor from {a} to {b} is {ohm} ohm, must be above 0")
        self.conductance(a, b, 1 / np.asarray(ohm, dtype=float))

    def current(self, a: str, b: str, ampere: Value) -> None:
        """A current that leaves node a and enters node b [A]."""
        self._currents += [(self.node(a), -np.asarray(ampere)), (self.node(b), ampere)]
        self.branches.append((a, b, 0.0, ampere))

    def alternating(self, a: str, b: str, ampere: Value) -> None:
        """An alternating current from a to b [A, root mean square]."""
        self._alternating += [(self.node(a), -np.asarray(ampere)), (self.node(b), ampere)]

    def source(self, plus: str, minus: str, *, volt: Value, ohm: Value, on: Value = 1.0, ac_volt: Value = 0.0) -> None:
        """A voltage source with its series resistance; on: 1, or 0 where it is not there."""
        siemens = np.asarray(on) / np.asarray(ohm, dtype=float)
        self.conductance(plus, minus, siemens)
        self.current(minus, plus, np.asarray(volt) * siemens)
        if np.any(ac_volt):
            self.alternating(minus, plus, np.asarray(ac_volt) * siemens)

    def controlled(self, out: str, drain: str, weights: dict[str, Value], *, siemens: Value) -> None:
        """Drives `out` to the weighted sum of node voltages; what flows into it leaves `drain`."""
        o, d = self.node(out), self.node(drain)
        self.controls.append((out, drain, weights, siemens))
        for name, weight in {**weights, out: weights.get(out, 0.0) - 1.0}.items():
            j = self.node(name)
            self._conductances += [(o, j, -siemens * np.asarray(weight)), (d, j, siemens * np.asarray(weight))]

    def solve(self) -> "StackSolution":
        """Every node's voltages, and resistances between any two nodes with the sources dead."""
        size, count = len(self._index), self.count
        matrix = np.zeros((count, size + 1, size + 1))  # the last row and column take what belongs to the reference
        for i, j, siemens in self._conductances:
            matrix[:, i, j] += siemens
        square = matrix[:, :size, :size]
        diagonal = np.arange(size)
        square[:, diagonal, diagonal] += LEAK_S
        inverse = np.zeros((count, size + 1, size + 1))
        inverse[:, :size, :size] = np.linalg.inv(square)
        right = np.zeros((2, count, size + 1))
        for row, currents in enumerate((self._currents, self._alternating)):
            for i, ampere in currents:
                right[row, :, i] += ampere
        right[:, :, size] = 0.0
        volts = np.einsum("nij,rnj->rni", inverse, right)
        return StackSolution({**self._index, self.reference: size}, volts[0], volts[1], inverse)


class StackSolution:
    """Solved networks: a voltage or resistance is an array of one a network."""

    def __init__(self, index: dict[str, int], volts: np.ndarray, ac_volts: np.ndarray, inverse: np.ndarray) -> None:
        self.index, self.volts, self.ac_volts, self.inverse = index, volts, ac_volts, inverse

    def volt(self, plus: str, minus: str) -> np.ndarray:
        """Voltage between two nodes [V]. A node the network does not have is at 0 V."""
        return self._at(self.volts, plus) - self._at(self.volts, minus)

    def ac_volt(self, plus: str, minus: str) -> np.ndarray:
        """Alternating voltage between two nodes [V, root mean square]."""
        return np.abs(self._at(self.ac_volts, plus) - self._at(self.ac_volts, minus))

    def between_ohm(self, a: str, b: str) -> np.ndarray:
        """Resistance between two nodes with every source dead [ohm]; a node that is not there is open."""
        i, j = self.index.get(a), self.index.get(b)
        if i is None or j is None:
            return np.full(len(self.volts), 0.0 if a == b else np.inf)
        z = self.inverse
        return z[:, i, i] + z[:, j, j] - z[:, i, j] - z[:, j, i]

    def loading(self, plus: str, minus: str, *, meter_ohm: float) -> np.ndarray:
        """Share of the voltage that is left when a meter of this input resistance is across these nodes."""
        ohm = self.between_ohm(plus, minus)
        return np.where(np.isfinite(ohm), meter_ohm / (meter_ohm + np.where(np.isfinite(ohm), ohm, 0.0)), 0.0)

    def _at(self, volts: np.ndarray, node: str) -> np.ndarray:
        i = self.index.get(node)
        return np.zeros(len(volts)) if i is None else volts[:, i]
