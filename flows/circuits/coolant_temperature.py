"""The coolant temperature circuit: thermistor, two wires, pull-up in the control unit, a ground of its own or shared."""

from collections.abc import Iterator
from dataclasses import replace
from functools import partial

import numpy as np

from flows.network.description import ControlInput, Description, End, Run, wire_run
from flows.network.faults import OPEN_OHM
from flows.network.here import Here
from flows.network.kinds import Resistance, ThermistorPart
from flows.network.power import ground_pin, power, rail, supply_pin
from flows.sensors import Thermistor
from flows.sheet import MachineSheet, Pin
from flows.windows.ice import ICE_C
from flows.windows.temperature import ohm_at

CIRCUIT = "coolant-temperature"
OTHERS_OHM = 1200.0  # what other sensors on the shared ground draw from the five volts


def describe(sheet: MachineSheet) -> Description:
    """The circuit of this sheet; the ground is shared when its wire ends at a splice, not at the control unit."""
    sensor = sheet.sensors["coolant"]
    assert isinstance(sensor, Thermistor)
    shared = "unit" not in sheet.wires["coolant-ground"].pins
    signal = wire_run(sheet, "coolant-signal", device="coolant_plug")
    own = wire_run(sheet, "coolant-ground", device="coolant_plug", role="ground")
    return Description(
        name=CIRCUIT,
        sheet=sheet,
        runs=(signal, *_to_splice(sheet, own)) if shared else (signal, _own(own)),
        parts=(
            *power(),
            rail(),
            *supply_pin(sheet, healthy=True),
            ground_pin("sensor-ground" if shared else "coolant-ground"),
            ControlInput(name="coolant", entry=sheet.control_unit.inputs["coolant"]),
            ThermistorPart(
                name="thermistor",
                a="coolant_sensor.coolant-signal",
                b="coolant_sensor.coolant-ground",
                curve_ohm=partial(ohm_at, sensor),
                tolerance_k=sensor.tolerance_k,
                temperature_c=_sensor_c,
                where="coolant_sensor",
            ),
            *_others(shared),
        ),
        inputs=("coolant",),
        gauges={"thermometer.engine": lambda here: here.air_c},
        states=({"coolant_bath": "ice"},),
    )


def _sensor_c(here: Here) -> np.ndarray:
    """Temperature of the sensor [degC]: the coolant's, or that of ice water."""
    return np.full(here.count, ICE_C) if here.at("coolant_bath") == "ice" else here.coolant_c


def _own(run: Run) -> Run:
    """A ground wire of its own: its terminal at the control unit is the sensor ground terminal there."""
    plug, unit = run.ends
    return replace(run, ends=(plug, replace(unit, called="sensor-ground-unit-intermittent")))


def _to_splice(sheet: MachineSheet, own: Run) -> tuple[Run, Run]:
    """The branch from the plug to the splice, and the trunk from there to the control unit."""
    splice = "splice.sensor-ground"
    branch = Run(
        wire="coolant-ground",
        ends=(own.ends[0], End(place="splice", inside=splice, tag="splice", contact=False)),
        role="ground",
    )
    unit = End(place="unit", inside="pin.sensor-ground", item=sheet.item_of("unit"), tag="unit")
    start = End(place="splice", inside=splice, tag="splice", contact=False)
    return branch, Run(wire="sensor-ground", ends=(start, unit), role="ground")


def _others(shared: bool) -> tuple[Resistance, ...]:
    """What else hangs on the ground; a ground of its own has the pin at the control unit under both names."""
    if not shared:
        return (Resistance(name="alias", a="unit.sensor-ground", b="unit.coolant-ground", ohm=0.001, healthy=True),)
    return (Resistance(name="others", a="five", b="splice.sensor-ground", ohm=_others_ohm, healthy=True),)


def _others_ohm(here: Here) -> float:
    """Other sensors are fed through the control unit's plug."""
    return OPEN_OHM if here.at("control_unit_plug") == "out" else OTHERS_OHM


def variants(sheet: MachineSheet) -> Iterator[tuple[str, MachineSheet]]:
    """The ground shared through a splice, as the TH-2 has it, and a ground wire of its own."""
    yield "shared ground", sheet
    wire = sheet.wires["coolant-ground"]
    pins = {**wire.pins, "unit": Pin(pin="23", position="bottom row, second from right")}
    wires = {**sheet.wires, "coolant-ground": wire.model_copy(update={"pins": pins, "length_m": 1.3})}
    yield "own ground", sheet.model_copy(update={"wires": wires})
