"""Windows of what a control unit switches to ground: the feed under load, and pulses through a resistor in the part's place."""

import math

from flows.sensors import ValuesPart
from flows.units import figure
from flows.windows.window import Context, Window, WindowError

FEED_SHARE = 0.03  # of the battery that a feed may lose under load; common practice, no source
NOMINAL_V = 12.5
CRANKING_V = 10.5
PULSE_SHARE = 0.85  # of the pulses that must be left; common practice, no source
LOAD_SHARE = (
    0.93  # of the pulses over the resistor itself: what feed, drive wire and grounds may take; as feed_drop, twice
)


def feed_drop(c: Context) -> Window:
    """Drop [V] from the battery along a loaded feed: three percent of the battery."""
    most = FEED_SHARE * NOMINAL_V
    because = f"A feed may lose three percent of the battery, {figure(most, 'V', decimals=2)}."
    return Window(-0.05, most, "V", because, nominal=0.0)


def load_pulses(c: Context, *, pulses: str, supply_from: str | None = None) -> Window:
    """Pulses [V rms, A C] over the resistor itself: less where feed, drive wire or a ground takes its part."""
    nominal = driver_pulses(c, pulses=pulses, supply_from=supply_from).nominal or 0.0
    low = nominal * LOAD_SHARE
    because = f"Sound feed, wire, driver and grounds leave the resistor {figure(low, 'V')} A C or more."
    return Window(low, None, "V", because, nominal=nominal)


def driver_pulses(c: Context, *, pulses: str, supply_from: str | None = None) -> Window:
    """Pulses [V rms, A C] of a driver through a resistor: the battery as it is then, and the share of time it is on.

    pulses: a part of the sheet with cranking_duty, or with running_duty for what is only driven in a running engine.
    """
    part = c.sheet.sensors.get(pulses)
    found = {} if not isinstance(part, ValuesPart) else part.values
    duty = found.get("cranking_duty", found.get("running_duty"))
    if duty is None:
        raise WindowError(f"'{pulses}' has no cranking_duty or running_duty on this machine's sheet")
    volts = c.readings.get(supply_from, CRANKING_V) if supply_from is not None else CRANKING_V
    nominal = volts * math.sqrt(duty * (1 - duty))
    low = nominal * PULSE_SHARE
    because = f"On {duty * 100:.0f} percent of the time, a sound driver and wire make {figure(low, 'V')} A C or more."
    return Window(low, None, "V", because, nominal=nominal)


OFFERS = (feed_drop, load_pulses, driver_pulses)
