"""What the control unit makes of an input: the converter's share of the rail, and the value the sensor's curve gives it."""

import numpy as np

from flows.network.here import Here
from flows.network.stacked import StackSolution
from flows.sensors import PotentiometerSensor, RatiometricPressure, Thermistor
from flows.sheet import MachineSheet
from flows.windows.temperature import degrees_at


def seen_v(solution: StackSolution, sheet: MachineSheet, wire: str) -> np.ndarray:
    """An input [V of a nominal supply]: its share of the rail; nothing without a rail."""
    rail_v = solution.volt("rail", "earth")
    alive = rail_v > 1
    share = solution.volt(f"inner.{wire}", "earth") / np.where(alive, rail_v, 1.0)
    return np.where(alive, np.clip(share, 0.0, 1.0) * sheet.supply.nominal_v, 0.0)


def believed(solution: StackSolution, here: Here, name: str) -> np.ndarray:
    """Value the control unit works out for an input, codes or not: degC, kPa, percent open, or volts."""
    sheet = here.sheet
    entry, sensor = sheet.control_unit.inputs[name], sheet.sensors[name]
    volt = seen_v(solution, sheet, entry.wire)
    share = volt / sheet.supply.nominal_v
    if isinstance(sensor, Thermistor):
        inside = np.clip(share, 1e-4, 1 - 1e-4)
        ratio = inside / (1 - inside) if entry.pull == "up" else (1 - inside) / inside
        return np.array([degrees_at(sensor, float(ohm)) for ohm in entry.pull_ohm * ratio])
    if isinstance(sensor, RatiometricPressure):
        return (share + sensor.b) / sensor.a_per_kpa
    if isinstance(sensor, PotentiometerSensor):
        return 100 * (share - sensor.closed_share) / (sensor.open_share - sensor.closed_share)
    return volt


def tolerance_of(here: Here, name: str) -> float | np.ndarray:
    """How far a healthy sensor may lie off, in the unit of `believed`; volts: two percent of the supply."""
    sheet = here.sheet
    sensor = sheet.sensors[name]
    if isinstance(sensor, Thermistor):
        return sensor.tolerance_k
    if isinstance(sensor, RatiometricPressure):
        return np.array([sensor.tolerance_at_kpa(float(celsius)) for celsius in here.air_c])
    if isinstance(sensor, PotentiometerSensor):
        return 100 * sensor.tolerance_share / abs(sensor.open_share - sensor.closed_share)
    return 0.02 * sheet.supply.nominal_v
