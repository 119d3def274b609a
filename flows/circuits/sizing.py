"""How big a fault is in an engine: worked out from the least at which what is seen there leaves its tolerance."""

import math
from collections.abc import Callable, Mapping
from functools import lru_cache

import numpy as np

from flows.circuits.believing import believed, tolerance_of
from flows.circuits.crowd import Crowd, alone
from flows.circuits.description import Description
from flows.circuits.faults import NOMINAL, Fault
from flows.circuits.solved import Solved
from flows.model import DEFAULT_STATE
from flows.site import Site

TYPICAL = 4.0  # a typical fault is this many times the least that counts
REFERENCE = "battery.negative"
HALVINGS = 16  # of the span that is searched, in its logarithm
Sizes = Mapping[str, np.ndarray]  # fault -> its size in each engine
Made = Callable[[Fault | None, Sizes, Mapping[str, str], Crowd], Solved]


class Sizing:
    """Sizes of a circuit's faults; the least of each is kept by place. made: solves one fault at given sizes."""

    def __init__(self, description: Description, made: Made) -> None:
        self._description, self._made = description, made
        self._least: dict[tuple[str, Site], float] = {}
        self._healthy = lru_cache(maxsize=16)(lambda state, crowd: made(None, {}, dict(state), crowd))

    def of(self, fault: Fault | None, crowd: Crowd) -> dict[str, np.ndarray]:
        """Every part of a fault with its size in each engine: a pair has two, an intermittent what it does."""
        if fault is None:
            return {}
        made = {} if fault.of else {fault.name: self.size(fault, crowd)}
        for one in fault.of:
            made |= self.of(one, crowd)
        return made

    def size(self, fault: Fault, crowd: Crowd) -> np.ndarray:
        """A few times the least that counts at each place, as far as the engine's severity goes."""
        if fault.grows is None:
            return np.full(len(crowd), self._description.sizes.get(fault.name, fault.size))
        new = tuple(site for site in crowd.places if (fault.name, site) not in self._least)
        if new:
            found = self._search(fault, Crowd((NOMINAL,) * len(new), new))
            self._least |= {(fault.name, site): float(size) for site, size in zip(new, found, strict=True)}
        least = np.array([self._least[fault.name, site] for site in crowd.places])[crowd.place_of]
        return np.minimum(least * (TYPICAL * crowd.severity) ** fault.stretch, max(fault.grows))

    def ever_counts(self, fault: Fault, site: Site) -> bool:
        """Whether anything leaves its tolerance at this place, however big the fault is."""
        assert fault.grows is not None
        return bool(self.counts(fault, np.array([max(fault.grows)]), alone(site, NOMINAL))[0])

    def _search(self, fault: Fault, crowd: Crowd) -> np.ndarray:
        assert fault.grows is not None
        low, high = (np.full(len(crowd), math.log(end)) for end in fault.grows)
        for _ in range(HALVINGS):
            middle = (low + high) / 2
            counts = self.counts(fault, np.exp(middle), crowd)
            low, high = np.where(counts, low, middle), np.where(counts, middle, high)
        return np.exp(high)

    def counts(self, fault: Fault, size: np.ndarray, crowd: Crowd) -> np.ndarray:
        """Whether a fault of this size shows: in what the control unit believes, a supply, a ground or a watched voltage."""
        d = self._description
        counts = np.zeros(len(crowd), dtype=bool)
        for extra in sorted({tuple(sorted(sees.state.items())) for sees in d.sees} | {()}):
            state = {**DEFAULT_STATE, "key": "on", **dict(extra)}
            bad = self._made(fault, {fault.name: size}, state, crowd)
            good = self._healthy(tuple(state.items()), crowd)
            for sees in (s for s in d.sees if tuple(sorted(s.state.items())) == extra):
                now, then = ((x.ac if sees.alternating else x.dc)(sees.plus, sees.minus) for x in (bad, good))
                most = sees.volt if sees.volt is not None else (sees.share or 0.0) * np.abs(then)
                counts |= np.abs(now - then) > most
            if not extra:
                counts |= self._believed_off(bad, good)
        return counts

    def _believed_off(self, bad: Solved, good: Solved) -> np.ndarray:
        """At rest: grounds, the five volts at both ends, inputs, and what the circuit itself looks at."""
        d, sheet = self._description, self._description.sheet
        off = np.zeros(bad.here.count, dtype=bool)
        for run in d.runs:
            if run.role == "ground":
                off |= np.abs(bad.dc(run.node(0), REFERENCE)) > sheet.limits.sensor_ground_v
        if d.supply:
            for point in ("rail", d.run(d.supply).node(0)):
                off |= np.abs(bad.dc(point, "earth") / sheet.supply.nominal_v - 1) > sheet.supply.tolerance
        for name in d.inputs:
            now, then = (believed(x.first, x.here, name) for x in (bad, good))
            off |= np.abs(now - then) > tolerance_of(bad.here, name)
        if d.counts is not None:
            off |= np.asarray(d.counts(bad.first, good.first, bad.here), dtype=bool)
        return off
