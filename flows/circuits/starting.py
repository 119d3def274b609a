"""Starter and engine ground: two heavy cables with their clamps, solenoid, motor, and the start wire that pulls it in."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from flows.network.description import Description, End, Monitor, Role, Run, Sees
from flows.network.faults import OPEN_OHM, Fault
from flows.network.here import Here
from flows.network.kinds import Contact, Kind
from flows.network.moded import Relay
from flows.network.power import UNIT_A, UNIT_CABLE_OHM, BatteryPart, Cable
from flows.network.stacked import Stack, StackSolution, Value
from flows.sensors import CoilSensor
from flows.sheet import MachineSheet

CIRCUIT = "starter-and-ground"
CRANKING = {"engine": "cranking"}
CLAMP_OHM = 0.0001
SPAN = (0.0001, 1.0)
MOTOR_V = 10.5  # at which the sheet's cranking current flows
DRAGS_OHM = 0.014  # a motor that is stuck or shorted


def describe(sheet: MachineSheet) -> Description:
    """The circuit of this sheet."""
    coil = sheet.sensors["solenoid"]
    assert isinstance(coil, CoilSensor)
    return Description(
        name=CIRCUIT,
        sheet=sheet,
        runs=(*_cables(), *_start_wires(sheet)),
        parts=(
            BatteryPart(name="battery"),
            Cable(name="positive-clamp", a="battery.positive", b="clamps.starter-cable", ohm=CLAMP_OHM, span=SPAN),
            Cable(name="negative-clamp", a="clamps.engine-cable", b="battery.negative", ohm=CLAMP_OHM, span=SPAN),
            Cable(name="eyelet", a="engine.block", b="eyelet.engine-cable", ohm=CLAMP_OHM / 2, span=SPAN),
            Cable(name="starter-mount", a="starter.body", b="engine.block", ohm=CLAMP_OHM / 2, span=SPAN),
            Cable(name="unit-ground", a="earth", b="engine.block", ohm=UNIT_CABLE_OHM, healthy=True),
            KeyOnLoads(name="loads"),
            *_switching(coil),
            Motor(name="starter"),
        ),
        sees=(
            Sees(plus="battery.positive", minus="starter.starter-cable", volt=0.2, state=CRANKING),
            Sees(plus="starter.starter-cable", minus="starter.motor", volt=0.2, state=CRANKING),
            Sees(plus="starter.body", minus="battery.negative", volt=0.1, state=CRANKING),
            Sees(plus="start_plug.start-signal", minus="engine.block", volt=1.5, state=CRANKING),
        ),
        monitors=(Monitor(code="P0615", plus="start_plug.start-signal", minus="earth", below=7.0, state=CRANKING),),
        # stuck closed, the engine turns by itself; a shorted coil blows the start fuse, which is the fault found
        without=("solenoid-stuck-closed", "solenoid-coil-short", "start-switch-stuck-closed"),
        states=(
            CRANKING,
            {**CRANKING, "start_plug": "out"},
            *({**CRANKING, "moving": place} for place in ("harness", "key_switch", "start_fuse")),
        ),
        points=("starter.motor", "starter.body"),
    )


def _cables() -> tuple[Run, Run]:
    """Bolted at both ends: what is loose there has resistance, and is a fault of clamp, eyelet or cable."""
    kinds = ("open", "resistance")
    made = []
    for wire, place in (("starter-cable", "starter"), ("engine-cable", "eyelet")):
        ends = (
            End(place=place, inside=f"{place}.{wire}", contact=False),
            End(place="clamps", inside=f"clamps.{wire}", contact=False),
        )
        role: Role = "feed" if wire == "starter-cable" else "ground"
        made.append(Run(wire=wire, ends=ends, role=role, shorts=(), kinds=kinds, spans=(0.0001, 1.0)))
    return made[0], made[1]


def _start_wires(sheet: MachineSheet) -> tuple[Run, Run]:
    """On ground they blow the start fuse: that is the fault found, and its finding says to look for the short."""
    signal = Run(
        wire="start-signal",
        ends=(
            # a tight push-on lead: loose it has resistance
            End(
                place="start_plug", inside="start_sensor.start-signal", item=sheet.item_of("start_plug"), contact=False
            ),
            End(place="key_switch", inside="switch.out", tag="switch"),
        ),
        role="feed",
        shorts=(),
        spans=(0.01, 1e3),
    )
    supply = Run(
        wire="start-supply",
        ends=(
            End(place="start_fuse", inside="fuse.start", tag="fuse"),
            End(place="key_switch", inside="switch.in", tag="switch"),
        ),
        role="feed",
        shorts=(),
        spans=(0.01, 1e3),
    )
    return signal, supply


def _switching(coil: CoilSensor) -> tuple[Kind, ...]:
    """Start fuse, key switch and solenoid."""
    return (
        Contact(
            name="start-fuse",
            a="battery.positive",
            b="fuse.start",
            closed=lambda here: 1.0,
            off_ohm=OPEN_OHM,
            can=("blown",),
        ),
        Contact(
            name="start-switch",
            a="switch.in",
            b="switch.out",
            closed=lambda here: float(here.state.get("engine") == "cranking"),
            off_ohm=OPEN_OHM,
            can=("stuck-open", "stuck-closed", "resistance"),
            where="key_switch",
        ),
        Solenoid(
            name="solenoid",
            coil_a="start_sensor.start-signal",
            coil_b="engine.block",
            contact_a="starter.starter-cable",
            contact_b="starter.motor",
            coil_ohm=coil.ohm_20c,
            item="solenoid",
            contact_ohm=0.0003,
            spans=(0.0001, 1.0),
            where="starter",
        ),
    )


@dataclass(frozen=True, kw_only=True)
class Solenoid(Relay):
    """A relay that is bolted on: nobody pulls or bridges it."""

    def stamp(self, net: Stack, here: Here) -> None:
        super().stamp(net, self._bolted(here))

    def follows(self, solution: StackSolution, here: Here) -> np.ndarray:
        return super().follows(solution, self._bolted(here))

    def _bolted(self, here: Here) -> Here:
        return replace(here, state={**here.state, self.item: "in"})


@dataclass(frozen=True, kw_only=True)
class KeyOnLoads(Kind):
    """What is fed with the key on, beside the starter."""

    def stamp(self, net: Stack, here: Here) -> None:
        on = float(here.key_on)
        net.conductance("battery.positive", "engine.block", on * (here.sheet.battery.key_on_a - UNIT_A) / 12.5)
        net.conductance("battery.positive", "earth", on * UNIT_A / 12.5)


@dataclass(frozen=True, kw_only=True)
class Motor(Kind):
    """The starter motor. Faults: open (brushes), drags (stuck, or shorted: it draws far too much)."""

    where: str = "starter"

    def faults(self) -> Iterator[Fault]:
        yield self.fault("open", "motor open")
        yield self.fault("drags", "motor drags")

    def stamp(self, net: Stack, here: Here) -> None:
        ohm: Value = MOTOR_V / here.sheet.battery.cranking_a * (1 + 0.05 * here.share("starter"))
        if here.has("starter-drags"):
            ohm = DRAGS_OHM
        net.resistor("starter.motor", "starter.body", OPEN_OHM if here.has("starter-open") else ohm)
