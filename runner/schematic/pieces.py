"""What of a circuit is worth drawing: wires with their ends, and parts between two or three nodes."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from flows.network.description import ControlInput, Description, Run
from flows.network.kinds import Contact, Generator, Kind, Potentiometer, Resistance, Source, ThermistorPart
from flows.network.moded import Diode, Ratiometric, Regulator, Relay
from flows.sheet import MachineSheet

PLUS, MINUS, BLOCK, EARTH, FIVE = "battery.positive", "battery.negative", "engine.block", "earth", "five"
RAILS = {PLUS: "plus", BLOCK: "ground", MINUS: "minus", EARTH: "earth", FIVE: "five", "rail": "five"}
FIXED = (PLUS, MINUS, BLOCK)  # drawn with the battery


@dataclass(frozen=True, kw_only=True)
class Piece:
    """A part between two nodes. kind: name of its symbol."""

    kind: str
    a: str
    b: str
    name: str


@dataclass(frozen=True, kw_only=True)
class Chip:
    """A part on three or more nodes, drawn as a box or, for a track, with its wiper on the middle one."""

    kind: str
    nodes: tuple[str, ...]
    name: str


@dataclass(frozen=True, kw_only=True)
class Net:
    """A circuit, as far as it is drawn."""

    name: str
    sheet: MachineSheet
    runs: tuple[Run, ...]
    pieces: tuple[Piece, ...]
    chips: tuple[Chip, ...]
    clamps: dict[str, str]  # gauge on a wire -> that wire
    points: tuple[str, ...]  # beside those of wires and battery


def net_of(circuit: Any) -> Net:
    """What is drawn of a circuit of flows.circuits."""
    description: Description = circuit.description
    found = [piece for part in description.parts for piece in _pieces(part)]
    return Net(
        name=description.name,
        sheet=description.sheet,
        runs=description.runs,
        pieces=tuple(each for each in found if isinstance(each, Piece)),
        chips=tuple(each for each in found if isinstance(each, Chip)),
        clamps=dict(description.clamps),
        points=description.points,
    )


def _pull(wire: str, pull: str) -> Piece:
    return Piece(kind="resistor", a=f"pin.{wire}", b=FIVE if pull == "up" else EARTH, name=f"pull-{pull}")


def _pieces(part: Kind) -> Iterator[Piece | Chip]:
    """Symbols of a part. Whatever two nodes it has, by the names its kind gives them."""
    name = part.name.replace("-", " ").replace("terminator", "resistor")
    if isinstance(part, ControlInput):
        yield _pull(part.entry.wire, part.entry.pull)
    elif isinstance(part, Regulator):
        yield Piece(kind="regulator", a=part.out, b=FIVE, name=name)
    elif isinstance(part, Relay):
        yield Piece(kind="coil", a=part.coil_a, b=part.coil_b, name=f"{name} coil")
        yield Piece(kind="switch", a=part.contact_a, b=part.contact_b, name=f"{name} contact")
    elif isinstance(part, Potentiometer):
        yield Chip(kind="track", nodes=(part.top, part.wiper, part.bottom), name=name)
    elif isinstance(part, Ratiometric):
        yield Chip(kind="chip", nodes=(part.supply, part.out, part.ground), name=name)
    elif isinstance(part, Source):
        if part.plus not in RAILS:
            yield Piece(kind="cell", a=part.plus, b=part.minus, name=name)
    elif isinstance(part, Diode):
        yield Piece(kind="diode", a=part.anode, b=part.cathode, name=name)
    else:
        yield from _by_shape(part, name)


def _by_shape(part: Kind, name: str) -> Iterator[Piece | Chip]:
    nodes = [getattr(part, field, None) for field in ("a", "b")]
    if all(isinstance(node, str) for node in nodes):
        yield Piece(kind=_kind(part), a=str(nodes[0]), b=str(nodes[1]), name=name)
        return
    three = [getattr(part, field, None) for field in ("supply", "out", "ground")]
    if all(isinstance(node, str) for node in three):  # a switching chip
        yield Chip(kind="chip", nodes=tuple(map(str, three)), name=name)
    elif name in _WITHIN:
        yield _WITHIN[name]


# Parts whose nodes their own module names, not their fields.
_WITHIN: dict[str, Piece | Chip] = {
    "starter": Piece(kind="motor", a="starter.motor", b="starter.body", name="starter motor"),
    "pump": Piece(kind="motor", a="pump_sensor.pump-feed", b="pump_sensor.pump-ground", name="pump"),
    "stator": Piece(kind="coil", a="winding.a", b="winding.b", name="stator winding"),
    "regulator": Chip(
        kind="chip",
        nodes=("regulator.charge-feed", "regulator.charge-ground", "regulator.stator-a", "regulator.stator-b"),
        name="regulator",
    ),
}
_COILS = ("coil", "primary")


def _kind(part: Kind) -> str:
    """Symbol of a part with two ends. What cannot be at fault here is drawn as a line, unless it limits current."""
    if isinstance(part, ThermistorPart):
        return "thermistor"
    if isinstance(part, Generator):
        return "coil"
    if "fuse" in part.name and isinstance(part, Contact | Resistance):
        return "fuse"
    if isinstance(part, Contact):
        return "line" if part.healthy else "switch"
    if isinstance(part, Resistance):
        if "motor" in part.name:
            return "motor"
        if any(word in part.name for word in _COILS):
            return "coil"
        draws = not part.healthy or part.name.endswith("-asleep")
        return "resistor" if draws else "line"
    return "line"
