"""The accelerator pedal: two potentiometers on one lever, six wires, two supplies; the second track gives half the first."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from flows.network.description import ControlInput, Description, Monitor, Run, Sees, wire_run
from flows.network.here import Here
from flows.network.kinds import Kind, Potentiometer
from flows.network.moded import Regulator
from flows.network.power import ground_pin, power, rail, supply_pin
from flows.network.stacked import Stack
from flows.sensors import PotentiometerSensor
from flows.sheet import MachineSheet

CIRCUIT = "accelerator-pedal"
DEVICE = "pedal_plug"
OPENED = {"up": 0.0, "half": 0.5, "down": 1.0}
APART_V = 0.45  # the control unit stores the code of tracks that do not agree from here on; invented
LATER_OHM, LATER_A = 0.5, 0.05  # the second supply; invented
TRACKS = 0.003  # it follows the first one's reference this closely, as a tracking regulator does; no source


@dataclass(frozen=True, kw_only=True)
class Doubled(Kind):
    """Twice the second signal, as the control unit works it out; it draws nothing."""

    out: str
    of: str

    def stamp(self, net: Stack, here: Here) -> None:
        net.controlled(self.out, "earth", {self.of: 2.0, "earth": -1.0}, siemens=1.0)


def describe(sheet: MachineSheet) -> Description:
    """The circuit of this sheet."""
    inputs = sheet.control_unit.inputs
    return Description(
        name=CIRCUIT,
        sheet=sheet,
        runs=_runs(sheet),
        supply="pedal-one-supply",
        parts=(
            *power(),
            rail(),
            *supply_pin(sheet, "pin.pedal-one-supply"),
            Regulator(
                name="regulator-two",
                out="pin.pedal-two-supply",
                earth="earth",
                volt=_second_v,
                ohm=LATER_OHM,
                limit_a=LATER_A,
            ),
            ground_pin("pedal-one-ground"),
            ground_pin("pedal-two-ground"),
            ControlInput(name="pedal-one", entry=inputs["pedal-one"]),
            ControlInput(name="pedal-two", entry=inputs["pedal-two"]),
            _track(sheet, "pedal-one", "track-one"),
            _track(sheet, "pedal-two", "track-two"),
            Doubled(name="doubled", out="doubled", of="inner.pedal-two-signal", healthy=True),
        ),
        inputs=("pedal-one", "pedal-two"),
        sees=(Sees(plus="pedal_plug.pedal-two-supply", minus="earth", share=sheet.supply.tolerance),),
        monitors=tuple(
            Monitor(
                code="P2138", plus="inner.pedal-one-signal", minus="doubled", below=-APART_V, above=APART_V, state=s
            )
            for s in ({}, {"pedal": "down"})
        ),
        states=({"pedal": "down"}, {"pedal": "half"}),
    )


def _second_v(here: Here) -> Any:
    """The second supply [V]: it tracks the healthy reference of the first, and has faults of its own."""
    supply = here.sheet.supply
    drift = here.grown("regulator-two-high") - here.grown("regulator-two-low")
    most = supply.tolerance
    off = np.clip(most * here.share("supply") + TRACKS * here.share("second supply"), -most, most)
    return supply.nominal_v * (1 + off) * (1 + drift)


def _runs(sheet: MachineSheet) -> tuple[Run, ...]:
    """As they lie in the plug: the grounds in the middle, so that the second signal's supply is its own neighbour."""
    second = wire_run(sheet, "pedal-two-signal", device=DEVICE)
    return (
        wire_run(sheet, "pedal-one-supply", device=DEVICE, role="supply"),
        wire_run(sheet, "pedal-one-signal", device=DEVICE),
        wire_run(sheet, "pedal-one-ground", device=DEVICE, role="ground"),
        wire_run(sheet, "pedal-two-ground", device=DEVICE, role="ground"),
        replace(second, shorts=("ground", "battery")),
        wire_run(sheet, "pedal-two-supply", device=DEVICE, role="supply"),
    )


def _track(sheet: MachineSheet, sensor: str, name: str) -> Potentiometer:
    part = sheet.sensors[sensor]
    assert isinstance(part, PotentiometerSensor)

    def share(here: Here) -> float:
        return part.share(OPENED[here.at("pedal")])

    return Potentiometer(
        name=name,
        top=f"pedal_sensor.{sensor}-supply",
        wiper=f"pedal_sensor.{sensor}-signal",
        bottom=f"pedal_sensor.{sensor}-ground",
        ohm=part.ohm,
        wiper_ohm=part.wiper_ohm,
        share=share,
        rest_share=part.closed_share,
        tolerance=part.tolerance_share,
        moved_at="pedal_lever",
        where="pedal_sensor",
    )


def variants(sheet: MachineSheet) -> Iterator[tuple[str, MachineSheet]]:
    """The inputs pulled down, as the TH-2 has them, and pulled up."""
    yield "pulled down", sheet
    unit, up = sheet.control_unit, {"pull": "up", "pull_to_v": sheet.supply.nominal_v}
    pulled = {name: unit.inputs[name].model_copy(update=up) for name in ("pedal-one", "pedal-two")}
    yield (
        "pulled up",
        sheet.model_copy(update={"control_unit": unit.model_copy(update={"inputs": unit.inputs | pulled})}),
    )
