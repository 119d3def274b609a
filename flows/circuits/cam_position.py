"""The cam position circuit: a Hall switch on five volts, three wires, an input pulled up in the control unit."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from flows.network.description import ControlInput, Description, Monitor, Sees, wire_run
from flows.network.faults import Fault
from flows.network.here import Here
from flows.network.moded import Moded
from flows.network.power import ground_pin, power, rail, supply_pin
from flows.network.stacked import Stack, StackSolution
from flows.sensors import ValuesPart
from flows.sheet import MachineSheet

CIRCUIT = "cam-position"
DEVICE = "cam_plug"
SEEN, EARTH = "inner.cam-signal", "earth"
CRANKING = {"engine": "cranking"}
RUNS_ABOVE_V = 3.0  # below this a Hall chip does nothing; invented
OFF_OHM = 5e6
HELD_LOW = (  # low all the time: no pulses, which half a turn alone does not tell
    "cam-signal-short-to-ground",
    "cam-signal-short-to-cam-ground-wire",
    "cam-input-short",
    "sensor-stuck-low",
)


@dataclass(frozen=True, kw_only=True)
class HallSwitch(Moded):
    """A Hall switch with an open output: it pulls `out` to `ground` while a tooth is before it. Modes: 0 off, 1 alive.

    Where the wheel stands on a still engine is chance. Faults: dead, stuck-low, shorted (across its supply).
    """

    supply: str
    out: str
    ground: str
    supply_ohm: float
    output_ohm: float
    start: int = 1

    def faults(self) -> Iterator[Fault]:
        yield self.fault("dead", "never pulls down")
        yield self.fault("stuck-low", "never lets go")
        yield self.fault("shorted", "shorts its supply")

    def stamp(self, net: Stack, here: Here) -> None:
        net.resistor(self.supply, self.ground, 2.0 if here.has(f"{self.name}-shorted") else self.supply_ohm)
        tooth = np.full(here.count, here.phase == 1) if here.turning else here.share("cam-wheel") > 0
        down = tooth & (self.mode(here) == 1) & (not here.has(f"{self.name}-dead"))
        if here.has(f"{self.name}-stuck-low"):
            down = np.ones(here.count, dtype=bool)
        net.resistor(self.out, self.ground, np.where(down, self.output_ohm, OFF_OHM))

    def follows(self, solution: StackSolution, here: Here) -> np.ndarray:
        limit = RUNS_ABOVE_V - np.where(self.mode(here) == 1, 0.05, 0.0)
        return np.where(solution.volt(self.supply, self.ground) > limit, 1, 0)


def describe(sheet: MachineSheet) -> Description:
    """The circuit of this sheet."""
    part = sheet.sensors["cam"]
    assert isinstance(part, ValuesPart)
    values, entry = part.values, sheet.control_unit.inputs["cam"]

    def hz(here: Here) -> float:
        return here.rpm / 60 * values["pulses_per_turn"]

    def shown_hz(solution: StackSolution, here: Here) -> np.ndarray:
        held = any(here.has(fault) for fault in HELD_LOW)
        return np.where((solution.volt(SEEN, EARTH) < 2.0) & (not held), hz(here), 0.0)

    return Description(
        name=CIRCUIT,
        sheet=sheet,
        runs=(
            wire_run(sheet, "cam-supply", device=DEVICE, role="supply"),
            wire_run(sheet, "cam-signal", device=DEVICE),
            wire_run(sheet, "cam-ground", device=DEVICE, role="ground"),
        ),
        supply="cam-supply",
        parts=(
            *power(),
            rail(),
            *supply_pin(sheet, "pin.cam-supply"),
            ground_pin("cam-ground"),
            ControlInput(name="cam", entry=entry),
            HallSwitch(
                name="sensor",
                supply="cam_sensor.cam-supply",
                out="cam_sensor.cam-signal",
                ground="cam_sensor.cam-ground",
                supply_ohm=values["supply_ohm"],
                output_ohm=values["output_ohm"],
                where="cam_sensor",
            ),
        ),
        # A fifth less swing at the input lets pulses be missed.
        sees=(Sees(plus=SEEN, minus=EARTH, share=0.2, alternating=True, state=CRANKING),),
        monitors=(Monitor(code=entry.code_low, plus=SEEN, minus=EARTH, below=1.2, alternating=True, state=CRANKING),),
        displays={"cam": shown_hz},
        states=(CRANKING,),
        duty=lambda here: values["cranking_duty"] if here.turning else None,
        hz=hz,
    )
