"""Parts every circuit stands on: battery, engine cable, control unit with its ground, loads, starter, rail, five volts."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from flows.network.faults import Fault
from flows.network.here import Here
from flows.network.kinds import Kind, Resistance, Source
from flows.network.moded import Regulator
from flows.network.stacked import Stack
from flows.sheet import MachineSheet

ENGINE_CABLE_OHM = 0.0004
UNIT_CABLE_OHM = 0.008
UNIT_A = 0.8  # what the control unit itself takes with the key on
DISPLAY_V = 0.1  # digit of pin and battery volts on a data display; common practice, no source
WEAK_V = 0.7  # a weak battery: this much lower, and three times its resistance


@dataclass(frozen=True, kw_only=True)
class BatteryPart(Kind):
    """Nodes battery.positive and battery.negative, the reference."""

    where: str = "battery"

    def faults(self) -> Iterator[Fault]:
        if not self.healthy:
            yield Fault("battery-weak", "part", "battery weak", where="battery", size=WEAK_V)

    def stamp(self, net: Stack, here: Here) -> None:
        battery = here.sheet.battery
        weak = here.has("battery-weak")
        volt = 12.55 + 0.1 * here.share("battery") - (WEAK_V if weak else 0.0)
        volt = volt + (0.7 if battery.chemistry == "lifepo4" else 0.0)
        ohm = battery.internal_ohm * (3 if weak else 1)
        net.source("battery.positive", "battery.negative", volt=volt, ohm=ohm)


@dataclass(frozen=True, kw_only=True)
class Cable(Kind):
    """A ground cable that can only get bad: fault NAME-resistance."""

    a: str
    b: str
    ohm: float
    span: tuple[float, float] = (0.001, 10.0)

    def faults(self) -> Iterator[Fault]:
        if not self.healthy:
            yield self.fault("resistance", "bad", grows=self.span)

    def stamp(self, net: Stack, here: Here) -> None:
        net.resistor(self.a, self.b, self.ohm + here.grown(f"{self.name}-resistance"))


@dataclass(frozen=True, kw_only=True)
class Loads(Kind):
    """Key-on loads, starter and the control unit itself."""

    def stamp(self, net: Stack, here: Here) -> None:
        battery = here.sheet.battery
        on = float(here.key_on)
        net.conductance("battery.positive", "engine.block", on * max(battery.key_on_a - UNIT_A, 0.1) / 12.5)
        net.conductance("battery.positive", "earth", on * UNIT_A / 12.5)
        cranking = here.state.get("engine") == "cranking"
        net.conductance("battery.positive", "engine.block", float(cranking) * battery.cranking_a / 10.5)


def power(*, grounds: bool = True, battery: bool = True) -> tuple[Kind, ...]:
    """Battery, cables, loads. grounds and battery: whether these can be at fault in this circuit."""
    return (
        BatteryPart(name="battery", healthy=not battery),
        Cable(
            name="engine-ground",
            a="engine.block",
            b="battery.negative",
            ohm=ENGINE_CABLE_OHM,
            span=(0.001, 2.0),
            where="battery",
            healthy=not grounds,
        ),
        Cable(
            name="unit-ground",
            a="earth",
            b="engine.block",
            ohm=UNIT_CABLE_OHM,
            span=(0.005, 10.0),
            where="unit",
            healthy=not grounds,
        ),
        Loads(name="loads"),
    )


def shown_v(volt: Any) -> Any:
    """Volts [V] as a data display shows those of a pin behind a battery: to its digit, far coarser than a meter."""
    return np.round(np.asarray(volt, dtype=float) / DISPLAY_V) * DISPLAY_V


def rail_v(here: Here) -> Any:
    """The control unit's five volts here: rail and sensor supply share one reference, and its faults."""
    supply = here.sheet.supply
    drift = here.grown("regulator-high") - here.grown("regulator-low")
    return supply.nominal_v * (1 + supply.tolerance * here.share("supply")) * (1 + drift)


def rail() -> Source:
    """The rail inside the control unit, on which pulls and converter hang."""
    return Source(
        name="rail", plus="rail", minus="earth", volt=rail_v, ohm=0.1, on=lambda h: float(h.key_on), healthy=True
    )


def supply_pin(sheet: MachineSheet, out: str = "five", *, healthy: bool = False) -> tuple[Kind, ...]:
    """The sensor supply at node `out`: a regulator with a limit, other sensors on it. `five` when nobody probes it."""
    part = sheet.supply
    ohm, limit_a = max(part.output_ohm, 0.01), part.limit_ma / 1000
    return (
        Regulator(
            name="regulator",
            out=out,
            earth="earth",
            volt=rail_v,
            ohm=ohm,
            limit_a=limit_a,
            healthy=healthy,
            share_as="supply",
        ),
        Resistance(
            name="other-sensors",
            a=out,
            b="earth",
            ohm=lambda h: h.sheet.supply.nominal_v / max(h.sheet.supply.other_load_ma, 0.1) * 1000,
            healthy=True,
        ),
    )


def ground_pin(wire: str) -> Resistance:
    """The sensor ground pin inside the control unit."""
    return Resistance(name=f"{wire}-pin", a=f"pin.{wire}", b="earth", ohm=0.02, healthy=True)
