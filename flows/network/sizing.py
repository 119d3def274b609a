"""How big a fault is in an engine: worked out from the least at which what is seen there leaves its tolerance."""

import math
from collections.abc import Callable, Mapping
from functools import lru_cache
from typing import NamedTuple
from weakref import WeakKeyDictionary

import numpy as np

from flows.model import DEFAULT_STATE
from flows.network.believing import believed, tolerance_of
from flows.network.crowd import Crowd, alone
from flows.network.description import Description
from flows.network.faults import NOMINAL, Fault
from flows.network.solved import Solved
from flows.site import Site

TYPICAL = 4.0  # a typical fault is this many times the least that counts
REFERENCE = "battery.negative"
HALVINGS = 12  # of the span that is searched, in its logarithm: half a percent of nine decades
Sizes = Mapping[str, np.ndarray]  # fault -> its size in each engine
Made = Callable[[Fault | None, Sizes, Mapping[str, str], Crowd], Solved]


class Sizing:
    """Sizes of a circuit's faults; the least of each is kept engine by engine. made: solves one fault at given sizes."""

    def __init__(self, description: Description, made: Made) -> None:
        self._description, self._made = description, made
        self._least: WeakKeyDictionary[Crowd, dict[str, np.ndarray]] = WeakKeyDictionary()
        self._kept = lru_cache(maxsize=16)(self._without)

    def of(self, fault: Fault | None, crowd: Crowd) -> dict[str, np.ndarray]:
        """Every part of a fault with its size in each engine: a pair has two, an intermittent what it does."""
        if fault is None:
            return {}
        made = {} if fault.of else {fault.name: self.size(fault, crowd)}
        for one in fault.of:
            made |= self.of(one, crowd)
        return made

    def size(self, fault: Fault, crowd: Crowd) -> np.ndarray:
        """A few times the least that counts in each engine, as its severity has it."""
        if fault.grows is None:
            return np.full(len(crowd), self._description.sizes.get(fault.name, fault.size))
        known = self._least.setdefault(crowd.bare, {})
        if fault.name not in known:
            known[fault.name] = self._search(fault, crowd.bare)
        least = known[fault.name]
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
        """Whether a fault of this size shows: in what the control unit believes, a supply, a ground or a watched voltage.

        Two things are asked of it: that the engine leaves the tolerance around what exact parts would show, and that the
        fault alone moves it by as much. Without the second a wire would count for what a sensor does nine tenths of.
        """
        d = self._description
        shows = np.zeros(len(crowd), dtype=bool)
        for extra in sorted({tuple(sorted(sees.state.items())) for sees in d.sees} | {()}):
            state = {**DEFAULT_STATE, "key": "on", **dict(extra)}
            key = tuple(state.items())
            bad = self._made(fault, {fault.name: size}, state, crowd)
            own = self._kept(fault if fault.replaces else None, key, crowd)
            beside = Beside(bad, own, self._kept(None, key, crowd.exactly))
            for sees in (s for s in d.sees if tuple(sorted(s.state.items())) == extra):
                volts = [(x.ac if sees.alternating else x.dc)(sees.plus, sees.minus) for x in beside]
                most = sees.volt if sees.volt is not None else (sees.share or 0.0) * np.abs(volts[2])
                shows |= _off(*volts, most=most)
            if not extra:
                shows |= self._believed_off(beside)
        return shows

    def _without(self, fault: Fault | None, state: tuple[tuple[str, str], ...], crowd: Crowd) -> Solved:
        """Engines before a fault: one that takes the place of a healthy error is there with no size."""
        return self._made(fault, {fault.name: np.zeros(len(crowd))} if fault else {}, dict(state), crowd)

    def _believed_off(self, beside: "Beside") -> np.ndarray:
        """At rest: grounds, the five volts at both ends, inputs, and what the circuit itself looks at."""
        d, sheet, bad = self._description, self._description.sheet, beside.bad
        off = np.zeros(bad.here.count, dtype=bool)
        for run in d.runs:
            if run.role == "ground":
                off |= np.abs(bad.dc(run.node(0), REFERENCE)) > sheet.limits.sensor_ground_v
        if d.supply:
            for point in ("rail", d.run(d.supply).node(0)):
                volts = [x.dc(point, "earth") for x in beside]
                off |= _off(*volts, most=sheet.supply.tolerance * volts[2])
        for name in d.inputs:
            off |= _off(*(believed(x.first, x.here, name) for x in beside), most=tolerance_of(bad.here, name))
        if d.counts is not None:
            off |= np.asarray(d.counts(bad.first, beside.exact.first, bad.here), dtype=bool)
        return off


class Beside(NamedTuple):
    """The same engines with the fault, before it, and with exact parts."""

    bad: Solved
    own: Solved
    exact: Solved


def _off(bad: np.ndarray, own: np.ndarray, exact: np.ndarray, *, most: float | np.ndarray) -> np.ndarray:
    """Whether a value has left its tolerance, and the fault alone has moved it by as much."""
    off: np.ndarray = np.minimum(np.abs(bad - exact), np.abs(bad - own)) > most
    return off
