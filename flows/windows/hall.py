"""Windows of switched signals: the swing of an output that pulls down what the control unit pulls up."""

import math

from flows.sensors import ValuesPart
from flows.units import figure
from flows.windows.window import Context, Window, WindowError

SWING_SHARE = (0.75, 1.2)  # of the swing, with the wheel's own share of low time; common practice, no source

SPEED_TIMES = 2.0  # idle and cranking speed may be this far from the sheet's; common practice, no source


def switched_pulses(c: Context, *, sensor: str) -> Window:
    """Pulses [V rms, A C] of a switched output while cranking: its pull-up, and the share of time it is low."""
    part = c.sheet.sensors.get(sensor)
    if not isinstance(part, ValuesPart) or "cranking_duty" not in part.values:
        raise WindowError(f"'{sensor}' has no cranking_duty on this machine's sheet")
    duty, pull = part.values["cranking_duty"], c.pull_v(sensor)
    nominal = pull.middle * math.sqrt(duty * (1 - duty))
    low, high = (nominal * share for share in SWING_SHARE)
    because = f"Swinging between the pull up and nothing makes {figure(low, 'V')} A C or more."
    return Window(low, high, "V", because, nominal=nominal)


def pulses_shown(c: Context, *, sensor: str, engine: str = "idle") -> Window:
    """Pulses [Hz] that the data display shows while the engine turns: teeth a turn times the speed, which may wander."""
    part = c.sheet.sensors.get(sensor)
    if not isinstance(part, ValuesPart) or "pulses_per_turn" not in part.values:
        raise WindowError(f"'{sensor}' has no pulses_per_turn on this machine's sheet")
    nominal = c.sheet.engine.rpm(engine) / 60 * part.values["pulses_per_turn"]
    low, high = nominal / SPEED_TIMES, nominal * SPEED_TIMES
    rounded = [figure(end, "Hz", decimals=0) for end in (low, high)]
    because = f"At that speed the display counts {rounded[0]} to {rounded[1]}."
    return Window(low, high, "Hz", because, nominal=nominal)


OFFERS = (switched_pulses, pulses_shown)
