"""Bounds of a share: exact ones for independent trials, and a bootstrap over the call-outs that were recorded."""

from collections.abc import Sequence

import numpy as np


def clopper_pearson(wrong: int, count: int, *, level: float = 0.95) -> tuple[float, float]:
    """Exact two-sided bounds of a share.

    >>> [round(end, 5) for end in clopper_pearson(0, 30000)]
    [0.0, 0.00012]
    """
    tail = (1 - level) / 2

    def bound(at_least: bool) -> float:
        low, high = 0.0, 1.0
        for _ in range(60):
            middle = (low + high) / 2
            chance = 1 - _at_most(wrong - 1, count, middle) if at_least else _at_most(wrong, count, middle)
            too_low = chance < tail if at_least else chance > tail
            low, high = (middle, high) if too_low else (low, middle)
        return (low + high) / 2

    return (0.0 if wrong == 0 else bound(True)), (1.0 if wrong == count else bound(False))


def _at_most(wrong: int, count: int, share: float) -> float:
    """Chance of so many or fewer, summed in logs so that large counts do not overflow."""
    if wrong < 0:
        return 0.0
    if share <= 0.0 or share >= 1.0:
        return 1.0 if share <= 0.0 or wrong >= count else 0.0
    k = np.arange(wrong + 1)
    steps = np.log((count - k[:-1]) / (k[:-1] + 1)) if wrong else np.zeros(0)
    chances = np.concatenate([[0.0], np.cumsum(steps)]) + k * np.log(share) + (count - k) * np.log1p(-share)
    return float(min(1.0, np.exp(chances).sum()))


def over_groups(
    groups: Sequence[int], wrong: Sequence[bool], *, draws: int = 2000, seed: int = 1
) -> tuple[float, float]:
    """95 % bounds of the share that is wrong when whole groups (recorded call-outs) are drawn again, not single trials.

    A group that is wrong at all is mostly wrong often, so these are wider than those of independent trials.
    """
    names, at = np.unique(np.asarray(groups), return_inverse=True)
    counts = np.bincount(at, minlength=len(names))
    bad = np.bincount(at, weights=np.asarray(wrong, dtype=float), minlength=len(names))
    rng = np.random.default_rng(seed)
    drawn = rng.integers(len(names), size=(draws, len(names)))
    shares = bad[drawn].sum(axis=1) / counts[drawn].sum(axis=1)
    low, high = np.percentile(shares, [2.5, 97.5])
    return float(low), float(high)
