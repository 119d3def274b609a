"""True values at the probe tips for many engines: solved once for each fault, engine and state, then looked up.

A circuit may offer `readings(fault, red, black, quantity, state, *, sites, draws, meter_ohm) -> array`, which solves
all engines in one stacked system; any other is asked for one engine after the other.
"""

from collections.abc import Mapping
from typing import Any

import numpy as np

from flows.model import DEFAULT_STATE
from flows.trial.engines import Engines

State = Mapping[str, str]


class TrueValues:
    """readings[engine] of one fault in one circuit, worked out when first asked for."""

    def __init__(self, circuit: Any, fault: Any, engines: Engines, *, meter_ohm: float) -> None:
        self._circuit, self._fault, self._engines = circuit, fault, engines
        self._meter_ohm = meter_ohm
        self._read: dict[tuple[Any, ...], np.ndarray] = {}
        self._seen: dict[tuple[Any, ...], np.ndarray] = {}

    def reading(self, red: str, black: str | None, quantity: str, state: State, which: np.ndarray) -> np.ndarray:
        """True values for these engines (their numbers), base unit, inf for an open line on ohms."""
        key = (red, black, quantity, _key(state))
        if key not in self._read:
            self._read[key] = np.full(len(self._engines), np.nan)
        known = self._read[key]
        missing = which[np.isnan(known[which])]
        if len(missing):
            known[missing] = self._solve(red, black, quantity, state, missing)
        return known[which]

    def _solve(self, red: str, black: str | None, quantity: str, state: State, which: np.ndarray) -> Any:
        many = getattr(self._circuit, "readings", None)
        sites, draws = self._places(which), [self._engines.draws[i] for i in which]
        if many is not None:
            return many(self._fault, red, black, quantity, state, sites=sites, draws=draws, meter_ohm=self._meter_ohm)
        one, ohm = self._circuit.reading, self._meter_ohm
        return [
            one(self._fault, red, black, quantity, state, site=site, meter_ohm=ohm, draw=draw)
            for site, draw in zip(sites, draws, strict=True)
        ]

    def watch(
        self, red: str, black: str | None, quantity: str, state: State, place: str, which: np.ndarray
    ) -> np.ndarray:
        """Whether the reading moves when this place is moved."""

        def one(i: int) -> bool:
            here = self._here(i)
            seen = self._circuit.watch(
                self._fault, red, black, quantity, state, place=place, meter_ohm=self._meter_ohm, **here
            )
            return bool(seen == "moved")

        return self._each(("watch", red, black, quantity, _key(state), place), one, which)

    def looks_bad(self, place: str, which: np.ndarray) -> np.ndarray:
        """Whether eyes find something bad at a place."""
        return self._each(
            ("look", place),
            lambda i: self._circuit.look(self._fault, place, draw=self._engines.draws[i]) == "bad",
            which,
        )

    def has_codes(self, which: np.ndarray) -> np.ndarray:
        """Whether the control unit has stored a code."""
        return self._each(("codes",), lambda i: bool(self.codes(i)), which)

    def codes(self, engine: int) -> tuple[str, ...]:
        """Codes one engine has stored."""
        return tuple(self._circuit.codes(self._fault, **self._here(engine)))

    def _each(self, key: tuple[Any, ...], one: Any, which: np.ndarray) -> np.ndarray:
        """A yes or no an engine, kept: -1 until it is known."""
        known = self._seen.setdefault(key, np.full(len(self._engines), -1, dtype=np.int8))
        for i in which[known[which] < 0]:
            known[i] = one(int(i))
        return known[which].astype(bool)

    def _here(self, i: int) -> dict[str, Any]:
        return {"site": self._engines.sites[self._engines.site_of[i]], "draw": self._engines.draws[i]}

    def _places(self, which: np.ndarray) -> list[Any]:
        return [self._engines.sites[i] for i in self._engines.site_of[which]]


def _key(state: State) -> tuple[tuple[str, str], ...]:
    return tuple(sorted({**DEFAULT_STATE, **state}.items()))
