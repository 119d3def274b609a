"""What a reading tells: suspects as rows, the rows an outcome is compatible with, and which checks are worth keeping.

A check reads each row in its middle engine; what it tells leaves every row that could, over the healthy tolerances and
the meter's U, have given the same. Told are outcomes: low, in or high of a window, or the number itself.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import product
from typing import Any

import numpy as np

from flows.meter import Meter
from flows.network.faults import NOMINAL, Draw
from flows.trial.costs import Setup
from flows.trial.engines import SEVERITY

SIZES = (SEVERITY[0] * 1.5, 1.0, SEVERITY[1] / 1.2)  # times typical: small, typical, large
HEALTHY = "none"


@dataclass(frozen=True)
class Suspect:
    """One row: a fault at one size, with its share of the prior."""

    fault: str  # HEALTHY for none
    draw: Draw
    weight: float


@dataclass(frozen=True)
class Check:
    """One thing to find out. labels[row]: the rows its outcome is compatible with, as bits of a number."""

    name: str
    minutes: float  # talk, probe and key, without what is paid for once
    setups: frozenset[Setup]
    labels: tuple[int, ...]

    @property
    def most_minutes(self) -> float:
        return self.minutes + sum(setup.minutes for setup in self.setups)


def suspects_of(circuit: Any, look_places: Iterable[str]) -> tuple[Suspect, ...]:
    """Every fault with its rows, equal shares a fault; the healthy engine last, with no share."""
    rows: list[Suspect] = []
    places = tuple(look_places)
    for name, fault in circuit.faults().items():
        sizes = SIZES if getattr(fault, "grows", None) is not None else (1.0,)
        hidden = [circuit.look(fault, place, draw=replace(NOMINAL, visible=False)) for place in places]
        plain = [circuit.look(fault, place, draw=NOMINAL) for place in places]
        seen = (True, False) if hidden != plain else (True,)
        draws = [replace(NOMINAL, severity=size, visible=visible) for size, visible in product(sizes, seen)]
        rows += [Suspect(name, draw, 1 / len(draws)) for draw in draws]
    return (*rows, Suspect(HEALTHY, NOMINAL, 0.0))


class Read:
    """One reading of every row: the middle, and the ends over healthy tolerances."""

    def __init__(self, values: np.ndarray, quantity: str, meter: Meter) -> None:
        self._middle, (self._low, self._high) = values[:, 0], _hull(values)
        self._u = np.asarray(meter.expanded_uncertainty(quantity, np.where(np.isinf(self._middle), 0.0, self._middle)))

    def healthy(self) -> tuple[float, float]:
        """Ends of what a healthy engine shows: the last row."""
        if np.isinf(self._middle[-1]):
            return (math.inf, math.inf)
        return float(self._low[-1] - self._u[-1]), float(self._high[-1] + self._u[-1])

    def by_value(self) -> tuple[int, ...]:
        """Labels when the number itself is told."""
        u, middle = self._u[:, None], self._middle[:, None]
        with np.errstate(invalid="ignore"):
            fits = (middle >= self._low - u) & (middle <= self._high + u)
        fits |= np.isinf(middle) & np.isinf(self._high)
        return tuple(_bits(row) for row in fits)

    def by_outcome(self, low: float, high: float) -> tuple[int, ...]:
        """Labels when it is told whether the reading is low, in, high, or an open line."""
        least, most, opens = self._low - self._u, self._high + self._u, np.isinf(self._high)
        always = np.isinf(self._middle)
        if math.isinf(low):
            could = [~always, np.zeros_like(opens), opens]
            told = np.where(always, 2, 0)
        else:
            could = [~always & (least < low), ~always & (most > high), opens, ~always & (least <= high) & (most >= low)]
            told = np.select([always, self._middle < low, self._middle > high], [2, 0, 1], 3)
        bits = [_bits(row) for row in could]
        return tuple(bits[code] | 1 << i for i, code in enumerate(told))


def undominated(checks: Iterable[Check]) -> list[Check]:
    """Checks that tell something, without those for which another tells at least as much and costs no more.

    Sound: telling more never makes an order longer, since what is told can be ignored.
    """
    kept: list[tuple[Check, int]] = []
    seen: set[tuple[tuple[int, ...], float, frozenset[Setup]]] = set()
    for check in sorted(checks, key=lambda c: (sum(label.bit_count() for label in c.labels), c.most_minutes)):
        key = (check.labels, check.minutes, check.setups)
        if key in seen or all(label == (1 << len(check.labels)) - 1 for label in check.labels):
            continue
        seen.add(key)
        whole = _joined(check.labels)
        if not any(
            o.minutes <= check.minutes and o.setups <= check.setups and whole & told == told for o, told in kept
        ):
            kept.append((check, whole))
    return [check for check, _ in kept]


def _joined(labels: tuple[int, ...]) -> int:
    """All labels side by side as one number."""
    width = len(labels)
    return sum(label << i * width for i, label in enumerate(labels))


def spread(draw: Draw) -> tuple[Draw, ...]:
    """The row's middle engine, then one healthy tolerance after the other at its end."""
    names = [n for n, v in vars(NOMINAL).items() if isinstance(v, float) and v == 0.0]
    return (draw, *(replace(draw, **{name: 1.0}) for name in names))  # type: ignore[arg-type]


def _hull(values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Ends of what a row may read: what each tolerance does to it, all added up, as if each acted in a straight line."""
    middle = values[:, 0]
    with np.errstate(invalid="ignore"):
        apart = np.where(np.isinf(middle)[:, None], 0.0, np.abs(values[:, 1:] - middle[:, None]))
        half = np.nan_to_num(apart, nan=0.0, posinf=np.inf).sum(axis=1)
        low = np.where(np.isinf(half), np.minimum(middle, values.min(axis=1)), middle - half)
    return np.where(np.isinf(middle), middle, low), middle + half


def alike(seen: list[Any]) -> tuple[int, ...]:
    """Labels of what is seen plainly: compatible with all that look the same."""
    return tuple(_bits(np.array([other == one for other in seen])) for one in seen)


def _bits(row: np.ndarray) -> int:
    return sum(1 << int(i) for i in np.flatnonzero(row))
