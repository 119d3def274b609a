"""Charging: battery, magnet alternator, regulator, fuse and ground; little at idle, all of it with the engine fast."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from flows.network.description import Description, End, Monitor, Run, Sees
from flows.network.faults import SHORT_OHM, Fault
from flows.network.here import Here
from flows.network.kinds import Contact, Kind
from flows.network.moded import Moded
from flows.network.power import ENGINE_CABLE_OHM, UNIT_CABLE_OHM, WEAK_V, Cable, Loads
from flows.network.stacked import Stack, StackSolution
from flows.sensors import CoilSensor, ValuesPart
from flows.sheet import MachineSheet

CIRCUIT = "charging"
PLUG = "regulator_plug"
CHARGING_OHM = 0.3  # a charged lead battery takes little: volts above its own, divided by this
LITHIUM_OHM = 0.15  # a lithium battery takes more
SET_OHM = 0.005
GROUNDED_SHARE = 0.2  # of the current, with the winding on ground
DIODE_SHARE = 0.5  # of the current, with a diode gone
RIPPLE_V = 0.15  # root mean square; with a diode gone:
DIODE_RIPPLE_V = 1.3
FAST = {"engine": "fast"}


def describe(sheet: MachineSheet) -> Description:
    """The circuit of this sheet."""
    coil = sheet.sensors["stator"]
    assert isinstance(coil, CoilSensor)
    item = sheet.item_of(PLUG)
    feed = Run(
        wire="charge-feed",
        ends=(
            End(place=PLUG, inside="regulator.charge-feed", item=item, tag="plug"),
            End(place="charge_fuse", inside="fuse.charge", tag="fuse"),
        ),
        role="feed",
        shorts=(),  # on ground it blows the fuse: that is the fault found, and its finding says to look for the short
    )
    ground = Run(
        wire="charge-ground",
        ends=(
            End(place=PLUG, inside="regulator.charge-ground", item=item, tag="plug"),
            End(place="engine", inside="engine.block", tag="engine", contact=False),
        ),
        role="feed",  # a power ground: what it may lose is said below
        shorts=(),
    )
    return Description(
        name=CIRCUIT,
        sheet=sheet,
        runs=(feed, ground, _lead("a", item), _lead("b", item)),
        parts=(
            ChargedBattery(name="battery"),
            Cable(name="engine-ground", a="engine.block", b="battery.negative", ohm=ENGINE_CABLE_OHM, span=(0.001, 2)),
            Cable(name="unit-ground", a="earth", b="engine.block", ohm=UNIT_CABLE_OHM, healthy=True),
            Loads(name="loads"),
            _fuse(),
            Stator(name="stator", coil=coil),
            Charger(name="regulator"),
        ),
        sees=(
            Sees(plus=f"{PLUG}.charge-feed", minus="battery.positive", volt=0.15, state=FAST),
            Sees(plus=f"{PLUG}.charge-ground", minus="battery.negative", volt=0.1, state=FAST),
        ),
        monitors=(
            Monitor(code="P0562", plus="battery.positive", minus="earth", below=13.3, state=FAST),
            Monitor(code="P0563", plus="battery.positive", minus="earth", above=15.2, state=FAST),
        ),
        displays={"speed": lambda solution, here: here.rpm},
        without=_without(sheet),
        states=(
            {"engine": "cranking"},
            {"engine": "idle"},
            FAST,
            {**FAST, item: "out"},
            *({"engine": "idle", "moving": place} for place in ("harness", PLUG, "charge_fuse")),
        ),
    )


def _fuse() -> Contact:
    return Contact(
        name="charge-fuse",
        a="fuse.charge",
        b="battery.positive",
        closed=lambda here: 1.0,
        ohm=0.002,
        off_ohm=1e12,
        can=("blown",),
    )


def _without(sheet: MachineSheet) -> tuple[str, ...]:
    """Leads that touch are a shorted winding. A lithium battery stands as high as a low regulator: that is a dead one."""
    low = ("regulator-low",) if sheet.battery.chemistry == "lifepo4" else ()
    return ("stator-a-short-to-stator-b-wire", *low)


def _lead(side: str, item: str) -> Run:
    """A lead of the stator: what can go wrong with it is a fault of the stator, since it ends inside."""
    ends = (
        End(place="stator", inside=f"winding.{side}", contact=False),
        End(place=PLUG, inside=f"regulator.stator-{side}", item=item, contact=False),
    )
    return Run(wire=f"stator-{side}", ends=ends, role="drive", shorts=(), kinds=())


def _values(here: Here) -> dict[str, float]:
    part = here.sheet.sensors["charging"]
    assert isinstance(part, ValuesPart)
    return part.values


@dataclass(frozen=True, kw_only=True)
class ChargedBattery(Moded):
    """Gives current through its small resistance, takes it through a larger one. Modes: 0 gives, 1 takes."""

    where: str = "battery"

    def faults(self) -> Iterator[Fault]:
        yield Fault("battery-weak", "part", "battery weak", where="battery", size=WEAK_V)

    def volt(self, here: Here) -> np.ndarray:
        """Its own voltage, as flows/network/power.py has it."""
        weak = WEAK_V if here.has("battery-weak") else 0.0
        lithium = 0.7 if here.sheet.battery.chemistry == "lifepo4" else 0.0
        return 12.55 + 0.1 * here.share("battery") - weak + lithium

    def stamp(self, net: Stack, here: Here) -> None:
        takes = LITHIUM_OHM if here.sheet.battery.chemistry == "lifepo4" else CHARGING_OHM
        ohm = np.where(self.mode(here) == 1, takes, here.sheet.battery.internal_ohm)
        times = 3 if here.has("battery-weak") else 1
        net.source("battery.positive", "battery.negative", volt=self.volt(here), ohm=ohm * times)

    def follows(self, solution: StackSolution, here: Here) -> np.ndarray:
        return np.where(solution.volt("battery.positive", "battery.negative") > self.volt(here) + 1e-9, 1, 0)


@dataclass(frozen=True, kw_only=True)
class Stator(Kind):
    """The winding: alternating volts by speed. Faults: open, short, on ground, weak magnets."""

    coil: CoilSensor
    where: str = "stator"

    def faults(self) -> Iterator[Fault]:
        yield self.fault("open", "winding open")
        yield self.fault("short", "winding shorted")
        yield self.fault("grounded", "winding on ground")
        yield self.fault("weak", "magnets weak", size=0.6)

    def stamp(self, net: Stack, here: Here) -> None:
        ohm = self.coil.ohm_20c * (1 + self.coil.tolerance * here.share(self.name))
        ohm = ohm * (1 + self.coil.per_k * (here.air_c - 20))
        volt = _values(here)["stator_v_per_rpm"] * here.rpm * (1 + 0.08 * here.share("magnets"))
        volt = volt * (1 - here.grown("stator-weak")) * (0.1 if here.has("stator-short") else 1.0)
        net.source("winding.a", "winding.b", volt=0.0, ohm=self.broken(here, ohm), ac_volt=volt)
        if here.has("stator-grounded"):
            net.resistor("winding.a", "engine.block", SHORT_OHM)


@dataclass(frozen=True, kw_only=True)
class Charger(Moded):
    """Regulator with its rectifier: holds its volts up to the current that speed allows. Modes: 0 holds, 1 limit, 2 blocked."""

    out: str = "regulator.charge-feed"
    ground: str = "regulator.charge-ground"
    where: str = PLUG

    def faults(self) -> Iterator[Fault]:
        yield self.fault("dead", "dead")
        yield self.fault("low", "holds too low a voltage", size=1.3)
        yield self.fault("high", "holds too high a voltage", size=2.0)
        yield self.fault("diode", "has lost a diode")

    def volt(self, here: Here) -> np.ndarray:
        values = _values(here)
        held = values["set_v"] * (1 + values["set_share"] * here.share("regulator"))
        return held - here.grown("regulator-low") + here.grown("regulator-high")

    def limit_a(self, here: Here) -> np.ndarray:
        """Current [A] at this speed: a straight line through what the sheet says of idle and fast."""
        values, engine = _values(here), here.sheet.engine
        slope = (values["fast_a"] - values["idle_a"]) / (engine.fast_rpm - engine.idle_rpm)
        rpm = here.rpm * (1 - here.grown("stator-weak"))
        ampere = np.maximum(values["idle_a"] + slope * (rpm - engine.idle_rpm), 0.0)
        if any(here.has(name) for name in ("regulator-dead", "stator-open", "stator-short")):
            return ampere * 0.0
        share = DIODE_SHARE if here.has("regulator-diode") else 1.0
        return ampere * (GROUNDED_SHARE if here.has("stator-grounded") else share)

    def alive(self, here: Here) -> np.ndarray:
        unplugged = here.at(here.sheet.item_of(PLUG)) == "out"
        return (self.limit_a(here) > 0.1) & (here.rpm > here.sheet.engine.cranking_rpm) & (not unplugged)

    def stamp(self, net: Stack, here: Here) -> None:
        alive, mode = self.alive(here).astype(float), self.mode(here)
        ripple_v = DIODE_RIPPLE_V if here.has("regulator-diode") else RIPPLE_V
        holds = (mode == 0) * alive
        net.source(self.out, self.ground, volt=self.volt(here), ohm=SET_OHM, on=holds, ac_volt=ripple_v)
        net.current(self.ground, self.out, self.limit_a(here) * (mode == 1) * alive)
        net.conductance(self.out, self.ground, 1e-5)
        net.alternating(self.ground, self.out, ripple_v / CHARGING_OHM * (mode == 1) * alive)

    def follows(self, solution: StackSolution, here: Here) -> np.ndarray:
        mode, wanted = self.mode(here), self.volt(here)
        volt = solution.volt(self.out, self.ground)
        ampere = (wanted - volt) / SET_OHM
        from_on = np.where(ampere > self.limit_a(here), 1, np.where(ampere < -1e-6, 2, 0))
        from_limit = np.where(volt <= wanted, 1, 0)
        from_blocked = np.where(volt > wanted, 2, 0)
        return np.choose(mode, [from_on, from_limit, from_blocked])


def variants(sheet: MachineSheet) -> Iterator[tuple[str, MachineSheet]]:
    """The chemistries a starting battery may have; flooded as the TH-2 has it."""
    for chemistry in ("flooded", "agm", "lifepo4"):
        yield chemistry, sheet.model_copy(update={"battery": sheet.battery.model_copy(update={"chemistry": chemistry})})
