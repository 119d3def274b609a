"""Nodal analysis of many like networks at once: the same nodes, each value a number or an array of one a network.

No extra unknowns, every source has a resistance. Alternating sources are solved beside the
steady ones, on the same matrix, as root mean square values (no inductance, no capacitance: bench speeds only).
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from flows.network.elimination import Eliminated, Value

LEAK_S = 1e-11  # 100 gigohm from each node to the reference
MANY = 12  # from so many networks on, elimination by hand is faster than one inverse each


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
        i, j, siemens = self.node(a), self.node(b), _plain(siemens)
        self._conductances += [(i, i, siemens), (j, j, siemens), (i, j, -siemens), (j, i, -siemens)]
        self.branches.append((a, b, siemens, 0.0))

    def resistor(self, a: str, b: str, ohm: Value) -> None:
        """A resistance between two nodes. Raises ValueError when one is not above 0."""
        ohm = _plain(ohm)
        if not np.all(ohm > 0):
            raise ValueError(f"resistor from {a} to {b} is {ohm} ohm, must be above 0")
        self.conductance(a, b, 1 / ohm)

    def current(self, a: str, b: str, ampere: Value) -> None:
        """A current that leaves node a and enters node b [A]."""
        ampere = _plain(ampere)
        self._currents += [(self.node(a), -ampere), (self.node(b), ampere)]
        self.branches.append((a, b, 0.0, ampere))

    def alternating(self, a: str, b: str, ampere: Value) -> None:
        """An alternating current from a to b [A, root mean square]."""
        ampere = _plain(ampere)
        self._alternating += [(self.node(a), -ampere), (self.node(b), ampere)]

    def source(self, plus: str, minus: str, *, volt: Value, ohm: Value, on: Value = 1.0, ac_volt: Value = 0.0) -> None:
        """A voltage source with its series resistance; on: 1, or 0 where it is not there."""
        siemens = np.asarray(on) / np.asarray(ohm, dtype=float)
        self.conductance(plus, minus, siemens)
        self.current(minus, plus, np.asarray(volt) * siemens)
        if np.any(ac_volt):
            self.alternating(minus, plus, np.asarray(ac_volt) * siemens)

    def controlled(self, out: str, drain: str, weights: dict[str, Value], *, siemens: Value) -> None:
        """Drives `out` to the weighted sum of node voltages; what flows into it leaves `drain`."""
        o, d, siemens = self.node(out), self.node(drain), _plain(siemens)
        self.controls.append((out, drain, weights, siemens))
        for name, weight in {**weights, out: weights.get(out, 0.0) - 1.0}.items():
            j = self.node(name)
            through = _plain(siemens * _plain(weight))
            self._conductances += [(o, j, -through), (d, j, through)]

    def solve(self) -> "StackSolution":
        """Every node's voltages, and resistances between any two nodes with the sources dead."""
        entries: dict[tuple[int, int], Value] = {}
        for i, j, siemens in self._conductances:
            if i >= 0 and j >= 0:
                entries[i, j] = entries.get((i, j), 0.0) + siemens
        for i in range(len(self._index)):
            entries[i, i] = entries.get((i, i), 0.0) + LEAK_S
        steady, alternating = _by_node(self._currents), _by_node(self._alternating)
        index = {**self._index, self.reference: -1}
        if self.count < MANY:
            return DenseSolution(index, self.count, entries, steady, alternating)
        return SparseSolution(index, self.count, entries, steady, alternating)


def _plain(value: Value) -> Value:
    """A plain number for what is alike in all networks."""
    each = np.asarray(value, dtype=float)
    if each.ndim == 0 or (each == each[0]).all():
        return float(each.flat[0])
    return each


def _by_node(currents: list[tuple[int, Value]]) -> dict[int, Value]:
    made: dict[int, Value] = {}
    for i, ampere in currents:
        if i >= 0:
            made[i] = made.get(i, 0.0) + ampere
    return made


class StackSolution:
    """Solved networks: a voltage or resistance is an array of one a network."""

    def __init__(self, index: Mapping[str, int], count: int) -> None:
        self._index, self._count = index, count

    def _volt(self, node: int) -> Value:
        raise NotImplementedError

    def _ac_volt(self, node: int) -> Value:
        raise NotImplementedError

    def _transfer_ohm(self, a: int, b: int) -> Value:
        """Volts at a for an ampere into b."""
        raise NotImplementedError

    def has(self, node: str) -> bool:
        """Whether the network has this node."""
        return node in self._index

    def volt(self, plus: str, minus: str) -> np.ndarray:
        """Voltage between two nodes [V]. A node the network does not have is at 0 V."""
        return self._all(self._at(self._volt, plus) - self._at(self._volt, minus))

    def ac_volt(self, plus: str, minus: str) -> np.ndarray:
        """Alternating voltage between two nodes [V, root mean square]."""
        return np.abs(self._all(self._at(self._ac_volt, plus) - self._at(self._ac_volt, minus)))

    def between_ohm(self, a: str, b: str) -> np.ndarray:
        """Resistance between two nodes with every source dead [ohm]; a node that is not there is open."""
        i, j = self._index.get(a), self._index.get(b)
        if i is None or j is None:
            return np.full(self._count, 0.0 if a == b else np.inf)
        z = self._transfer_ohm
        each, joint = [z(n, n) for n in (i, j) if n >= 0], [z(i, j), z(j, i)] if i >= 0 and j >= 0 else []
        return self._all(sum(each) - sum(joint))

    def loading(self, plus: str, minus: str, *, meter_ohm: float) -> np.ndarray:
        """Share of the voltage that is left when a meter of this input resistance is across these nodes."""
        ohm = self.between_ohm(plus, minus)
        return np.where(np.isfinite(ohm), meter_ohm / (meter_ohm + np.where(np.isfinite(ohm), ohm, 0.0)), 0.0)

    def _at(self, volt: Callable[[int], Value], node: str) -> Value:
        i = self._index.get(node, -1)
        return 0.0 if i < 0 else volt(i)

    def _all(self, value: Value) -> np.ndarray:
        return value if isinstance(value, np.ndarray) and value.ndim else np.full(self._count, value)


@dataclass(frozen=True)
class Pairs:
    """One network between all pairs of some points, as itertools.combinations has them."""

    volt: np.ndarray
    ac_volt: np.ndarray
    ohm: np.ndarray  # inf where one of the two is not there

    def loading(self, meter_ohm: float) -> np.ndarray:
        """Share of the voltage that is left when a meter is across; nothing at a point that is not there."""
        finite = np.isfinite(self.ohm)
        return np.where(finite, meter_ohm / (meter_ohm + np.where(finite, self.ohm, 0.0)), 0.0)


class DenseSolution(StackSolution):
    """For a few networks: the inverse of each, in which any pair of nodes is looked up."""

    def __init__(
        self,
        index: Mapping[str, int],
        count: int,
        entries: Mapping[tuple[int, int], Value],
        steady: Mapping[int, Value],
        alternating: Mapping[int, Value],
    ) -> None:
        super().__init__(index, count)
        size = len(index) - 1
        matrix, right = np.zeros((count, size, size)), np.zeros((2, count, size))
        for (i, j), siemens in entries.items():
            matrix[:, i, j] = siemens
        for row, currents in enumerate((steady, alternating)):
            for i, ampere in currents.items():
                right[row, :, i] = ampere
        self._inverse = np.linalg.inv(matrix)
        self._volts = np.einsum("nij,rnj->rni", self._inverse, right)

    def _volt(self, node: int) -> Value:
        volts: np.ndarray = self._volts[0, :, node]
        return volts

    def _ac_volt(self, node: int) -> Value:
        volts: np.ndarray = self._volts[1, :, node]
        return volts

    def _transfer_ohm(self, a: int, b: int) -> Value:
        ohm: np.ndarray = self._inverse[:, a, b]
        return ohm

    def pairs(self, points: Sequence[str]) -> Pairs:
        """The first network between all pairs of these points."""
        there = np.array([point in self._index for point in points])
        node = np.array([self._index.get(point, -1) for point in points])
        known = node >= 0
        volts = np.where(known, self._volts[:, 0, node], 0.0)
        transfer = np.where(known[:, None] & known, self._inverse[0][np.ix_(node, node)], 0.0)
        a, b = np.triu_indices(len(points), 1)
        ohm = transfer[a, a] + transfer[b, b] - transfer[a, b] - transfer[b, a]
        (volt, ac_volt) = volts[:, a] - volts[:, b]
        return Pairs(volt, np.abs(ac_volt), np.where(there[a] & there[b], ohm, np.inf))


class SparseSolution(StackSolution):
    """For many networks: eliminated once; what an ampere into a node does is solved when a pair asks for it."""

    def __init__(
        self,
        index: Mapping[str, int],
        count: int,
        entries: Mapping[tuple[int, int], Value],
        steady: Mapping[int, Value],
        alternating: Mapping[int, Value],
    ) -> None:
        super().__init__(index, count)
        self._system = Eliminated(len(index) - 1, entries)
        self._volts = self._system.solve(steady)
        self._ac_volts = self._system.solve(alternating) if alternating else [0.0] * len(self._volts)
        self._by_ampere: dict[int, list[Value]] = {}

    def _volt(self, node: int) -> Value:
        return self._volts[node]

    def _ac_volt(self, node: int) -> Value:
        return self._ac_volts[node]

    def _transfer_ohm(self, a: int, b: int) -> Value:
        if b not in self._by_ampere:
            self._by_ampere[b] = self._system.solve({b: 1.0})
        return self._by_ampere[b][a]
