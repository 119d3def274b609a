"""Windows of position sensors: the wiper's share of the supply at a known opening, and the data display."""

from flows.sensors import PotentiometerSensor
from flows.units import figure
from flows.windows.window import Context, Window, WindowError, said_between

DISPLAY_PERCENT = 1.5  # converter and digit of the display; common practice, no source
LEVERS = {"closed": 0.0, "open": 1.0}


def position_signal(c: Context, *, sensor: str, lever: str, supply_from: str | None = None) -> Window:
    """Signal [V] of a position sensor at rest (lever: closed) or held open: its share of the supply and tolerance."""
    part, supply = _sensor(c, sensor), c.supply(supply_from)
    share = part.share(_opened(lever))
    pull_share = _pull(c, sensor, part, share)
    low = supply.low * (share - part.tolerance_share - max(0.0, -pull_share))
    high = supply.high * (share + part.tolerance_share + max(0.0, pull_share))
    because = f"{lever.capitalize()}, the sensor gives {said_between(low, high, 'V')} {supply.words}."
    return Window(low, high, "V", because, nominal=supply.middle * share)


def displayed_position(c: Context, *, sensor: str, signal_from: str, supply_from: str | None = None) -> Window:
    """What the data display should show [percent] for the voltage at the plug."""
    part, signal, supply = _sensor(c, sensor), c.reading(signal_from), c.supply(supply_from)
    if supply.low < c.sheet.supply.nominal_v / 2:
        raise WindowError(f"the supply was read as {figure(supply.middle, 'V')}; find the supply fault first")
    spread = float(c.meter.expanded_uncertainty("dc_voltage", signal))
    span = part.open_share - part.closed_share
    low, high = (
        100 * (volts / rail - part.closed_share) / span + sign * DISPLAY_PERCENT
        for volts, rail, sign in ((signal - spread, supply.high, -1), (signal + spread, supply.low, 1))
    )
    low, high = (min(max(end, 0.0), 100.0) for end in (low, high))  # a display shows nothing beyond
    said = " to ".join(f"{end:.0f}" for end in (low, high))
    because = f"At the plug, {figure(signal, 'V')} means {said} percent by the sensor's curve."
    return Window(low, high, "percent", because, nominal=(low + high) / 2)


def _sensor(c: Context, name: str) -> PotentiometerSensor:
    part = c.sheet.sensors.get(name)
    if not isinstance(part, PotentiometerSensor):
        raise WindowError(f"'{name}' is no potentiometer of this machine")
    return part


def _opened(lever: str) -> float:
    if lever not in LEVERS:
        raise WindowError(f"position_signal takes lever: closed or open, not '{lever}'")
    return LEVERS[lever]


def _pull(c: Context, name: str, part: PotentiometerSensor, share: float) -> float:
    """How far the input's pull and the meter move the wiper, in shares of the supply; its sign tells up from down."""
    pin = c.input(name)
    inside = part.ohm * share * (1 - share) + part.wiper_ohm
    target = 1.0 if pin.pull == "up" else 0.0
    return (target - share) * inside / (inside + pin.pull_ohm)


OFFERS = (position_signal, displayed_position)
