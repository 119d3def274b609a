"""The intake air temperature circuit: a thermistor in the air box, two wires to the control unit, a pull-up there."""

from functools import partial

import numpy as np

from flows.network.description import ControlInput, Description, wire_run
from flows.network.here import Here
from flows.network.kinds import ThermistorPart
from flows.network.power import ground_pin, power, rail, supply_pin
from flows.sensors import Thermistor
from flows.sheet import MachineSheet
from flows.windows.ice import ICE_C
from flows.windows.temperature import ohm_at

CIRCUIT = "intake-air-temperature"
DEVICE = "intake_air_plug"


def describe(sheet: MachineSheet) -> Description:
    """The circuit of this sheet."""
    sensor = sheet.sensors["intake-air"]
    assert isinstance(sensor, Thermistor)
    return Description(
        name=CIRCUIT,
        sheet=sheet,
        runs=(
            wire_run(sheet, "intake-air-signal", device=DEVICE),
            wire_run(sheet, "intake-air-ground", device=DEVICE, role="ground"),
        ),
        parts=(
            *power(),
            rail(),
            *supply_pin(sheet, healthy=True),
            ground_pin("intake-air-ground"),
            ControlInput(name="intake-air", entry=sheet.control_unit.inputs["intake-air"]),
            ThermistorPart(
                name="thermistor",
                a="intake_air_sensor.intake-air-signal",
                b="intake_air_sensor.intake-air-ground",
                curve_ohm=partial(ohm_at, sensor),
                tolerance_k=sensor.tolerance_k,
                temperature_c=_sensor_c,
                where="intake_air_sensor",
            ),
        ),
        inputs=("intake-air",),
        states=({"intake_air_bath": "ice"},),
    )


def _sensor_c(here: Here) -> np.ndarray:
    """Temperature of the sensor [degC]: the air's, or that of ice water."""
    return np.full(here.count, ICE_C) if here.at("intake_air_bath") == "ice" else here.air_c
