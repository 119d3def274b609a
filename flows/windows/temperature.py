"""Windows of thermistor circuits: the divider with its pull resistor, and the data display."""

from itertools import product

from flows.physics.dividers import node_v
from flows.physics.thermistor import beta_c, beta_ohm, steinhart_hart_c, steinhart_hart_ohm
from flows.sensors import Thermistor
from flows.units import figure
from flows.windows.window import Context, Window, WindowError, said_between

SOAK_K = 5.0  # sensors and a thermometer agree within this after a night's rest; common practice, no source
OUTDOOR_K = 10.0  # a shed, the sun or a warm engine may move the part this far from a weather report
PULL_SHARE = 0.02  # tolerance of a control unit's pull resistor; common practice, no source
DISPLAY_SHARE = 0.01


def thermistor_divider(
    c: Context,
    *,
    sensor: str,
    supply_from: str | None = None,
    temperature: str | float | None = None,
    temperature_from: str | None = None,
    input: str | None = None,
) -> Window:
    """Signal [V] of a thermistor with its pull resistor at a known temperature, the meter across it.

    temperature: "thermometer", "outdoor", a step that read it, or degrees; temperature_from: a step.
    input: the control unit's input, where it is not named as the sensor.
    """
    part = c.thermistor(sensor)
    degrees, within, source = _temperature(c, temperature_from or temperature)
    name = sensor if input is None else input
    cold, hot = degrees - within - part.tolerance_k, degrees + within + part.tolerance_k
    ends = [_divided(c, name, ohm_at(part, t), supply_from) for t in (cold, hot)]
    low, high = min(end[0] for end in ends), max(end[1] for end in ends)
    nominal = sum(_divided(c, name, ohm_at(part, degrees), supply_from)) / 2
    because = (
        f"{source} {_degrees(degrees)}, give or take {within:g}, so the sensor's share of the supply is "
        f"{said_between(low, high, 'V')}."
    )
    return Window(low, high, "V", because, nominal=nominal)


def displayed_temperature(
    c: Context, *, sensor: str, signal_from: str, supply_from: str | None = None, input: str | None = None
) -> Window:
    """What the data display should show [degC] for the voltage at the plug."""
    part, name = c.thermistor(sensor), sensor if input is None else input
    pin, signal = c.input(name), c.reading(signal_from)
    supply = c.pull_v(name) if pin.pull == "up" else c.supply(supply_from)
    spread = float(c.meter.error("dc_voltage", signal)) + DISPLAY_SHARE * supply.high
    found = []
    for volts, top, pull in product(
        (signal - spread, signal + spread), (supply.low, supply.high), _around(pin.pull_ohm)
    ):
        share = volts / top if pin.pull == "up" else 1 - volts / top
        if 0 < share < 1:
            found.append(degrees_at(part, pull * share / (1 - share)))
    if not found:
        raise WindowError(f"{figure(signal, 'V')} at the plug is no temperature; the circuit is open or shorted")
    digit = c.meter.range_for("temperature", max(found)).resolution
    low, high = min(found) - digit, max(found) + digit
    because = f"At the plug, {figure(signal, 'V')} means {_number(low)} to {_degrees(high)} by the sensor's curve."
    return Window(low, high, "degC", because, nominal=(low + high) / 2)


def ohm_at(part: Thermistor, temperature_c: float) -> float:
    """Resistance [ohm] of the sheet's thermistor at a temperature [degC]."""
    if part.steinhart_hart is not None:
        k = part.steinhart_hart
        return steinhart_hart_ohm(temperature_c, a=k.a, b=k.b, c=k.c)
    assert part.r25_ohm is not None and part.beta_k is not None
    return beta_ohm(temperature_c, r25_ohm=part.r25_ohm, beta_k=part.beta_k)


def degrees_at(part: Thermistor, ohm: float) -> float:
    """Temperature [degC] of the sheet's thermistor at a resistance [ohm]."""
    if part.steinhart_hart is not None:
        k = part.steinhart_hart
        return steinhart_hart_c(ohm, a=k.a, b=k.b, c=k.c)
    assert part.r25_ohm is not None and part.beta_k is not None
    return beta_c(ohm, r25_ohm=part.r25_ohm, beta_k=part.beta_k)


def _divided(c: Context, name: str, ohm: float, supply_from: str | None) -> tuple[float, float]:
    """Least and greatest signal [V] over the corners of supply and pull resistor."""
    pin, supply = c.input(name), c.supply(supply_from)
    top = c.pull_v(name) if pin.pull == "up" else supply
    corners = []
    for volts, pull in product((top.low, top.high), _around(pin.pull_ohm)):
        across = (volts, pull) if pin.pull == "up" else (volts, ohm)
        below = (0.0, ohm) if pin.pull == "up" else (0.0, pull)
        corners.append(node_v(across, below, (0.0, c.meter.input_ohm)))
    return min(corners), max(corners)


def _around(ohm: float) -> tuple[float, float]:
    return ohm * (1 - PULL_SHARE), ohm * (1 + PULL_SHARE)


def _temperature(c: Context, source: str | float | None) -> tuple[float, float, str]:
    if isinstance(source, int | float):
        return float(source), SOAK_K, "It is"
    if source is None:
        source = "outdoor" if c.site.thermometer_c is None else "thermometer"
    if source == "thermometer":
        if c.site.thermometer_c is None:
            raise WindowError("this limit needs the thermometer's temperature, which has not been given")
        return c.site.thermometer_c, SOAK_K, "The thermometer says"
    if source == "outdoor":
        return c.site.outdoor_c, OUTDOOR_K, "Outdoors it is"
    return c.reading(source), SOAK_K, "The thermometer says"


def _number(value: float) -> str:
    text = f"{value:.0f}"
    return "0" if text == "-0" else text.replace("-", "minus ")


def _degrees(value: float) -> str:
    return f"{_number(value)} degrees"
