"""The main relay: pulled in by the key, it feeds the control unit through one fuse; the unit's own ground belongs to it.

Its coil goes to ground on the engine, as the TH-2 has it, or is driven by the control unit.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from flows.network.description import Description, End, Run, Sees
from flows.network.faults import OPEN_OHM
from flows.network.here import Here
from flows.network.kinds import Contact, Kind, Resistance
from flows.network.power import ENGINE_CABLE_OHM, BatteryPart, Cable, shown_v
from flows.network.socketed import APART_OHM, SocketRelay, bridge
from flows.network.stacked import Stack, StackSolution, Value
from flows.sensors import CoilSensor, ValuesPart
from flows.sheet import MachineSheet, Pin

CIRCUIT = "main-relay"
FUSE_OHM = 0.004
FED_BY = "pin.main-feed"
DRIVER_OHM = 0.1


def describe(sheet: MachineSheet) -> Description:
    """The circuit of this sheet. A wire on ground has blown its fuse by the time anybody measures."""
    coil, unit = sheet.sensors["main-relay"], sheet.sensors["main"]
    assert isinstance(coil, CoilSensor) and isinstance(unit, ValuesPart)
    relay, dead_v = sheet.item_of("main_relay_plug"), unit.values["dead_below_v"]
    bridged = {relay: "out", "main_bridge": "fitted"}

    def shown(solution: StackSolution, here: Here) -> Value:
        volt = solution.volt(FED_BY, "earth")
        return shown_v(volt * (volt > dead_v))  # a unit that is not fed does not answer

    return Description(
        name=CIRCUIT,
        sheet=sheet,
        runs=_runs(sheet),
        parts=(
            BatteryPart(name="battery"),
            Cable(name="engine-ground", a="engine.block", b="battery.negative", ohm=ENGINE_CABLE_OHM, where="battery"),
            *_switching(coil),
            *_driver(sheet),
            Fed(name="unit", ampere=unit.values["unit_a"], share=unit.values["unit_share"]),
        ),
        sees=(Sees(plus=FED_BY, minus="earth", share=0.1),),
        displays={"main": shown},
        clamps={"clamp.main": "main-feed"},
        states=(
            bridged,
            {**bridged, "moving": "harness"},
            {relay: "out", "jumper": "main-coil-load", "moving": "harness"},
        ),
        points=("key_fuse.load",),
        # a shorted coil blows the key fuse: that is the fault found, and its finding says to read the coil
        without=("relay-coil-short",),
    )


def _runs(sheet: MachineSheet) -> tuple[Run, ...]:
    relay, unit = sheet.item_of("main_relay_plug"), sheet.item_of("unit")

    def socket(wire: str) -> End:
        return End(place="main_relay_plug", inside=f"main_relay_sensor.{wire}", item=relay, tag="relay")

    def bolt() -> End:
        return End(place="engine", inside="engine.block", tag="bolt", contact=False)  # loose it has resistance

    return (
        Run(
            wire="main-supply",
            ends=(socket("main-supply"), End(place="main_fuse", inside="fuse.main", tag="fuse")),
            role="feed",
        ),
        Run(
            wire="main-feed",
            ends=(End(place="unit", inside=FED_BY, item=unit, tag="unit"), socket("main-feed")),
            role="feed",
        ),
        Run(
            wire="main-key",
            ends=(socket("main-key"), End(place="key_switch", inside="key.out", tag="switch")),
            role="feed",
        ),
        # on ground, a driven coil is pulled in by the key all the same
        Run(wire="main-ground", ends=(socket("main-ground"), _pulled_by(sheet) or bolt()), role="feed", shorts=()),
        Run(
            wire="main-earth",
            ends=(End(place="unit", inside="earth", item=unit, tag="unit"), bolt()),
            role="feed",  # a power ground: what it loses, the unit misses
            shorts=(),
        ),
    )


def _pulled_by(sheet: MachineSheet) -> End | None:
    """The control unit's end of the coil's ground wire, where it drives the coil."""
    if "unit" not in sheet.wires["main-ground"].pins:
        return None
    return End(place="unit", inside="pin.main-ground", item=sheet.item_of("unit"), tag="unit")


def _driver(sheet: MachineSheet) -> tuple[Kind, ...]:
    """What pulls a driven coil down. It is fed by the key, so it works before the relay does."""
    if _pulled_by(sheet) is None:
        return ()
    return (
        Contact(
            name="coil-driver",
            a="pin.main-ground",
            b="earth",
            closed=lambda here: float(here.key_on),
            ohm=DRIVER_OHM,
            can=("stuck-open",),  # closed for good, the key still takes the coil's feed away
            where="unit",
        ),
    )


def _switching(coil: CoilSensor) -> tuple[Kind, ...]:
    """Both fuses, key switch, relay and bridge."""
    return (
        Contact(
            name="fuse",
            a="battery.positive",
            b="fuse.main",
            closed=_fuse_holds,
            ohm=FUSE_OHM,
            off_ohm=APART_OHM,
            can=("blown",),
        ),
        Contact(
            name="key-fuse",
            a="battery.positive",
            b="key_fuse.load",
            closed=lambda here: float(not here.has("main-key-short-to-ground")),
            ohm=FUSE_OHM,
            off_ohm=APART_OHM,
            can=("blown",),
        ),
        Contact(
            name="key-switch",
            a="key_fuse.load",
            b="key.out",
            closed=lambda here: float(here.key_on),
            off_ohm=OPEN_OHM,
            can=("stuck-open",),
            where="key_switch",
        ),
        SocketRelay(
            name="relay",
            where="main_relay_plug",
            coil_a="main_relay_sensor.main-key",
            coil_b="main_relay_sensor.main-ground",
            contact_a="main_relay_sensor.main-supply",
            contact_b="main_relay_sensor.main-feed",
            coil_ohm=coil.ohm_20c,
        ),
        bridge(("main-supply", "main-feed"), place="main_relay_plug", item="main_bridge"),
        Resistance(name="case", a="earth", b="engine.block", ohm=1e9, healthy=True),
    )


@dataclass(frozen=True, kw_only=True)
class Fed(Kind):
    """The control unit as a load on its feed, and what else is on with the key."""

    ampere: float
    share: float
    healthy: bool = True

    def stamp(self, net: Stack, here: Here) -> None:
        net.resistor(FED_BY, "earth", 12.5 / (self.ampere * (1 + self.share * here.share(self.name))))
        others = float(here.key_on) * (here.sheet.battery.key_on_a - self.ampere)
        net.conductance("battery.positive", "engine.block", others / 12.5)
        cranking = float(here.state.get("engine") == "cranking")
        net.conductance("battery.positive", "engine.block", cranking * here.sheet.battery.cranking_a / 10.5)


def _fuse_holds(here: Here) -> float:
    blown = here.has("main-supply-short-to-ground") or here.has("main-feed-short-to-ground")
    return float(here.at("main_fuse_link") == "in" and not blown)


def variants(sheet: MachineSheet) -> Iterator[tuple[str, MachineSheet]]:
    """The coil grounded on the engine, as the TH-2 has it, and a coil that the control unit drives."""
    yield "grounded coil", sheet
    wire = sheet.wires["main-ground"]
    pins = {**wire.pins, "unit": Pin(pin="35", position="sixth row, fourth from left")}
    wires = {**sheet.wires, "main-ground": wire.model_copy(update={"pins": pins, "length_m": 1.3})}
    # constructed anew: a copy would keep the points that were worked out for the other sheet
    yield "driven coil", MachineSheet.model_construct(**{**dict(sheet), "wires": wires})
