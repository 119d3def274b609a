"""Windows of what sleeps: drop across a fuse, how far the draw may fall with one fuse, and what may be left with none."""

from flows.physics.battery import parasitic_limit_a
from flows.sensors import ValuesPart
from flows.units import figure
from flows.windows.window import Context, Window, WindowError

ASLEEP_SHARE = 0.3  # what sleeps draws so much more or less than the sheet says; the sheet's own tolerance
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


def draw_falls(c: Context, *, fuse: str, step: str, sensor: str = "asleep", turns: int = 1) -> Window:
    """Current [A] with fuses pulled, when only what sleeps behind them has gone. step: the draw with all fuses in.

    fuse: one name or several, with commas between. turns: of the test lead through the clamp, each of which counts.
    """
    before = c.reading(step)
    goes_a = sum(_asleep_a(c, sensor, name.strip()) for name in fuse.split(",")) * (1 + ASLEEP_SHARE) * turns
    room = 2 * _sure_a(c, before)  # two readings, and room to tell a fall from the meter's error
    because = (
        f"Of {figure(before, 'A', decimals=4)} no more than {figure(goes_a, 'A', decimals=4)} may sleep behind what is pulled; "
        "a larger fall is the draw."
    )
    return Window(before - goes_a - room, before + room, "A", because, nominal=before)


def draw_left(c: Context, *, step: str, sensor: str = "asleep", turns: int = 1) -> Window:
    """Current [A] with every fuse pulled: less than half of what was too much. step: the draw with all fuses in.

    turns: of the test lead through the clamp.
    """
    before = c.reading(step)
    part = c.sheet.sensors.get(sensor)
    names = (
        [n.removesuffix("_asleep_a") for n in part.values if n.endswith("_asleep_a")]
        if isinstance(part, ValuesPart)
        else []
    )
    asleep_a = sum(_asleep_a(c, sensor, name) for name in names) * turns
    most = max((before - asleep_a * (1 + ASLEEP_SHARE)) / 2, 2 * _sure_a(c, 0.0))
    because = f"With all fuses out, more than {figure(most, 'A', decimals=4)} left is a draw that has no fuse."
    return Window(None, most, "A", because)


def draw_turned(c: Context, *, turns: int) -> Window:
    """Current [A] on the clamp around turns of a test lead: as `parasitic_draw`, so many times. Ampere turns."""
    high = parasitic_limit_a(c.sheet.battery.capacity_ah) * turns
    because = f"Three tenths of the battery in a month, {turns} times over, is {figure(high, 'A', decimals=3)}."
    return Window(None, high, "A", because)


def _asleep_a(c: Context, sensor: str, fuse: str) -> float:
    part = c.sheet.sensors.get(sensor)
    if not isinstance(part, ValuesPart) or f"{fuse}_asleep_a" not in part.values:
        raise WindowError(f"there is no {fuse}_asleep_a on this machine's sheet")
    return float(part.values[f"{fuse}_asleep_a"])


def _sure_a(c: Context, ampere: float) -> float:
    return float(c.meter.expanded_uncertainty("current", ampere))


OFFERS = (fuse_drop, draw_falls, draw_left, draw_turned)
