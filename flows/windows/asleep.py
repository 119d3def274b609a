"""Windows of what sleeps: the drop across a fuse that would carry the whole limit by itself."""

from flows.physics.battery import parasitic_limit_a
from flows.sheet import ValuesPart
from flows.units import figure
from flows.windows.window import Context, Window, WindowError

FUSE_SHARE = 0.2  # fuses of one rating differ by this; common practice, no source


def fuse_drop(c: Context, *, fuse: str, sensor: str = "asleep") -> Window:
    """Drop [V] across a fuse: what the whole limit of the battery would make in it, whatever else it feeds."""
    part = c.sheet.sensors.get(sensor)
    if not isinstance(part, ValuesPart) or f"{fuse}_fuse_ohm" not in part.values:
        raise WindowError(f"there is no {fuse}_fuse_ohm on this machine's sheet")
    limit_a = parasitic_limit_a(c.sheet.battery.capacity_ah)
    least_v = 2 * float(c.meter.expanded_uncertainty("dc_voltage", 0.0))  # less than this the meter cannot tell
    most = max(limit_a * part.values[f"{fuse}_fuse_ohm"] * (1 + FUSE_SHARE), least_v)
    because = f"Above {figure(most, 'V', decimals=5)} this fuse alone carries more than the {figure(limit_a, 'A', decimals=4)} limit."
    return Window(-most, most, "V", because, nominal=0.0)


OFFERS = (fuse_drop,)
