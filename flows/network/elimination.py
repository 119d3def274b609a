"""Gaussian elimination of a sparse system whose entries are numbers or arrays, one entry an engine.

A harness is nearly a tree, so few entries ever fill in, and what is alike in all engines stays a plain number until it
meets something that is not: a thousand engines then cost little more than one. No pivots are sought: each diagonal of a
nodal matrix is the sum of its row's conductances.
"""

from collections.abc import Mapping

import numpy as np

Value = float | np.ndarray


class Eliminated:
    """A square system, eliminated once, solved for as many right sides as are asked. entries: (row, column) -> value."""

    def __init__(self, size: int, entries: Mapping[tuple[int, int], Value]) -> None:
        rows: list[dict[int, Value]] = [{} for _ in range(size)]
        columns: list[set[int]] = [set() for _ in range(size)]  # rows that have an entry there
        for (i, j), value in entries.items():
            rows[i][j] = value
            columns[j].add(i)
        self._steps: list[tuple[int, Value, dict[int, Value], list[tuple[int, Value]]]] = []
        left = set(range(size))
        while left:
            k = min(left, key=lambda i: ((len(rows[i]) - 1) * (len(columns[i]) - 1), i))  # fills in least
            left.remove(k)
            self._steps.append(_without(k, rows, columns))

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


def _without(
    k: int, rows: list[dict[int, Value]], columns: list[set[int]]
) -> tuple[int, Value, dict[int, Value], list[tuple[int, Value]]]:
    """Takes an unknown out of all other rows: number, pivot, the rest of its row, its share of each row that had it."""
    row = rows[k]
    pivot = row.pop(k)
    columns[k].discard(k)
    below: list[tuple[int, Value]] = []
    for i in sorted(columns[k]):
        share = rows[i].pop(k) / pivot
        below.append((i, share))
        for j, entry in row.items():
            rows[i][j] = rows[i].get(j, 0.0) - share * entry
            columns[j].add(i)
    for j in row:
        columns[j].discard(k)
    return k, pivot, row, below
