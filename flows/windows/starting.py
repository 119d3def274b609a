"""Windows of starting: drops along the heavy path while the starter turns, and along the start wire that pulls it in."""

from flows.physics.battery import cranking_floor_v, rest_band_v
from flows.units import figure
from flows.windows.window import Context, Window

PATH_V = 0.2  # a heavy cable or a solenoid's contact while cranking; common practice, no source
SIGNAL_V = 0.8  # fuse, key switch and start wire together; common practice, no source
LOSS_V = 0.7  # what a part of the start wire that is bad loses at least; common practice, no source


def heavy_path(c: Context) -> Window:
    """Drop [V] along one part of the starter's own path while it turns."""
    most = figure(PATH_V, "V", decimals=1)
    return Window(-PATH_V, PATH_V, "V", f"With the starter turning this path may drop {most} at most.", nominal=0.0)


def start_signal(c: Context, *, cranking_from: str) -> Window:
    """Voltage [V] of the start wire at the solenoid: the battery while cranking, less what the wire may lose."""
    battery = max(c.reading(cranking_from), cranking_floor_v(c.site.outdoor_c))  # below it, that reading was none
    low = battery - SIGNAL_V
    because = f"Fuse, key switch and wire may take {figure(SIGNAL_V, 'V', decimals=1)} off the battery."
    return Window(low, battery + 2.0, "V", because, nominal=battery)


def start_loss(c: Context) -> Window:
    """Drop [V] over one part of the start wire: a bad part loses more."""
    most = figure(LOSS_V, "V", decimals=1)
    because = f"A part of the start wire that is bad loses more than {most}."
    return Window(-LOSS_V, LOSS_V, "V", because, nominal=0.0)


def whole_battery(c: Context, *, rest_from: str) -> Window:
    """Voltage [V] of a path without load, or across a contact that stays open: the battery at rest, within a volt."""
    rest = max(
        c.reading(rest_from), rest_band_v(c.sheet.battery.chemistry, c.site.outdoor_c)[0]
    )  # below, it was a miss
    because = f"Without load the whole battery stands here, {figure(rest, 'V')} at rest."
    return Window(rest - 1.0, rest + 1.0, "V", because, nominal=rest)


OFFERS = (heavy_path, start_signal, start_loss, whole_battery)
