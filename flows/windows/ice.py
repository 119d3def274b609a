"""A thermistor in stirred ice water: its resistance at nothing degrees, a reference that needs no thermometer."""

from flows.sensors import Thermistor
from flows.units import figure
from flows.windows.temperature import ohm_at
from flows.windows.window import Context, Window, WindowError

ICE_C = 0.0  # melting ice in water at one atmosphere; ITS-90 puts the triple point at 0.01 degC
BATH_K = 0.2  # crushed ice and water in a cup, stirred; a bath after ASTM E563 holds hundredths, a cup of tap ice this; common practice


def in_ice(c: Context, *, sensor: str) -> Window:
    """Resistance [ohm] of a thermistor that stands in ice water, by its curve and tolerance. Raises WindowError."""
    part = c.sheet.sensors.get(sensor)
    if not isinstance(part, Thermistor):
        raise WindowError(f"'{sensor}' is no thermistor of this machine; in_ice takes one")
    spread = part.tolerance_k + BATH_K
    low, high = ohm_at(part, ICE_C + spread), ohm_at(part, ICE_C - spread)
    because = f"In ice water the sensor has {figure(low, 'ohm', decimals=0)} to {figure(high, 'ohm', decimals=0)}."
    return Window(low, high, "ohm", because, nominal=ohm_at(part, ICE_C))


OFFERS = (in_ice,)
