"""Windows of a pump or fan under load: what it gets of the battery, and what one path to it may lose."""

from flows.units import figure
from flows.windows.window import Context, Window

KEPT_SHARE = 0.94  # of the battery at rest that reaches the load; common practice, no source
HOT_SHARE = 0.95  # of the current bridged that is left through a good switch; common practice, no source
PATH_V = 0.5  # a fused power path or a ground under the pump's current; common practice, no source


def pump_volts(c: Context, *, rest_from: str) -> Window:
    """Voltage [V] across a load that runs: nearly all of the battery at rest."""
    rest = c.reading(rest_from)
    low = rest * KEPT_SHARE
    because = f"Of {figure(rest, 'V')} at rest, {figure(low, 'V')} or more must reach it under load."
    return Window(low, None, "V", because, nominal=rest)


def pump_path(c: Context) -> Window:
    """Drop [V] along one path of the pump, ground or feed, while it runs: half a volt."""
    most = figure(PATH_V, "V", decimals=1)
    return Window(-PATH_V, PATH_V, "V", f"This path may lose {most} at most.", nominal=0.0)


def fan_hot(c: Context, *, step: str) -> Window:
    """Current [A] of a load through its own switch: as bridged, less what a bad contact takes. One clamp reads both."""
    before = c.reading(step)
    low = before * HOT_SHARE
    because = f"Bridged it drew {figure(before, 'A', decimals=1)}; through its own switch {figure(low, 'A', decimals=1)} or more."
    return Window(low, None, "A", because, nominal=before, simple=True)


OFFERS = (pump_volts, pump_path, fan_hot)
