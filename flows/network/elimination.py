"""Gaussian elimination of a sparse system whose entries are numbers or arrays, one entry an engine.

A harness is nearly a tree, so few entries ever fill in, and what is alike in all engines stays a plain number until it
meets something that is not: a thousand engines then cost little more than one. No pivots are sought: each diagonal of a
nodal matrix is the sum of its row's conductances.
"""

from collections.abc import Mapping
from functools import lru_cache

import numpy as np

Value = float | np.ndarray


class Eliminated:
    """A square system, eliminated once, solved for as many right sides as are asked. entries: (row, column) -> value."""

    def __init__(self, size: int, entries: Mapping[tuple[int, int], Value]) -> None:
        rows: list[dict[int, Value]] = [{} for _ in range(size)]
        for (i, j), value in entries.items():
            rows[i][j] = value
        self._steps = [_without(k, below, rows) for k, below in order_of(size, frozenset(entries))]

    def solve(self, right: Mapping[int, Value]) -> list[Value]:
        """The unknowns for a right side given by row, 0 where none is given."""
        made: list[Value] = [right.get(i, 0.0) for i in range(len(self._steps))]
        for k, _, _, below in self._steps:
            known = made[k]
            if isinstance(known, float) and known == 0.0:
                continue
            for i, share in below:
                made[i] = made[i] - share * known
        for k, pivot, row, _ in reversed(self._steps):
            value = made[k]
            for j, entry in row.items():
                value = value - entry * made[j]
            made[k] = value / pivot
        return made


@lru_cache(maxsize=512)
def order_of(size: int, places: frozenset[tuple[int, int]]) -> list[tuple[int, list[int]]]:
    """Which unknown to take out after which, and of which rows: each time the one that fills in least.

    places: of the entries, (row, column); a network's are the same for all its faults that join no other nodes.
    """
    rows: list[set[int]] = [set() for _ in range(size)]
    columns: list[set[int]] = [set() for _ in range(size)]
    for i, j in places:
        rows[i].add(j)
        columns[j].add(i)
    made, left = [], set(range(size))
    while left:
        k = min(left, key=lambda i: ((len(rows[i]) - 1) * (len(columns[i]) - 1), i))
        left.remove(k)
        rows[k].discard(k)
        columns[k].discard(k)
        for i in columns[k]:
            rows[i].discard(k)
            rows[i] |= rows[k]
        for j in rows[k]:
            columns[j].discard(k)
            columns[j] |= columns[k]
        made.append((k, sorted(columns[k])))
    return made


def _without(
    k: int, others: list[int], rows: list[dict[int, Value]]
) -> tuple[int, Value, dict[int, Value], list[tuple[int, Value]]]:
    """Takes an unknown out of other rows: number, pivot, the rest of its row, its share of each row that had it."""
    row = rows[k]
    pivot = row.pop(k)
    below: list[tuple[int, Value]] = []
    for i in others:
        share = rows[i].pop(k) / pivot
        below.append((i, share))
        for j, entry in row.items():
            rows[i][j] = rows[i].get(j, 0.0) - share * entry
    return k, pivot, row, below
