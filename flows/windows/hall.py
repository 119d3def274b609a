"""Windows of switched signals: the swing of an output that pulls down what the control unit pulls up."""

import math

from flows.sheet import ValuesPart
from flows.units import figure
from flows.windows.window import Context, Window, WindowError

SWING_SHARE = (0.75, 1.2)  # of the swing, with the wheel's own share of low time; common practice, no source


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


OFFERS = (switched_pulses,)
