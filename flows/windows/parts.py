"""Windows of parts by themselves: their resistance on the bench, and a wire lifted through a resistor."""

from flows.sensors import CoilSensor, PotentiometerSensor, Thermistor
from flows.units import figure
from flows.windows.supply import loaded_divider, rail_of, supply_at_plug
from flows.windows.temperature import SOAK_K, ohm_at
from flows.windows.window import Context, Window, WindowError

TRACK_SHARE = 0.2  # a potentiometer's track; common practice, no source
PART_K = 15.0  # a part may be this much warmer or colder than the thermometer; common practice, no source
LEADS_OHM = 0.5


def part_resistance(c: Context, *, sensor: str, temperature_from: str | None = None) -> Window:
    """Resistance [ohm] of a coil, track or thermistor by itself, plug off, at the temperature it has."""
    part = c.sheet.sensors.get(sensor)
    degrees = c.sensor_c if temperature_from is None else c.reading(temperature_from)
    if isinstance(part, PotentiometerSensor):
        low, high = part.ohm * (1 - TRACK_SHARE), part.ohm * (1 + TRACK_SHARE)
        because = f"The track is {figure(part.ohm, 'ohm', trim=True)}, give or take a fifth."
        return Window(low, high, "ohm", because, nominal=part.ohm)
    if isinstance(part, CoilSensor):
        ends = [part.ohm_20c * (1 + part.per_k * (t - 20)) for t in (degrees - PART_K, degrees + PART_K)]
        low, high = min(ends) * (1 - part.tolerance), max(ends) * (1 + part.tolerance) + LEADS_OHM
        because = f"At {_degrees(degrees)} this part has {_ohms(low)} to {_ohms(high)}, leads among it."
        return Window(low, high, "ohm", because, nominal=part.ohm_20c * (1 + part.per_k * (degrees - 20)))
    if isinstance(part, Thermistor):
        spread = SOAK_K + part.tolerance_k
        low, high = ohm_at(part, degrees + spread), ohm_at(part, degrees - spread)
        because = f"At {_degrees(degrees)} the sensor has {_ohms(low)} to {_ohms(high)}."
        return Window(low, high, "ohm", because, nominal=ohm_at(part, degrees))
    raise WindowError(f"'{sensor}' has no resistance on this machine's sheet")


def lifted(c: Context, *, jumper: str) -> Window:
    """Voltage [V] of an open ground wire that a jumper pulls up: to the supply, or to what the input is pulled to."""
    if jumper not in c.sheet.jumpers:
        raise WindowError(f"'{jumper}' is no jumper of this machine")
    wires = [point.rpartition(".")[2] for point in c.sheet.jumpers[jumper].between]
    if any(rail_of(wire) == "supply" for wire in wires):
        made = supply_at_plug(c)
        assert made.low is not None and made.high is not None
        because = "An open wire is lifted to the supply by the resistor."
        return Window(*c.told_apart(made.low, made.high), "V", because, nominal=made.nominal)
    name = next((name for name, pin in c.sheet.control_unit.inputs.items() if pin.wire in wires), None)
    if name is None:
        raise WindowError(f"jumper '{jumper}' touches no supply and no input, so nothing is lifted")
    made = loaded_divider(c, input=name)
    because = "An open wire is lifted by the resistor to what the control unit pulls its input to."
    return Window(made.low, made.high, "V", because, nominal=made.nominal)


def _degrees(value: float) -> str:
    return f"{value:.0f} degrees".replace("-0 ", "0 ").replace("-", "minus ")


def _ohms(ohm: float) -> str:
    return figure(ohm, "ohm", decimals=1 if ohm < 100 else 0, trim=True)


OFFERS = (part_resistance, lifted)
