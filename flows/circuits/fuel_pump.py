"""The fuel pump: an always live fuse, a relay the control unit pulls in, the pump, and its ground."""

from collections.abc import Iterator
from dataclasses import dataclass

from flows.network.description import Description, End, Monitor, Run, Sees
from flows.network.faults import OPEN_OHM, Fault
from flows.network.here import Here
from flows.network.kinds import Contact, Kind, Resistance
from flows.network.power import power, shown_v
from flows.network.socketed import APART_OHM, SocketRelay, bridge
from flows.network.stacked import Stack, Value
from flows.sensors import CoilSensor
from flows.sheet import MachineSheet

CIRCUIT = "fuel-pump"
TEST = {"pump_test": "running"}
FUSE_OHM = 0.004
WATCH_OHM = 47e3  # through which the control unit watches its pin; invented
DRIVER_OHM = 0.5
BLOCKED = 0.3  # share of its ohms that a pump has which does not turn; invented
BLOWS = ("pump-supply-short-to-ground", "pump-feed-short-to-ground")
LIVE = "pump_relay_plug.live"


def describe(sheet: MachineSheet) -> Description:
    """The circuit of this sheet. A wire on ground has blown the fuse by the time anybody measures."""
    relay = sheet.item_of("pump_relay_plug")
    return Description(
        name=CIRCUIT,
        sheet=sheet,
        runs=_runs(sheet),
        parts=(*power(), *_switching(sheet), *_control(sheet)),
        # a tenth less across the pump: the pressure sags under load
        sees=(Sees(plus="pump_sensor.pump-feed", minus="pump_sensor.pump-ground", share=0.1, state=TEST),),
        monitors=(
            Monitor(code="P0230", plus="pin.pump-control", minus="earth", below=2.0),
            Monitor(code="P0230", plus="pin.pump-control", minus="earth", above=4.0, state=TEST),
        ),
        displays={"pump": lambda solution, here: shown_v(solution.volt("pin.pump-control", "earth"))},
        clamps={"clamp.pump": "pump-feed"},
        states=(
            TEST,
            {relay: "out", "pump_bridge": "fitted"},
            {relay: "out", "pump_bridge": "fitted", "moving": "harness"},
            {**TEST, relay: "out", "jumper": "pump-coil-load"},
            *({**TEST, "moving": place} for place in ("harness", "pump_plug", "pump_relay_plug", "pump_fuse", "unit")),
        ),
        points=(LIVE,),
        # with so much of it that the relay drops out, the control unit does not run at all
        without=("unit-ground-resistance",),
    )


def _runs(sheet: MachineSheet) -> tuple[Run, ...]:
    relay, plug = sheet.item_of("pump_relay_plug"), sheet.item_of("pump_plug")

    def socket(wire: str) -> End:
        return End(place="pump_relay_plug", inside=f"pump_relay_sensor.{wire}", item=relay, tag="relay")

    return (
        Run(
            wire="pump-supply",
            ends=(socket("pump-supply"), End(place="pump_fuse", inside="fuse.pump", tag="fuse")),
            role="feed",
        ),
        Run(
            wire="pump-feed",
            ends=(End(place="pump_plug", inside="pump_sensor.pump-feed", item=plug), socket("pump-feed")),
            role="feed",
        ),
        Run(
            wire="pump-ground",
            ends=(
                End(place="pump_plug", inside="pump_sensor.pump-ground", item=plug),
                # bolted: loose there it has resistance
                End(place="engine", inside="engine.block", tag="bolt", contact=False),
            ),
            role="feed",  # a power ground: what it loses shows at the pump
            shorts=(),
        ),
        Run(
            wire="pump-control",
            ends=(
                socket("pump-control"),
                End(place="unit", inside="pin.pump-control", item=sheet.item_of("unit"), tag="unit"),
            ),
            role="drive",
        ),
    )


def _switching(sheet: MachineSheet) -> tuple[Kind, ...]:
    """Fuse, relay, bridge and pump: what carries the pump's current."""
    coil, pump = sheet.sensors["pump-relay"], sheet.sensors["pump"]
    assert isinstance(coil, CoilSensor) and isinstance(pump, CoilSensor)
    return (
        Contact(
            name="fuse",
            a="battery.positive",
            b="fuse.pump",
            closed=_fuse_holds,
            ohm=FUSE_OHM,
            off_ohm=APART_OHM,
            can=("blown",),
        ),
        SocketRelay(
            name="relay",
            where="pump_relay_plug",
            coil_a="pump_relay_sensor.live",
            coil_b="pump_relay_sensor.pump-control",
            contact_a="pump_relay_sensor.pump-supply",
            contact_b="pump_relay_sensor.pump-feed",
            coil_ohm=coil.ohm_20c,
        ),
        bridge(("pump-supply", "pump-feed"), place="pump_relay_plug", item="pump_bridge"),
        Pump(name="pump", ohm=pump.ohm_20c, tolerance=pump.tolerance),
    )


def _control(sheet: MachineSheet) -> tuple[Kind, ...]:
    """The coil's feed, which another circuit answers for, its contact in the socket, driver and watch."""
    relay = sheet.item_of("pump_relay_plug")
    return (
        Contact(name="main", a="battery.positive", b=LIVE, closed=lambda here: float(here.key_on), healthy=True),
        Contact(
            name="eighty-six",
            a=LIVE,
            b="pump_relay_sensor.live",
            closed=lambda here: here.at(relay) == "in",
            ohm=0.005,
            off_ohm=OPEN_OHM,
            healthy=True,
        ),
        Contact(name="driver", a="pin.pump-control", b="earth", closed=_pulls, ohm=DRIVER_OHM, where="unit"),
        Resistance(name="watch", a="pin.pump-control", b="earth", ohm=WATCH_OHM, healthy=True),
    )


@dataclass(frozen=True, kw_only=True)
class Pump(Kind):
    """The pump's motor as it turns. Faults: open (brushes), blocked (it stands, and draws far too much)."""

    ohm: float
    tolerance: float
    where: str = "pump_sensor"

    def faults(self) -> Iterator[Fault]:
        yield self.fault("open", "motor open")
        yield self.fault("blocked", "does not turn")

    def stamp(self, net: Stack, here: Here) -> None:
        ohm: Value = self.ohm * (1 + self.tolerance * here.share(self.name))
        if here.has("pump-blocked"):
            ohm = ohm * BLOCKED
        net.resistor("pump_sensor.pump-feed", "pump_sensor.pump-ground", OPEN_OHM if here.has("pump-open") else ohm)


def _pulls(here: Here) -> float:
    """The control unit holds the relay while the engine turns, and during the test on the data display."""
    return float(here.key_on and (here.turning or here.at("pump_test") == "running"))


def _fuse_holds(here: Here) -> float:
    blown = any(here.has(fault) for fault in BLOWS)
    return float(here.at("pump_fuse_link") == "in" and not blown)
