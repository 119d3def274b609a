"""A known resistor in a thermistor's place: what the data display then has to show."""

from itertools import product

from flows.sensors import Thermistor
from flows.units import figure
from flows.windows.supply import JUMPER_SHARE, PULL_SHARE
from flows.windows.temperature import degrees_at
from flows.windows.window import Context, Window, WindowError


def resistor_shown(c: Context, *, sensor: str, jumper: str) -> Window:
    """Temperature [degC] on the display with a jumper of the sheet in place of the thermistor. Raises WindowError.

    The control unit divides with its pull resistor and reads the sensor's own curve (Ohm's law): a pull resistor that
    is off by a share shifts it as a resistor that is off by that share would.
    """
    part = c.sheet.sensors.get(sensor)
    if not isinstance(part, Thermistor):
        raise WindowError(f"'{sensor}' is no thermistor of this machine; resistor_shown takes one")
    if jumper not in c.sheet.jumpers:
        raise WindowError(f"'{jumper}' is no jumper of this machine; known: {', '.join(c.sheet.jumpers) or 'none'}")
    ohm = c.sheet.jumpers[jumper].ohm
    spread = product((1 - JUMPER_SHARE, 1 + JUMPER_SHARE), (1 - PULL_SHARE, 1 + PULL_SHARE))
    found = [degrees_at(part, ohm * load / pull) for load, pull in spread]
    digit = c.meter.range_for("temperature", max(found)).resolution
    low, high = min(found) - digit / 2, max(found) + digit / 2
    shown = [figure(end, "degC", decimals=0) for end in (low, high)]
    because = f"The sensor has {figure(ohm, 'ohm', decimals=0)} at {shown[0]} to {shown[1]}."
    return Window(low, high, "degC", because, nominal=degrees_at(part, ohm))


OFFERS = (resistor_shown,)
