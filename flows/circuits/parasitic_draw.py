"""Parasitic draw: what the battery gives with everything asleep, through five fuses and past them."""

from collections.abc import Iterator
from functools import partial
from typing import Any

from flows.network.description import Description, End, Run
from flows.network.faults import OPEN_OHM
from flows.network.here import Here
from flows.network.kinds import Kind, Leak, Resistance
from flows.network.power import BatteryPart, Cable, Loads
from flows.network.stacked import StackSolution
from flows.physics.battery import parasitic_limit_a
from flows.physics.wiring import wire_ohm
from flows.sensors import ValuesPart
from flows.sheet import MachineSheet

CIRCUIT = "parasitic-draw"
CABLE = "engine-cable"
CIRCUITS = ("unit", "instrument", "accessory", "regulator", "lamps")
NONE_OHM = 1e9  # a circuit that draws nothing
SPAN = (0.0005, 5.0)
AT_V = 12.5
TURNS = 10  # of the test lead through the clamp; common practice, no source
SLEEP_SHARE = 0.3  # tolerance of what a circuit draws asleep


def describe(sheet: MachineSheet) -> Description:
    """The circuit of this sheet. A draw counts from the size at which the whole exceeds the limit of the battery."""
    cable = Run(
        wire=CABLE,
        ends=(
            End(place="clamps", inside=f"clamps.{CABLE}", contact=False),
            End(place="eyelet", inside=f"eyelet.{CABLE}", contact=False),
        ),
        role="ground",
        shorts=(),
        kinds=(),  # what is wrong with this cable is found by starter-and-ground
    )
    return Description(
        name=CIRCUIT,
        sheet=sheet,
        runs=(cable,),
        parts=(
            BatteryPart(name="battery", healthy=True),
            Cable(name="negative-clamp", a=f"clamps.{CABLE}", b="battery.negative", ohm=0.0001, healthy=True),
            Cable(name="eyelet", a="engine.block", b=f"eyelet.{CABLE}", ohm=0.0001, healthy=True),
            Cable(name="unit-ground", a="earth", b="engine.block", ohm=0.008, healthy=True),
            Loads(name="loads"),
            *(part for name in CIRCUITS for part in _fused(sheet, name)),
            Leak(name="unfused", a="battery.positive", b="engine.block", span=SPAN),
        ),
        clamps={"clamp.battery": CABLE},
        displays={"turns": partial(_turned, sheet)},
        states=(
            {"key": "off", "battery_loop": "fitted"},
            *({"key": "off", f"{name}_fuse": "pulled"} for name in CIRCUITS),
        ),
        points=tuple(f"{name}_fuse.{side}" for name in CIRCUITS for side in ("near", "far")),
        counts=partial(_counts, sheet),
    )


def asleep(sheet: MachineSheet) -> dict[str, float]:
    """Fuse ohms and sleeping amperes by name, from the sheet."""
    part = sheet.sensors["asleep"]
    assert isinstance(part, ValuesPart)
    return part.values


def _fused(sheet: MachineSheet, name: str) -> Iterator[Kind]:
    values = asleep(sheet)
    near, far = f"{name}_fuse.near", f"{name}_fuse.far"
    draws_a = values[f"{name}_asleep_a"]
    yield Resistance(name=f"{name}-bar", a="battery.positive", b=near, ohm=0.001, healthy=True)
    yield Resistance(
        name=f"{name}-fuse",
        a=near,
        b=far,
        ohm=partial(_fuse_ohm, item=f"{name}_fuse", ohm=values[f"{name}_fuse_ohm"]),
        healthy=True,
    )
    sleeping_ohm = AT_V / draws_a if draws_a else NONE_OHM
    yield Resistance(
        name=f"{name}-asleep", a=far, b="engine.block", ohm=sleeping_ohm, tolerance=SLEEP_SHARE, healthy=True
    )
    yield Leak(name=f"{name}-circuit", a=far, b="engine.block", span=SPAN, off=lambda here: False)


def _fuse_ohm(here: Here, *, item: str, ohm: float) -> Any:
    return OPEN_OHM if here.at(item) == "pulled" else ohm * (1 + 0.1 * here.share(item))


def _turned(sheet: MachineSheet, solution: StackSolution, here: Here) -> Any:
    """What a clamp shows [A] around the turns of a test lead in series with the cable: each turn counts."""
    part = sheet.wires[CABLE]
    ampere = solution.volt(f"eyelet.{CABLE}", f"clamps.{CABLE}") / wire_ohm(part.area_mm2, part.length_m)
    return ampere * (TURNS if here.at("battery_loop") == "fitted" else 1)


def _counts(sheet: MachineSheet, bad: StackSolution, good: StackSolution, here: Here) -> Any:
    """Whether the fault's own current exceeds the limit with what sleeps, also where that draws the least it may."""
    part = sheet.wires[CABLE]
    ohm = wire_ohm(part.area_mm2, part.length_m)
    more_v = bad.volt(f"eyelet.{CABLE}", f"clamps.{CABLE}") - good.volt(f"eyelet.{CABLE}", f"clamps.{CABLE}")
    normal_a = sum(value for name, value in asleep(sheet).items() if name.endswith("_asleep_a")) * (1 - SLEEP_SHARE)
    return more_v / ohm > parasitic_limit_a(sheet.battery.capacity_ah) - normal_a


def variants(sheet: MachineSheet) -> Iterator[tuple[str, MachineSheet]]:
    """The limit goes by the battery: as the TH-2 has it, a small one and a large one."""
    for size_ah in (sheet.battery.capacity_ah, 18.0, 60.0):
        battery = sheet.battery.model_copy(update={"capacity_ah": size_ah})
        yield f"{size_ah:g} ampere hours", sheet.model_copy(update={"battery": battery})
