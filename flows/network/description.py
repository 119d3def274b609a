"""A circuit in words: wires with their ends, parts, inputs, and what must be seen. Faults are generated from it."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property, partial
from typing import Any

from flows.network.faults import OPEN_OHM, SHORT_OHM, Fault
from flows.network.here import Here
from flows.network.kinds import Asked, Kind
from flows.network.stacked import Stack, StackSolution
from flows.network.wire_faults import Role, faults_of_wires
from flows.physics.wiring import wire_ohm
from flows.sheet import Input, MachineSheet

CONTACT_OHM = 0.005


@dataclass(frozen=True, kw_only=True)
class End:
    """One end of a wire. Its terminal is the probe point `place.wire`; behind the contact lies the node `inside`.

    item: bench item whose "out" takes the contact apart; "" where nothing is unplugged. tag: word in the fault's name.
    """

    place: str
    inside: str
    item: str = ""
    tag: str = "plug"
    contact: bool = True  # a contact that can come loose
    called: str = ""  # name of that fault, where it is not `WIRE-TAG-intermittent`


@dataclass(frozen=True, kw_only=True)
class Run:
    """A wire between two ends, the device's first. role: what it may be shorted to; shorts: instead of the role's."""

    wire: str
    ends: tuple[End, End]
    role: Role = "signal"
    shorts: tuple[str, ...] | None = None
    kinds: tuple[str, ...] = ("open", "resistance", "intermittent")
    spans: tuple[float, float] = (0.005, 3e6)  # ohm, searched for the least resistance that counts

    def node(self, end: int) -> str:
        return f"{self.ends[end].place}.{self.wire}"

    def loose(self, end: End) -> str:
        """Name of the fault that this contact comes and goes."""
        return end.called or f"{self.wire}-{end.tag}-intermittent"


@dataclass(frozen=True, kw_only=True)
class Sees:
    """Something that must stay near its healthy value, or the fault counts: share of it, or so many volts."""

    plus: str
    minus: str
    share: float | None = None
    volt: float | None = None
    alternating: bool = False
    state: Mapping[str, str] = field(default_factory=dict)  # beside key on


@dataclass(frozen=True, kw_only=True)
class Monitor:
    """A code the control unit stores when a voltage inside it is below or above a limit in a state."""

    code: str
    plus: str
    minus: str
    below: float | None = None
    above: float | None = None
    alternating: bool = False
    state: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class ControlInput(Kind):
    """An input of the control unit: pin, contact to what lies behind it, pull resistor. Nodes pin.WIRE, inner.WIRE."""

    entry: Input
    rail: str = "rail"
    earth: str = "earth"
    where: str = "unit"

    def faults(self) -> Iterator[Fault]:
        if not self.healthy:
            yield Fault(f"{self.name}-input-open", "part", f"control unit's {self.name} input open", where="unit")
            yield Fault(f"{self.name}-input-short", "part", f"control unit's {self.name} input shorted", where="unit")

    def stamp(self, net: Stack, here: Here) -> None:
        inner, pin = f"inner.{self.entry.wire}", f"pin.{self.entry.wire}"
        nominal_v = here.sheet.supply.nominal_v
        if self.entry.pull == "up" and here.key_on:
            share = self.entry.pull_to_v / nominal_v
            middle = f"{inner}.pull"
            net.controlled(middle, self.rail, {self.rail: share, self.earth: 1 - share}, siemens=100.0)
            net.resistor(middle, inner, self.entry.pull_ohm)
        else:
            net.resistor(inner, self.earth, self.entry.pull_ohm)
        net.resistor(inner, pin, OPEN_OHM if here.has(f"{self.name}-input-open") else CONTACT_OHM)
        if here.has(f"{self.name}-input-short"):
            net.resistor(inner, self.earth, SHORT_OHM)


@dataclass(frozen=True, kw_only=True)
class Description:
    """One circuit of one machine sheet. See /flows/AUTHOR.md and flows/circuits/coolant_temperature.py.

    supply: the five volt wire of this circuit, "" when it has none (shorts then go to the node `five`).
    displays: names of `display.*` beside the inputs -> value. gauges: names of `thermometer.*` and the like -> value.
    clamps: `clamp.*` -> wire whose current is read. looks: fault -> place where eyes find it.
    duty: share of the time phase 1 lasts where something toggles, else None. hz: what a frequency reading shows.
    states: what a technician can bring about beside key, plugs, jumpers and movement; each a state.
    """

    name: str
    sheet: MachineSheet
    runs: tuple[Run, ...]
    parts: tuple[Kind, ...]
    inputs: tuple[str, ...] = ()
    supply: str = ""
    sees: tuple[Sees, ...] = ()
    monitors: tuple[Monitor, ...] = ()
    displays: Mapping[str, Callable[[StackSolution, Here], Any]] = field(default_factory=dict)
    gauges: Mapping[str, Callable[[Here], Any]] = field(default_factory=dict)
    clamps: Mapping[str, str] = field(default_factory=dict)
    looks: Mapping[str, str] = field(default_factory=dict)
    extra: tuple[Fault, ...] = ()
    without: tuple[str, ...] = ()  # generated faults that this circuit cannot have; say why beside it
    sizes: Mapping[str, float] = field(default_factory=dict)
    states: tuple[Mapping[str, str], ...] = ()
    points: tuple[str, ...] = ()  # probe points beside those of the wires, battery and engine block
    duty: Callable[[Here], float | None] = lambda here: None
    hz: Asked = lambda here: 0.0
    counts: Callable[[StackSolution, StackSolution, Here], Any] | None = None  # more ways in which a fault counts

    def generated(self) -> Iterator[Fault]:
        """Every fault by rule: of wires, of parts, and those declared."""
        every = [
            *faults_of_wires(self.runs, supply=self.supply),
            *(f for part in self.parts for f in part.faults()),
            *self.extra,
        ]
        yield from (fault for fault in every if fault.name not in self.without)

    def run(self, wire: str) -> Run:
        return next(run for run in self.runs if run.wire == wire)

    @cached_property
    def stamps(self) -> tuple[Callable[[Stack, Here], None], ...]:
        """What makes the network in a state, one after the other: each part, each run. `stamp_bridges` comes after."""
        return *(part.stamp for part in self.parts), *(partial(self._stamp_run, run) for run in self.runs)

    def stamp_bridges(self, net: Stack, here: Here) -> None:
        """What joins wires that should not be joined: a jumper, shorts, leaks."""
        jumper = here.at("jumper")
        if jumper != "none":
            net.resistor(*self.sheet.jumpers[jumper].between, self.sheet.jumpers[jumper].ohm)
        for fault in here.wrong:
            if fault.kind == "short":
                net.resistor(self.run(fault.wire).node(0), self._touched(fault.other), SHORT_OHM)
            elif fault.kind == "leak":
                net.conductance(self.run(fault.wire).node(0), self._touched(fault.other), here.grown(fault.name))

    def ohm(self, run: Run, here: Here) -> Any:
        """Resistance of a wire, its fault in it."""
        spec = self.sheet.wires[run.wire]
        ohm = wire_ohm(spec.area_mm2, spec.length_m) + here.grown(f"{run.wire}-resistance")
        broken = here.has(f"{run.wire}-open") or here.has(f"{run.wire}-intermittent")
        return ohm + (OPEN_OHM if broken else 0.0)

    def _stamp_run(self, run: Run, net: Stack, here: Here) -> None:
        net.resistor(run.node(0), run.node(1), self.ohm(run, here))
        for number, end in enumerate(run.ends):
            if end.item and here.at(end.item) == "out":
                continue
            if end.inside == run.node(number):
                continue
            loose = here.has(run.loose(end))
            net.resistor(run.node(number), end.inside, OPEN_OHM if loose else CONTACT_OHM)

    def _touched(self, other: str) -> str:
        if other.startswith("wire "):
            return self.run(other.removeprefix("wire ")).node(0)
        if other == "supply":
            return self.run(self.supply).node(0) if self.supply else "five"
        return {"ground": "engine.block", "battery": "battery.positive"}[other]

    def items(self) -> tuple[str, ...]:
        """Bench items of this circuit's plugs."""
        return tuple(dict.fromkeys(end.item for run in self.runs for end in run.ends if end.item))


def wire_run(
    sheet: MachineSheet, wire: str, *, device: str, role: Role = "signal", inside: Mapping[str, str] | None = None
) -> Run:
    """A wire between a device's plug and the control unit, as the sheet's pins have it.

    device: place of the plug, `coolant_plug`; the node behind it is `coolant_sensor.WIRE`. inside: other nodes by place.
    """
    given = inside or {}
    behind = device.removesuffix("_plug") + "_sensor"
    ends = (
        End(place=device, inside=given.get(device, f"{behind}.{wire}"), item=sheet.item_of(device), tag="plug"),
        End(place="unit", inside=given.get("unit", f"pin.{wire}"), item=sheet.item_of("unit"), tag="unit"),
    )
    return Run(wire=wire, ends=ends, role=role)
