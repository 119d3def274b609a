"""True values at the probe tips for many engines: solved once for each fault and state, then looked up.

A circuit may offer `readings(fault, red, black, quantity, state, *, crowd, meter_ohm) -> array`, which solves
all engines in one stacked system; any other is asked for one engine after the other.
"""

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from flows.model import DEFAULT_STATE
from flows.trial.lots import Engines
from flows.trial.manycodes import stores_code

State = Mapping[str, str]
# What a movement must move to be seen on MIN/MAX: as the described circuits have it, which say so for one engine only.
LEAST_MOVED = {"display": 2.0, "dc_voltage": 0.05, "ac_voltage": 0.05, "resistance": 1.0, "current": 0.1}


class TrueValues:
    """readings[engine] of one fault in one circuit, worked out when first asked for."""

    def __init__(self, circuit: Any, fault: Any, engines: Engines, *, meter_ohm: float) -> None:
        self._circuit, self._fault, self._engines = circuit, fault, engines
        self._meter_ohm = meter_ohm
        self._many: Callable[..., Any] | None = getattr(circuit, "readings", None)
        self._read: dict[tuple[Any, ...], np.ndarray] = {}
        self._seen: dict[tuple[Any, ...], np.ndarray] = {}

    def reading(self, red: str, black: str | None, quantity: str, state: State, which: np.ndarray) -> np.ndarray:
        """True values for these engines (their numbers), base unit, inf for an open line on ohms."""
        key = (red, black, quantity, _key(state))
        if key not in self._read:
            self._read[key] = np.full(len(self._engines), np.nan)
            if self._many is not None:  # all at once costs little more than a few
                self._read[key] = self._solve_all(red, black, quantity, state)
        known = self._read[key]
        missing = which[np.isnan(known[which])]
        if len(missing):
            known[missing] = self._solve_each(red, black, quantity, state, missing)
        return known[which]

    def _solve_all(self, red: str, black: str | None, quantity: str, state: State) -> np.ndarray:
        assert self._many is not None
        here = {"crowd": self._engines.crowd, "meter_ohm": self._meter_ohm}
        return np.array(self._many(self._fault, red, black, quantity, state, **here), dtype=float)

    def _solve_each(self, red: str, black: str | None, quantity: str, state: State, which: np.ndarray) -> list[float]:
        one, ohm = self._circuit.reading, self._meter_ohm
        return [one(self._fault, red, black, quantity, state, meter_ohm=ohm, **self._here(int(i))) for i in which]

    def watch(
        self,
        red: str,
        black: str | None,
        quantity: str,
        state: State,
        place: str,
        which: np.ndarray,
        *,
        by: str = "moving",
    ) -> np.ndarray:
        """Whether the reading moves when this place is moved, wet, warmed or chilled."""
        if self._many is not None and hasattr(self._circuit, "moved_place"):
            return self._watch_all(red, black, quantity, state, place, by)[which]

        def one(i: int) -> bool:
            here = self._here(i)
            if by != "moving":
                here["by"] = by
            seen = self._circuit.watch(
                self._fault, red, black, quantity, state, place=place, meter_ohm=self._meter_ohm, **here
            )
            return bool(seen == "moved")

        return self._each(("watch", red, black, quantity, _key(state), place, by), one, which)

    def _watch_all(self, red: str, black: str | None, quantity: str, state: State, place: str, by: str) -> np.ndarray:
        everyone = np.arange(len(self._engines))
        rest, moved = (
            self.reading(red, black, quantity, {**state, by: there}, everyone)
            for there in ("", self._circuit.moved_place(place))
        )
        least = LEAST_MOVED["display"] if red.startswith("display.") else LEAST_MOVED.get(quantity, 0.05)
        opens = np.isinf(rest) | np.isinf(moved)
        with np.errstate(invalid="ignore"):
            return np.where(opens, rest != moved, np.abs(rest - moved) > least)

    def looks_bad(self, place: str, which: np.ndarray) -> np.ndarray:
        """Whether eyes find something bad at a place."""
        return self._each(
            ("look", place),
            lambda i: self._circuit.look(self._fault, place, draw=self._engines.draws[i]) == "bad",
            which,
        )

    def has_codes(self, which: np.ndarray) -> np.ndarray:
        """Whether the control unit has stored a code."""
        if self._many is None or not hasattr(self._circuit, "description"):
            return self._each(("codes",), lambda i: bool(self.codes(i)), which)
        if ("codes",) not in self._seen:
            self._seen["codes",] = stores_code(self._circuit, self._fault, self._engines.crowd).astype(np.int8)
        return self._seen["codes",][which].astype(bool)

    def codes(self, engine: int) -> tuple[str, ...]:
        """Codes one engine has stored."""
        return tuple(self._circuit.codes(self._fault, **self._here(engine)))

    def _each(self, key: tuple[Any, ...], one: Callable[[int], bool], which: np.ndarray) -> np.ndarray:
        """A yes or no an engine, kept: -1 until it is known."""
        known = self._seen.setdefault(key, np.full(len(self._engines), -1, dtype=np.int8))
        for i in np.unique(which[known[which] < 0]):
            known[i] = one(int(i))
        return known[which].astype(bool)

    def _here(self, i: int) -> dict[str, Any]:
        return {"site": self._engines.places[i], "draw": self._engines.draws[i]}


def _key(state: State) -> tuple[tuple[str, str], ...]:
    return tuple(sorted({**DEFAULT_STATE, **state}.items()))
