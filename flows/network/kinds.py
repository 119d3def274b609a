"""Kinds of parts that are straight lines: each says what it does to the network and which faults it can have."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from flows.network.faults import OPEN_OHM, SHORT_OHM, Fault
from flows.network.here import Here
from flows.network.stacked import Stack, Value

COPPER_PER_K = 0.00393  # at 20 degC, as IEC 60028
Asked = Callable[[Here], Any]  # a value that depends on state and engine


def asked(value: Any, here: Here) -> Any:
    """A value as it is here: a number stands for itself."""
    return value(here) if callable(value) else value


@dataclass(frozen=True, kw_only=True)
class Kind:
    """Any part. name: first word of its faults. where: place of the sheet it sits at. healthy: it has no faults.

    share_as: name of its share of the tolerance, where that is not its own: what has one reference shares it.
    """

    name: str
    where: str = "part"
    healthy: bool = False
    share_as: str = ""

    def stamp(self, net: Stack, here: Here) -> None:
        """Its share of the network. What is wrong it asks by has, grown, share: kept is what was asked (stamped.py)."""
        raise NotImplementedError

    def faults(self) -> Iterator[Fault]:
        """Faults of this part by rule."""
        yield from ()

    def fault(self, what: str, says: str, *, grows: tuple[float, float] | None = None, size: float = 0.0) -> Fault:
        """A fault of this part: `name-what`. grows: sizes to search for the least that counts."""
        return Fault(
            f"{self.name}-{what}",
            "part",
            f"{self.name} {says}",
            where=self.where,
            part=self.name,
            grows=grows,
            size=size,
        )

    def drifted(self, what: str, says: str, *, grows: tuple[float, float]) -> Fault:
        """A fault that takes the place of the part's healthy error."""
        return replace(self.fault(what, says, grows=grows), replaces=self.share_as or self.name)

    def drifts(self, span: tuple[float, float]) -> Iterator[Fault]:
        yield self.drifted("drift-high", "reads high", grows=span)
        yield self.drifted("drift-low", "reads low", grows=span)

    def drift(self, here: Here) -> np.ndarray:
        """How far it has drifted, with its sign."""
        return here.grown(f"{self.name}-drift-high") - here.grown(f"{self.name}-drift-low")

    def broken(self, here: Here, ohm: Value) -> Value:
        """Its resistance, open or shorted where that is the fault."""
        if here.has(f"{self.name}-open"):
            return OPEN_OHM
        return SHORT_OHM if here.has(f"{self.name}-short") else ohm


@dataclass(frozen=True, kw_only=True)
class Resistance(Kind):
    """A resistor, heater, coil or load. ohm: number or asked. tolerance: share. per_k: 0.00393 for copper."""

    a: str
    b: str
    ohm: Value | Asked
    tolerance: float = 0.0
    per_k: float = 0.0
    temperature_c: Asked = lambda here: here.air_c
    drift_span: tuple[float, float] | None = None  # share of its resistance; None: it does not drift
    can: tuple[str, ...] = ("open", "short")

    def faults(self) -> Iterator[Fault]:
        if self.healthy:
            return
        for what, says in (("open", "open"), ("short", "shorted")):
            if what in self.can:
                yield self.fault(what, says)
        if self.drift_span:
            yield from self.drifts(self.drift_span)

    def stamp(self, net: Stack, here: Here) -> None:
        ohm = asked(self.ohm, here) * (1 + self.tolerance * here.share(self.name))
        if self.per_k:
            ohm = ohm * (1 + self.per_k * (asked(self.temperature_c, here) - 20.0))
        drift = self.drift(here)
        ohm = ohm * (1 + np.maximum(drift, 0)) / (1 + np.maximum(-drift, 0))
        net.resistor(self.a, self.b, self.broken(here, ohm))


@dataclass(frozen=True, kw_only=True)
class ThermistorPart(Kind):
    """A thermistor between two nodes. curve_ohm: degC -> ohm. drift in kelvin: high reads warm, low reads cold."""

    a: str
    b: str
    curve_ohm: Callable[[float], float]
    tolerance_k: float
    temperature_c: Asked = lambda here: here.air_c

    def faults(self) -> Iterator[Fault]:
        if self.healthy:
            return
        yield self.fault("open", "open")
        yield self.fault("short", "shorted")
        yield from self.drifts((0.2, 60))

    def stamp(self, net: Stack, here: Here) -> None:
        celsius = asked(self.temperature_c, here) + self.tolerance_k * here.share(self.name) + self.drift(here)
        each = np.broadcast_to(celsius, here.count)
        ohm = here.crowd.once(
            (self.curve_ohm, each.tobytes()), lambda: np.array([self.curve_ohm(float(t)) for t in each])
        )
        net.resistor(self.a, self.b, 1.0 if here.has(f"{self.name}-short") else self.broken(here, ohm))


@dataclass(frozen=True, kw_only=True)
class Potentiometer(Kind):
    """A track from top to bottom with a wiper. share: asked, 0 at the bottom, 1 at the top.

    Faults: wiper open, track open, worn spot (opens while `moved_at` is moved), drift of the wiper, stuck at rest.
    """

    top: str
    wiper: str
    bottom: str
    ohm: float
    wiper_ohm: float
    share: Asked
    rest_share: float
    tolerance: float = 0.0  # of the wiper's share
    moved_at: str = "part"

    def faults(self) -> Iterator[Fault]:
        if self.healthy:
            return
        yield self.fault("wiper-open", "wiper open")
        yield self.fault("track-open", "track open")
        yield self.fault("stuck", "stuck at rest")
        yield from self.drifts((0.002, 0.6))
        worn = f"{self.name}-worn"
        yield Fault(worn, "intermittent", f"{self.name} track worn", where=self.moved_at, part=self.name)

    def stamp(self, net: Stack, here: Here) -> None:
        share = self.rest_share if here.has(f"{self.name}-stuck") else asked(self.share, here)
        share = share + self.tolerance * here.share(self.name) + self.drift(here)
        share = np.clip(share, 0.005, 0.995)
        tap = f"{self.name}.tap"
        upper = OPEN_OHM if here.has(f"{self.name}-track-open") else self.ohm * (1 - share)
        net.resistor(self.top, tap, upper)
        net.resistor(tap, self.bottom, self.ohm * share)
        lifted = here.has(f"{self.name}-wiper-open") or here.has(f"{self.name}-worn")
        net.resistor(tap, self.wiper, OPEN_OHM if lifted else self.wiper_ohm)


@dataclass(frozen=True, kw_only=True)
class Source(Kind):
    """A voltage with a resistance: an oxygen cell, a bias, a rail. volt, on and ac_volt may be asked.

    drift_span: sizes [share of volt] of the faults low and high; dead: it has the fault dead.
    """

    plus: str
    minus: str
    volt: Value | Asked
    ohm: Value | Asked
    on: Value | Asked = 1.0
    ac_volt: Value | Asked = 0.0
    tolerance: float = 0.0
    drift_span: tuple[float, float] | None = None
    can: tuple[str, ...] = ("dead",)

    def faults(self) -> Iterator[Fault]:
        if self.healthy:
            return
        if "dead" in self.can:
            yield self.fault("dead", "dead")
        if self.drift_span:
            yield self.drifted("low", "low", grows=self.drift_span)
            yield self.drifted("high", "high", grows=self.drift_span)

    def volt_here(self, here: Here) -> Value:
        drift = here.grown(f"{self.name}-high") - here.grown(f"{self.name}-low")
        return asked(self.volt, here) * (1 + self.tolerance * here.share(self.share_as or self.name)) * (1 + drift)

    def stamp(self, net: Stack, here: Here) -> None:
        on = 0.0 if here.has(f"{self.name}-dead") else asked(self.on, here)
        ac_volt, ohm = asked(self.ac_volt, here), asked(self.ohm, here)
        net.source(self.plus, self.minus, volt=self.volt_here(here), ohm=ohm, on=on, ac_volt=ac_volt)


@dataclass(frozen=True, kw_only=True)
class Generator(Kind):
    """An inductive pick-up: a copper coil that gives rpm times volts. hz_per_rpm: pulses a second for each.

    Faults: open, short, weak (air gap or lost magnet; share of its voltage that is lost).
    """

    a: str
    b: str
    ohm_20c: float
    tolerance: float
    volt_per_rpm: float
    hz_per_rpm: float

    def faults(self) -> Iterator[Fault]:
        if self.healthy:
            return
        yield self.fault("open", "open")
        yield self.fault("short", "shorted")
        yield self.fault("weak", "gives too little", grows=(0.02, 0.98))

    def stamp(self, net: Stack, here: Here) -> None:
        ohm = self.ohm_20c * (1 + self.tolerance * here.share(self.name)) * (1 + COPPER_PER_K * (here.air_c - 20))
        volt = self.volt_per_rpm * here.rpm * (1 - np.minimum(here.grown(f"{self.name}-weak"), 0.99))
        shorted = here.has(f"{self.name}-short")
        net.source(self.a, self.b, volt=0.0, ohm=self.broken(here, ohm), ac_volt=0.0 if shorted else volt)


@dataclass(frozen=True, kw_only=True)
class Contact(Kind):
    """A switch, fuse, output stage or open collector. closed: asked, 0..1 (between: the share of time it is closed).

    can: of open (never closes), closed (never opens), resistance. A closed of `lambda h: ...` may look at h.phase.
    """

    a: str
    b: str
    closed: Asked
    ohm: float = 0.02
    off_ohm: float = 1e9
    can: tuple[str, ...] = ("stuck-open", "stuck-closed")
    spans: tuple[float, float] = (0.01, 1e4)

    def faults(self) -> Iterator[Fault]:
        if self.healthy:
            return
        says = {"stuck-open": "never closes", "stuck-closed": "never opens", "blown": "blown", "dead": "dead"}
        for what in self.can:
            if what == "resistance":
                yield self.fault("resistance", "has resistance", grows=self.spans)
            else:
                yield self.fault(what, says[what])

    def stamp(self, net: Stack, here: Here) -> None:
        closed = np.broadcast_to(np.asarray(asked(self.closed, here), dtype=float), here.count)
        if any(here.has(f"{self.name}-{what}") for what in ("stuck-open", "blown", "dead")):
            closed = np.zeros(here.count)
        elif here.has(f"{self.name}-stuck-closed"):
            closed = np.ones(here.count)
        ohm = self.ohm + here.grown(f"{self.name}-resistance")
        net.resistor(self.a, self.b, np.where(closed > 0.5, ohm, self.off_ohm))


@dataclass(frozen=True, kw_only=True)
class Leak(Kind):
    """A load that should not be there: nothing until its fault, then amperes at 12.5 V (sizes to search in `span`)."""

    a: str
    b: str
    span: tuple[float, float] = (0.001, 5.0)
    off: Asked = field(default=lambda here: False)  # where a pulled fuse takes it off

    def faults(self) -> Iterator[Fault]:
        yield self.fault("draws", "draws current", grows=self.span)

    def stamp(self, net: Stack, here: Here) -> None:
        ampere = here.grown(f"{self.name}-draws") * (0.0 if self.off(here) else 1.0)
        net.conductance(self.a, self.b, ampere / 12.5)
