"""Nodal analysis of many like networks at once: the same nodes, each value a number or an array of one a network.

No extra unknowns, every source has a resistance. Alternating sources are solved beside the
steady ones, on the same matrix, as root mean square values (no inductance, no capacitance: bench speeds only).
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from flows.network.elimination import Eliminated, Value

LEAK_S = 1e-11  # 100 gigohm from each node to the reference
MANY = 12  # from so many networks on, elimination by hand is faster than one inverse each


class Stack:
    """`count` networks with the same nodes; `reference` is at 0 V in each. Stamps first, then solve()."""

    def __init__(self, reference: str, count: int) -> None:
        self.reference, self.count = reference, count
        self._nodes: dict[str, None] = {}  # in the order they were first named, without the reference
        self._rows: list[str] = []  # three lists of one length: what flows out of one node for a volt at another
        self._columns: list[str] = []
        self._siemens: list[Value] = []
        self._currents: list[tuple[str, Value]] = []  # node, amperes into it
        self._alternating: list[tuple[str, Value]] = []
        self.branches: list[tuple[str, str, Value, Value]] = []  # from, to, siemens, amperes driven: for ngspice
        self.controls: list[tuple[str, str, dict[str, Value], Value]] = []

    def add(self, other: "Stack") -> None:
        """All that is stamped in another stack of as many networks, after what is stamped here."""
        self._nodes.update(other._nodes)
        self._rows += other._rows
        self._columns += other._columns
        self._siemens += other._siemens
        self._currents += other._currents
        self._alternating += other._alternating
        self.branches += other.branches
        self.controls += other.controls

    def _name(self, *nodes: str) -> None:
        """Nodes that the networks have from now on."""
        self._nodes.update((node, None) for node in nodes if node != self.reference)

    def conductance(self, a: str, b: str, siemens: Value) -> None:
        """A conductance between two nodes [S], 0 allowed."""
        if a == b:
            return
        self._name(a, b)
        siemens = _plain(siemens)
        self._rows += (a, b, a, b)
        self._columns += (a, b, b, a)
        self._siemens += (siemens, siemens, -siemens, -siemens)
        self.branches.append((a, b, siemens, 0.0))

    def resistor(self, a: str, b: str, ohm: Value) -> None:
        """A resistance between two nodes. Raises ValueError when one is not above 0."""
        ohm = _plain(ohm)
        if not (ohm > 0 if isinstance(ohm, float) else np.all(ohm > 0)):
            raise ValueError(f"resistor from {a} to {b} is {ohm} ohm, must be above 0")
        self.conductance(a, b, 1 / ohm)

    def current(self, a: str, b: str, ampere: Value) -> None:
        """A current that leaves node a and enters node b [A]."""
        ampere = _plain(ampere)
        self._name(a, b)
        self._currents += [(a, -ampere), (b, ampere)]
        self.branches.append((a, b, 0.0, ampere))

    def alternating(self, a: str, b: str, ampere: Value) -> None:
        """An alternating current from a to b [A, root mean square]."""
        ampere = _plain(ampere)
        self._name(a, b)
        self._alternating += [(a, -ampere), (b, ampere)]

    def source(self, plus: str, minus: str, *, volt: Value, ohm: Value, on: Value = 1.0, ac_volt: Value = 0.0) -> None:
        """A voltage source with its series resistance; on: 1, or 0 where it is not there."""
        siemens = np.asarray(on) / np.asarray(ohm, dtype=float)
        self.conductance(plus, minus, siemens)
        self.current(minus, plus, np.asarray(volt) * siemens)
        if np.any(ac_volt):
            self.alternating(minus, plus, np.asarray(ac_volt) * siemens)

    def controlled(self, out: str, drain: str, weights: dict[str, Value], *, siemens: Value) -> None:
        """Drives `out` to the weighted sum of node voltages; what flows into it leaves `drain`."""
        siemens = _plain(siemens)
        self.controls.append((out, drain, weights, siemens))
        self._name(out, drain, *weights)
        for name, weight in {**weights, out: weights.get(out, 0.0) - 1.0}.items():
            through = _plain(siemens * _plain(weight))
            self._rows += (out, drain)
            self._columns += (name, name)
            self._siemens += (-through, through)

    def solve(self) -> "StackSolution":
        """Every node's voltages, and resistances between any two nodes with the sources dead."""
        index = {name: i for i, name in enumerate(self._nodes)}
        index[self.reference] = len(index)
        rows, columns = ([index[name] for name in names] for names in (self._rows, self._columns))
        steady, alternating = (
            [(index[name], ampere) for name, ampere in amperes] for amperes in (self._currents, self._alternating)
        )
        kind = DenseSolution if self.count < MANY else SparseSolution
        return kind(index, self.count, Entries(rows, columns, self._siemens), steady, alternating)


def _plain(value: Value) -> Value:
    """A plain number for what is alike in all networks."""
    if isinstance(value, float | int):
        return float(value)
    each = np.asarray(value, dtype=float)
    if each.size == 1 or (each == each[0]).all():
        return float(each.flat[0])
    return each


class Entries(NamedTuple):
    """Entries of the matrices in the order they are summed: three lists of one length."""

    rows: list[int]
    columns: list[int]
    siemens: list[Value]


Amperes = Sequence[tuple[int, Value]]  # into nodes, summed


class StackSolution:
    """Solved networks: a voltage or resistance is an array of one a network. The reference is the last node."""

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
        return self._all(z(i, i) + z(j, j) - (z(i, j) + z(j, i)))

    def loading(self, plus: str, minus: str, *, meter_ohm: float) -> np.ndarray:
        """Share of the voltage that is left when a meter of this input resistance is across these nodes."""
        ohm = self.between_ohm(plus, minus)
        return np.where(np.isfinite(ohm), meter_ohm / (meter_ohm + np.where(np.isfinite(ohm), ohm, 0.0)), 0.0)

    def _at(self, volt: Callable[[int], Value], node: str) -> Value:
        i = self._index.get(node)
        return 0.0 if i is None else volt(i)

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
        self, index: Mapping[str, int], count: int, entries: Entries, steady: Amperes, alternating: Amperes
    ) -> None:
        super().__init__(index, count)
        size = len(index)
        place = np.array(entries.rows) * size + entries.columns
        matrix, right = np.empty((count, size * size)), np.zeros((2, count, size))
        for k in range(count):
            siemens = [value if isinstance(value, float) else value[k] for value in entries.siemens]
            matrix[k] = np.bincount(place, siemens, size * size)
        matrix[:, :: size + 1] += LEAK_S
        for row, amperes in enumerate((steady, alternating)):
            for i, ampere in amperes:
                right[row, :, i] += ampere
        known = size - 1  # all but the reference, at which volts and ohms are 0
        inverse = np.linalg.inv(matrix.reshape(count, size, size)[:, :known, :known])
        self._inverse, self._volts = np.zeros((count, size, size)), np.zeros((2, count, size))
        self._inverse[:, :known, :known] = inverse
        self._volts[:, :, :known] = np.einsum("nij,rnj->rni", inverse, right[:, :, :known])

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
        node = np.array([self._index.get(point, -1) for point in points])  # one that is not there: as the reference
        volts, transfer = self._volts[:, 0, node], self._inverse[0][np.ix_(node, node)]
        a, b = np.triu_indices(len(points), 1)
        ohm = transfer[a, a] + transfer[b, b] - transfer[a, b] - transfer[b, a]
        (volt, ac_volt) = volts[:, a] - volts[:, b]
        return Pairs(volt, np.abs(ac_volt), np.where(there[a] & there[b], ohm, np.inf))


class SparseSolution(StackSolution):
    """For many networks: eliminated once; what an ampere into a node does is solved when a pair asks for it."""

    def __init__(
        self, index: Mapping[str, int], count: int, entries: Entries, steady: Amperes, alternating: Amperes
    ) -> None:
        super().__init__(index, count)
        self._reference = len(index) - 1
        summed: dict[tuple[int, int], Value] = {}
        for i, j, siemens in zip(*entries, strict=True):
            if self._reference not in (i, j):
                summed[i, j] = summed.get((i, j), 0.0) + siemens
        for i in range(self._reference):
            summed[i, i] = summed.get((i, i), 0.0) + LEAK_S
        self._system = Eliminated(self._reference, summed)
        self._volts = self._solved(steady)
        self._ac_volts = self._solved(alternating) if alternating else [0.0] * len(index)
        self._by_ampere: dict[int, list[Value]] = {}

    def _solved(self, amperes: Amperes) -> list[Value]:
        """Volts at every node, the reference last."""
        into: dict[int, Value] = {}
        for i, ampere in amperes:
            if i != self._reference:
                into[i] = into.get(i, 0.0) + ampere
        return [*self._system.solve(into), 0.0]

    def _volt(self, node: int) -> Value:
        return self._volts[node]

    def _ac_volt(self, node: int) -> Value:
        return self._ac_volts[node]

    def _transfer_ohm(self, a: int, b: int) -> Value:
        if b not in self._by_ampere:
            self._by_ampere[b] = self._solved([(b, 1.0)])
        return self._by_ampere[b][a]
