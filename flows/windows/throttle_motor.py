"""Window of a motor that a bridge pulses: the share of the battery it must get."""

from flows.sensors import ValuesPart
from flows.units import figure
from flows.windows.window import Context, Window, WindowError

LEFT_SHARE = 0.87  # of the battery, while the bridge drives, that must reach the motor; common practice, no source


def motor_volts(c: Context, *, rest_from: str, sensor: str = "plate") -> Window:
    """Mean voltage [V] across a pulsed motor: duty of the sheet times the battery at rest, less what wires may lose."""
    part = c.sheet.sensors.get(sensor)
    if not isinstance(part, ValuesPart) or "duty" not in part.values:
        raise WindowError(f"'{sensor}' has no duty on this machine's sheet")
    duty, rest = part.values["duty"], c.reading(rest_from)
    low = duty * rest * LEFT_SHARE
    because = f"Driven {duty * 100:.0f} percent of the time, the motor must get {figure(low, 'V')} or more on average."
    return Window(low, None, "V", because, nominal=duty * rest)


OFFERS = (motor_volts,)
