"""Kinds of parts that are straight lines piece by piece: each engine's mode is tried until what is solved agrees."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from flows.network.faults import Fault
from flows.network.here import Here
from flows.network.kinds import Asked, Kind, asked
from flows.network.stacked import Stack, StackSolution, Value

BLEED_S = 2e-5  # a regulator's own divider


@dataclass(frozen=True, kw_only=True)
class Moded(Kind):
    """A part with modes, small whole numbers; `start` is tried first."""

    start: int = 0

    def mode(self, here: Here) -> np.ndarray:
        return here.modes[self.name] if self.name in here.modes else np.full(here.count, self.start)

    def follows(self, solution: StackSolution, here: Here) -> np.ndarray:
        """The mode that the solved voltages call for, engine by engine."""
        raise NotImplementedError


@dataclass(frozen=True, kw_only=True)
class Regulator(Moded):
    """Holds `out` at volt above `earth` up to limit_a; takes no current back. Modes: 0 on, 1 at its limit, 2 blocked.

    Faults regulator-low, -high, -dead by its name; the same fault may drive a rail that shares its reference.
    """

    out: str
    earth: str
    volt: Value | Asked
    ohm: float
    limit_a: float
    on: Asked = lambda here: here.key_on
    drift_span: tuple[float, float] = (0.001, 0.3)

    def faults(self) -> Iterator[Fault]:
        if self.healthy:
            return
        yield self.drifted("low", "low", grows=self.drift_span)
        yield self.drifted("high", "high", grows=self.drift_span)
        yield self.fault("dead", "dead")

    def stamp(self, net: Stack, here: Here) -> None:
        alive = bool(asked(self.on, here)) and not here.has(f"{self.name}-dead")
        mode = self.mode(here)
        net.source(self.out, self.earth, volt=asked(self.volt, here), ohm=self.ohm, on=(mode == 0) * float(alive))
        net.current(self.earth, self.out, self.limit_a * (mode == 1) * float(alive))
        net.conductance(self.out, self.earth, BLEED_S if alive else 0.0)  # in every mode, so that blocking is no step

    def follows(self, solution: StackSolution, here: Here) -> np.ndarray:
        mode, wanted = self.mode(here), np.broadcast_to(asked(self.volt, here), here.count)
        volt = solution.volt(self.out, self.earth)
        ampere = (wanted - volt) / self.ohm
        from_on = np.where(ampere > self.limit_a, 1, np.where(ampere < -1e-6, 2, 0))
        from_limit = np.where(volt <= wanted, 1, 0)
        from_blocked = np.where(volt > wanted, 2, 0)
        return np.choose(mode, [from_on, from_limit, from_blocked])


@dataclass(frozen=True, kw_only=True)
class Diode(Moded):
    """Conducts from anode to cathode above drop_v. Modes: 0 blocking, 1 conducting. Faults: open, short."""

    anode: str
    cathode: str
    drop_v: float = 0.7
    ohm: float = 0.05

    def faults(self) -> Iterator[Fault]:
        if not self.healthy:
            yield self.fault("open", "open")
            yield self.fault("short", "shorted")

    def stamp(self, net: Stack, here: Here) -> None:
        if here.has(f"{self.name}-short"):
            net.resistor(self.anode, self.cathode, 0.05)
            return
        on = (self.mode(here) == 1) * (0.0 if here.has(f"{self.name}-open") else 1.0)
        net.source(self.anode, self.cathode, volt=self.drop_v, ohm=self.ohm, on=on)
        net.conductance(self.anode, self.cathode, 1e-9)

    def follows(self, solution: StackSolution, here: Here) -> np.ndarray:
        return np.where(solution.volt(self.anode, self.cathode) > self.drop_v, 1, 0)


@dataclass(frozen=True, kw_only=True)
class Relay(Moded):
    """A coil that closes a contact. Modes: 0 released, 1 pulled in (above pull_in_v, held down to drop_out_v).

    item: bench item of the sheet with in / pulled / bridged; pulled takes coil and contact away, bridged joins the
    contact's sockets. Faults: coil-open, coil-short, stuck-open, stuck-closed, contact-resistance.
    """

    coil_a: str
    coil_b: str
    contact_a: str
    contact_b: str
    coil_ohm: float
    item: str
    pull_in_v: float = 8.0
    drop_out_v: float = 3.0
    contact_ohm: float = 0.005
    spans: tuple[float, float] = (0.01, 100)

    def faults(self) -> Iterator[Fault]:
        if self.healthy:
            return
        for what, says in (
            ("coil-open", "coil open"),
            ("coil-short", "coil shorted"),
            ("stuck-open", "contact never closes"),
            ("stuck-closed", "contact never opens"),
        ):
            yield self.fault(what, says)
        yield self.fault("contact-resistance", "contact has resistance", grows=self.spans)

    def stamp(self, net: Stack, here: Here) -> None:
        place = here.at(self.item)
        if place != "in":
            net.conductance(self.coil_a, self.coil_b, 0.0)
            net.conductance(self.contact_a, self.contact_b, 1 / 0.005 if place == "bridged" else 0.0)
            return
        ohm = 1e12 if here.has(f"{self.name}-coil-open") else 2.0 if here.has(f"{self.name}-coil-short") else None
        net.resistor(self.coil_a, self.coil_b, ohm or self.coil_ohm * (1 + 0.1 * here.share(self.name)))
        closed = (self.mode(here) == 1).astype(float)
        if here.has(f"{self.name}-stuck-open"):
            closed = np.zeros(here.count)
        elif here.has(f"{self.name}-stuck-closed"):
            closed = np.ones(here.count)
        net.conductance(
            self.contact_a,
            self.contact_b,
            closed / (self.contact_ohm + here.grown(f"{self.name}-contact-resistance")),
        )

    def follows(self, solution: StackSolution, here: Here) -> np.ndarray:
        across = np.abs(solution.volt(self.coil_a, self.coil_b))
        works = not (here.has(f"{self.name}-coil-open") or here.has(f"{self.name}-coil-short"))
        level = np.where(self.mode(here) == 1, self.drop_out_v, self.pull_in_v)
        return ((across > level) & works & (here.at(self.item) == "in")).astype(int)


@dataclass(frozen=True, kw_only=True)
class Ratiometric(Moded):
    """A chip whose output is a share of its supply. Modes: 0 off, 1 sourcing, 2 sinking, 3 most, 4 least.

    share: asked. drift is in shares of the supply. Faults: dead, shorted, drift-high, drift-low.
    """

    supply: str
    out: str
    ground: str
    share: Asked
    supply_ohm: float
    output_ohm: float
    low_share: float = 0.03
    high_share: float = 0.97
    sink_ohm: float | None = None  # of an output without power; None when it floats
    runs_above_v: float = 3.0
    limit_a: float = 0.008
    tolerance: float = 0.0
    drift_span: tuple[float, float] = (0.002, 0.5)
    start: int = 1

    def faults(self) -> Iterator[Fault]:
        if self.healthy:
            return
        yield self.fault("dead", "dead")
        yield self.fault("shorted", "shorts its supply")
        yield from self.drifts(self.drift_span)

    def share_here(self, here: Here) -> np.ndarray:
        share = asked(self.share, here) + self.tolerance * here.share(self.name) + self.drift(here)
        return np.clip(np.broadcast_to(share, here.count), self.low_share, self.high_share)

    def stamp(self, net: Stack, here: Here) -> None:
        net.resistor(self.supply, self.ground, 2.0 if here.has(f"{self.name}-shorted") else self.supply_ohm)
        mode, share = self.mode(here), self.share_here(here)
        weights: dict[str, Value] = {self.supply: share, self.ground: 1 - share}
        for number, drain in ((1, self.supply), (2, self.ground)):
            net.controlled(self.out, drain, weights, siemens=(mode == number) / self.output_ohm)
        net.current(self.supply, self.out, self.limit_a * (mode == 3))
        net.current(self.out, self.ground, self.limit_a * (mode == 4))
        net.conductance(self.out, self.ground, (mode == 0) / self.sink_ohm if self.sink_ohm else 0.0)

    def follows(self, solution: StackSolution, here: Here) -> np.ndarray:
        mode, share = self.mode(here), self.share_here(here)
        across = solution.volt(self.supply, self.ground)
        ampere = (share * across - solution.volt(self.out, self.ground)) / self.output_ohm
        wanted = np.where(ampere >= 0, 1, 2)
        wanted = np.where(((mode == 1) | (mode == 2)) & (np.abs(ampere) < 1e-9), mode, wanted)
        wanted = np.where(np.abs(ampere) >= self.limit_a, np.where(ampere > 0, 3, 4), wanted)
        off = across < self.runs_above_v - np.where(mode == 0, 0, 0.02)
        return np.where(off | here.has(f"{self.name}-dead"), 0, wanted)
