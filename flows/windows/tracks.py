"""Two position sensors on one lever: whatever the lever does, the second signal follows from the first."""

from flows.sensors import PotentiometerSensor
from flows.units import figure
from flows.windows.window import Context, Window, WindowError, said_between

FOOT_SHARE = (
    0.03  # of the travel: a foot that holds still moves this much between two readings; common practice, no source
)
PULL_SHARE = 0.006  # of the supply: what the inputs' pull resistors move two wipers apart; common practice, no source


def tracks_agree(c: Context, *, sensor: str, other: str, signal_from: str, supply_from: str | None = None) -> Window:
    """Signal [V] of `sensor` with the lever held where `other` read `signal_from` on its supply `supply_from`."""
    first, second = _track(c, other), _track(c, sensor)
    signal, fed = c.reading(signal_from), c.supply(supply_from)
    if fed.low < c.sheet.supply.nominal_v / 2:
        raise WindowError(f"the supply was read as {figure(fed.middle, 'V')}; find the supply fault first")
    slope = (second.open_share - second.closed_share) / (first.open_share - first.closed_share)
    share = second.closed_share + slope * (signal / fed.middle - first.closed_share)
    span = abs(second.open_share - second.closed_share)
    apart = second.tolerance_share + abs(slope) * first.tolerance_share + FOOT_SHARE * span + PULL_SHARE
    own = c.supply(None)
    low, high = own.low * max(share - apart, 0.0), own.high * (share + apart)
    because = f"With {figure(signal, 'V')} on the other track, this one gives {said_between(low, high, 'V')}."
    return Window(low, high, "V", because, nominal=own.middle * share)


def _track(c: Context, name: str) -> PotentiometerSensor:
    part = c.sheet.sensors.get(name)
    if not isinstance(part, PotentiometerSensor):
        raise WindowError(f"'{name}' is no potentiometer of this machine")
    return part


OFFERS = (tracks_agree,)
