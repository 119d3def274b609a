"""The best possible: the least expected minutes any order of a circuit's checks could need to leave one class.

Dynamic programming over suspect sets. A set is what could be true (with its weight) and what is still compatible with
the readings; a check parts it by its labels. Preparations (a place made accessible, a plug off) are paid for once and
never undone, a probe is moved once a check: so the costs are no more than any real order has, and the figure is a lower
bound of the true optimum even where the search is exact. Where time runs out, sets not searched count with what their
hardest pair needs at least.
"""

import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from flows.trial.telling import HEALTHY, Check, Suspect

WORDS = 4  # of 64 bits: so many suspects fit
POLICY_WIDTH = 4  # checks tried at each set when looking for a good order
Group = tuple[int, int]  # rows that may be true, rows still compatible


@dataclass(frozen=True)
class Set:
    """A suspect set: true rows, compatible rows, preparations paid for; all as bits."""

    true: int
    compatible: int
    paid: int


@dataclass(frozen=True)
class Optimum:
    """lower_minutes: no order needs less. found_minutes: an order that was found, under the same costs."""

    lower_minutes: float
    found_minutes: float
    exact: bool  # the search was finished: both are the same
    sets: int  # searched
    first: str  # the check the found order begins with


@dataclass(frozen=True)
class Taken:
    """A check of an order: its own minutes from here (ways and preparations with it), and the sets it leaves."""

    check: Check
    minutes: float
    children: tuple[Set, ...]


class Search:
    """The search over one table of checks. classes: fault -> faults nothing separates from it."""

    def __init__(self, rows: Sequence[Suspect], checks: Sequence[Check], classes: Mapping[str, frozenset[str]]) -> None:
        if len(rows) > 64 * WORDS:
            raise ValueError(f"{len(rows)} suspects are too many for the search; it takes {64 * WORDS}")
        self._rows, self._checks = rows, checks
        setups = sorted({setup for check in checks for setup in check.setups}, key=lambda s: (s.name, s.minutes))
        self._setup_minutes = np.array([s.minutes for s in setups])
        bit = {setup: 1 << i for i, setup in enumerate(setups)}
        self.bit_of = {setup.name: bit[setup] for setup in setups}
        self._needs = [sum(bit[s] for s in check.setups) for check in checks]
        self._weight = np.array([row.weight for row in rows])
        self._same = np.array([[_one_class(a, b, classes) for b in rows] for a in rows])
        self._same_bits = [sum(1 << int(j) for j in np.flatnonzero(row)) for row in self._same]
        self._parts = np.array(
            [[[not label >> j & 1 for j in range(len(rows))] for label in check.labels] for check in checks], dtype=bool
        ).reshape(len(checks), len(rows), len(rows))
        self._words = np.array([[_words(label) for label in check.labels] for check in checks], dtype=np.uint64)
        self._setups: dict[int, float] = {}
        self._pair: dict[int, np.ndarray] = {}
        self._moves: dict[Set, list[tuple[float, float, tuple[Set, ...], int]]] = {}
        self._floor: dict[Set, float] = {}
        self._lower: dict[tuple[Set, int], float] = {}
        self._found: dict[tuple[Set, int], tuple[float, int]] = {}

    def everything(self, paid: int = 0) -> Set:
        """All suspects: what may be true are those with a weight."""
        true = sum(1 << i for i, row in enumerate(self._rows) if row.weight > 0)
        return Set(true, (1 << len(self._rows)) - 1, paid)

    def weight(self, true: int) -> float:
        """Share of the prior of these rows."""
        return float(self._weight[_list(true)].sum())

    def settled(self, s: Set) -> bool:
        """Whether one class is left."""
        return all(s.compatible & ~self._same_bits[i] == 0 for i in _list(s.true))

    def best(self, starts: Sequence[Set], *, seconds: float, deepest: int = 12) -> Optimum:
        """Expected minutes from these sets, summed over their weights."""
        until = time.monotonic() + seconds
        lower, found, first, depth, exact = 0.0, float("inf"), -1, 0, False
        for depth in range(deepest):
            tries = [self._policy(s, width=1 + min(depth, POLICY_WIDTH - 1)) for s in starts]
            if sum(value for value, _ in tries) < found:
                found, first = sum(value for value, _ in tries), max(tries)[1] if tries else -1
            try:
                lower = max(lower, sum(self._bound(s, depth, until) for s in starts))
            except TimeoutError:
                break
            if found - lower < 1e-9:
                exact = True
                break
            if time.monotonic() > until:
                break
        name = self._checks[first].name if first >= 0 else ""
        return Optimum(min(lower, found), found, exact, len(self._moves), name)

    def taken(self, s: Set, *, width: int = POLICY_WIDTH) -> Taken | None:
        """The check that the order found takes at a set, None where it ends. width: as for the set before, less one."""
        _, number = self._policy(s, width=width)
        if number < 0:
            return None
        _, minutes, children, _ = next(option for option in self._options(s) if option[3] == number)
        return Taken(self._checks[number], minutes / max(self.weight(s.true), 1e-12), children)

    def rows(self, bits: int) -> list[Suspect]:
        """The suspects that these bits stand for."""
        return [self._rows[i] for i in _list(bits)]

    def part(self, s: Set, labels: Sequence[int]) -> list[Group]:
        """What a check makes of a set."""
        groups: dict[int, int] = {}
        for i in _list(s.true):
            left = labels[i] & s.compatible
            groups[left] = groups.get(left, 0) | 1 << i
        return [(true, left) for left, true in groups.items()]

    # -- moves ----------------------------------------------------------------------------------------------------

    def _options(self, s: Set) -> list[tuple[float, float, tuple[Set, ...], int]]:
        """Useful checks of a set: least total, own minutes, what they lead to, number; the most promising first."""
        if s in self._moves:
            return self._moves[s]
        weight = self.weight(s.true)
        kept: dict[tuple[bytes, int], tuple[float, int, int]] = {}
        true = _list(s.true)
        left = self._words[:, true] & np.array(_words(s.compatible), dtype=np.uint64)
        tells = (left != np.array(_words(s.compatible), dtype=np.uint64)).any(axis=(1, 2))
        for number in map(int, np.flatnonzero(tells)):
            paid = s.paid | self._needs[number]
            minutes = self._checks[number].minutes + self._minutes_of(self._needs[number] & ~s.paid)
            key = (left[number].tobytes(), paid)
            if key not in kept or kept[key][0] > minutes:
                kept[key] = (minutes, number, paid)
        parted = {
            number: (minutes, tuple(Set(t, c, paid) for t, c in self.part(s, self._checks[number].labels)))
            for minutes, number, paid in kept.values()
        }
        made = [
            (minutes * weight + sum(self._least(child) for child in children), minutes * weight, children, number)
            for number, (minutes, children) in parted.items()
        ]
        self._moves[s] = sorted(made, key=lambda option: option[0])
        return self._moves[s]

    def _minutes_of(self, setups: int) -> float:
        if setups not in self._setups:
            self._setups[setups] = float(self._setup_minutes[_list(setups)].sum()) if setups else 0.0
        return self._setups[setups]

    # -- from below -----------------------------------------------------------------------------------------------

    def _least(self, s: Set) -> float:
        """What a set needs at least: each row must be parted from the one that is hardest to part it from."""
        if s not in self._floor:
            pairs, left = self._pairs(s.paid), _list(s.compatible)
            self._floor[s] = sum(float(pairs[i, left].max()) * float(self._weight[i]) for i in _list(s.true))
        return self._floor[s]

    def _pairs(self, paid: int) -> np.ndarray:
        """Least minutes that part two rows, with these preparations paid for; 0 for those that nothing parts."""
        if paid not in self._pair:
            minutes = np.array(
                [c.minutes + self._minutes_of(n & ~paid) for c, n in zip(self._checks, self._needs, strict=True)]
            )
            least = np.full(self._same.shape, np.inf)
            for number in np.argsort(-minutes):
                least[self._parts[number]] = minutes[number]
            self._pair[paid] = np.where(np.isinf(least) | self._same, 0.0, least)
        return self._pair[paid]

    def _bound(self, s: Set, depth: int, until: float) -> float:
        """A lower bound: all orders to this depth, then what is left at least. Raises TimeoutError."""
        least = self._least(s)
        if depth == 0 or least == 0 or self.settled(s):
            return least
        key = (s, depth)
        if key in self._lower:
            return self._lower[key]
        if time.monotonic() > until:
            raise TimeoutError
        best = float("inf")
        for bound, minutes, children, _ in self._options(s):
            if bound >= best:
                break
            total, rest = minutes, bound - minutes
            for child in children:
                rest -= self._least(child)
                total += self._bound(child, depth - 1, until)
                if total + rest >= best:
                    break
            best = min(best, total + rest)
        self._lower[key] = max(least, 0.0 if best == float("inf") else best)
        return self._lower[key]

    # -- from above -----------------------------------------------------------------------------------------------

    def _policy(self, s: Set, *, width: int) -> tuple[float, int]:
        """Minutes of a good order, and its first check: the best of the few that promise most, all the way down."""
        key = (s, width)
        if key in self._found:
            return self._found[key]
        best = (0.0, -1)
        options = [] if self.settled(s) else self._options(s)
        if options:
            best = (float("inf"), -1)
            narrow = max(1, width - 1) if width > 1 else 1
            for _, minutes, children, number in sorted(options, key=lambda o: self._promise(s, o))[:width]:
                total = minutes + sum(self._policy(child, width=narrow)[0] for child in children)
                best = min(best, (total, number))
        self._found[key] = best
        return best

    def _promise(self, s: Set, option: tuple[float, float, tuple[Set, ...], int]) -> float:
        """Minutes for each bit of what a check tells, and what its outcomes need at least."""
        _, minutes, children, _ = option
        whole = max(self.weight(s.true), 1e-12)
        size = s.compatible.bit_count()
        told = sum(self.weight(c.true) / whole * np.log2(size / max(c.compatible.bit_count(), 1)) for c in children)
        return minutes / whole / max(float(told), 1e-9)


def _one_class(a: Suspect, b: Suspect, classes: Mapping[str, frozenset[str]]) -> bool:
    return a.fault == b.fault or (HEALTHY not in (a.fault, b.fault) and b.fault in classes[a.fault])


def _words(bits: int) -> list[int]:
    """A number of many bits in four words."""
    return [bits >> 64 * i & (1 << 64) - 1 for i in range(WORDS)]


def _list(bits: int) -> list[int]:
    return list(_each(bits))


def _each(bits: int) -> Iterator[int]:
    while bits:
        low = bits & -bits
        yield low.bit_length() - 1
        bits ^= low
