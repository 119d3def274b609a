"""Two-wire bus: a pair of wires with a terminator at each end, held at two and a half volts while nobody talks."""

from dataclasses import dataclass
from typing import Any

from flows.network.description import Description, End, Monitor, Run
from flows.network.here import Here
from flows.network.kinds import Kind, Resistance
from flows.network.power import power
from flows.network.stacked import Stack, StackSolution
from flows.sensors import ValuesPart
from flows.sheet import MachineSheet

CIRCUIT = "bus-termination"
PLUG, DEVICE = "instrument_plug", "instrument_sensor"
INPUT_OHM = 25e3  # of each transceiver, each wire
COUNTS_OHM = 7.0  # across the pair: sixty ohms become more than ISO 11898-2 allows, leads and low terminators among it
LEAST_OHM = 49.0  # or less than it allows, so that a receiver may no longer see a driven pair
SIDES = ("high", "low")


def describe(sheet: MachineSheet) -> Description:
    """The circuit of this sheet. A pair held far off its level is a code; an open is none, since frames are not modelled."""
    high, low = (_wire(sheet, f"bus-{side}") for side in SIDES)
    return Description(
        name=CIRCUIT,
        sheet=sheet,
        runs=(high, low),
        parts=(
            *power(grounds=False, battery=False),
            _terminator(sheet, "unit-terminator", "pin", where="unit"),
            _terminator(sheet, "instrument-terminator", DEVICE, where=DEVICE),
            Transceiver(name="unit-transceiver", end="pin", ground="earth"),
            Transceiver(name="instrument-transceiver", end=DEVICE, ground="engine.block"),
            *(
                Resistance(
                    name=f"socket-{side}", a=f"diagnostic.{side}", b=f"{PLUG}.bus-{side}", ohm=0.05, healthy=True
                )
                for side in SIDES
            ),
        ),
        monitors=(
            Monitor(code="U0001", plus="pin.bus-high", minus="earth", below=1.5),
            Monitor(code="U0001", plus="pin.bus-high", minus="earth", above=3.5),
        ),
        points=("diagnostic.high", "diagnostic.low"),
        counts=_counts,
    )


def _wire(sheet: MachineSheet, wire: str) -> Run:
    ends = (
        End(place=PLUG, inside=f"{DEVICE}.{wire}", item=sheet.item_of(PLUG), tag="instrument"),
        End(place="unit", inside=f"pin.{wire}", item=sheet.item_of("unit"), tag="unit"),
    )
    return Run(wire=wire, ends=ends, shorts=("ground", "battery"), spans=(0.5, 1e4))


def _terminator(sheet: MachineSheet, name: str, end: str, *, where: str) -> Resistance:
    part = sheet.sensors["bus"]
    assert isinstance(part, ValuesPart)
    ohm, tolerance = part.values["terminator_ohm"], part.values["terminator_share"]
    return Resistance(name=name, a=f"{end}.bus-high", b=f"{end}.bus-low", ohm=ohm, tolerance=tolerance, where=where)


def _counts(bad: StackSolution, good: StackSolution, here: Here) -> Any:
    now, then = (x.between_ohm("diagnostic.high", "diagnostic.low") for x in (bad, good))
    return (now - then > COUNTS_OHM) | (now < LEAST_OHM)


@dataclass(frozen=True, kw_only=True)
class Transceiver(Kind):
    """Holds both wires at the recessive level, weakly, with the key on. It has no faults of its own here."""

    end: str
    ground: str

    def stamp(self, net: Stack, here: Here) -> None:
        part = here.sheet.sensors["bus"]
        assert isinstance(part, ValuesPart)
        on = float(here.key_on)
        for side in SIDES:
            volt = part.values["recessive_v"]
            net.source(f"{self.end}.bus-{side}", self.ground, volt=volt, ohm=INPUT_OHM, on=on)
