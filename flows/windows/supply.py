"""Windows of the sensor supply and of pins pulled or loaded through a resistor."""

from itertools import product

from flows.physics.dividers import node_v
from flows.units import figure
from flows.windows.window import Context, Span, Window, WindowError, said_between

PULL_SHARE = 0.02  # tolerance of a control unit's pull resistor; common practice, no source
JUMPER_SHARE = 0.05  # a five percent resistor in the technician's hand


def supply_at_plug(c: Context) -> Window:
    """Sensor supply [V] at the plug: the control unit's nominal and its tolerance."""
    part = c.sheet.supply
    low, high = part.nominal_v * (1 - part.tolerance), part.nominal_v * (1 + part.tolerance)
    because = (
        f"The control unit makes {part.nominal_v:g} volts within {part.tolerance * 100:g} percent, "
        f"which is {said_between(low, high, 'V')}."
    )
    return Window(low, high, "V", because, nominal=part.nominal_v)


def supply_load_off(c: Context, *, step: str) -> Window:
    """Supply [V] with the plug off: as read before, or up to the top of its tolerance when a load was on it."""
    before = c.reading(step)
    top = max(before, c.sheet.supply.nominal_v * (1 + c.sheet.supply.tolerance))
    because = f"Unplugged, the supply stays at {figure(before, 'V')} or rises to {figure(top, 'V')} at most."
    return Window(*c.told_apart(before, top), "V", because, nominal=before)


def loaded_divider(
    c: Context,
    *,
    input: str | None = None,
    sensor: str | None = None,
    jumper: str | None = None,
    resistor_ohm: float | None = None,
    to: str | None = None,
    supply_from: str | None = None,
) -> Window:
    """Voltage [V] of an unplugged input pin, loaded through a resistor to the supply or to ground, or not loaded.

    The pin holds the control unit's pull resistor, the meter and, where given, a jumper of the sheet (or
    resistor_ohm with to: supply or ground). This is what a sound wire to a sound control unit reads.
    """
    name = input or sensor
    if name is None:
        raise WindowError("loaded_divider needs 'input', the control unit's input the pin leads to")
    pin, supply = c.input(name), c.supply(supply_from)
    if jumper is not None:
        resistor_ohm, to = _jumper(c, jumper, pin.wire)
    if (resistor_ohm is None) != (to is None):
        raise WindowError("loaded_divider takes resistor_ohm and to together, or a jumper of the sheet, or neither")
    pull = c.pull_v(name)
    ways = _corners(pin.pull_ohm, pull, supply, resistor_ohm, to)
    corners = [node_v(*branches, (0.0, c.meter.input_ohm)) for branches in ways]
    low, high = c.told_apart(min(corners), max(corners))
    load = "nothing on it" if resistor_ohm is None else f"{_ohms(float(resistor_ohm))} to {to}"
    because = (
        f"A sound wire, pulled {pin.pull} in the control unit through {_ohms(pin.pull_ohm)}, "
        f"with {load}, reads {said_between(low, high, 'V')}."
    )
    return Window(low, high, "V", because, nominal=(low + high) / 2)


def _corners(
    pull_ohm: float, pull: Span, supply: Span, resistor_ohm: float | None, to: str | None
) -> list[list[tuple[float, float]]]:
    ends = {"supply": (supply.low, supply.high), "ground": (0.0, 0.0)}
    if to is not None and to not in ends:
        raise WindowError(
            f"a loaded pin goes to supply or ground, not to '{to}'; name a wire that ends in -supply or -ground"
        )
    pulls = [(v, pull_ohm * s) for v, s in product((pull.low, pull.high), (1 - PULL_SHARE, 1 + PULL_SHARE))]
    if resistor_ohm is None or to is None:
        return [[branch] for branch in pulls]
    loads = [(v, float(resistor_ohm) * s) for v, s in product(ends[to], (1 - JUMPER_SHARE, 1 + JUMPER_SHARE))]
    return [[first, second] for first, second in product(pulls, loads)]


def _jumper(c: Context, name: str, wire: str) -> tuple[float, str]:
    """Ohms of a jumper of the sheet, and where its other end goes."""
    if name not in c.sheet.jumpers:
        raise WindowError(f"'{name}' is no jumper of this machine; known: {', '.join(c.sheet.jumpers) or 'none'}")
    jumper = c.sheet.jumpers[name]
    wires = [point.rpartition(".")[2] for point in jumper.between]
    if wire not in wires:
        raise WindowError(f"jumper '{name}' does not touch the wire '{wire}'; it joins {' and '.join(wires)}")
    return jumper.ohm, rail_of(next((other for other in wires if other != wire), wire))


def rail_of(wire: str) -> str:
    """supply or ground for a wire called so, alone or at its end: `throttle-supply`, `coolant-ground`."""
    return next((rail for rail in ("supply", "ground") if wire == rail or wire.endswith(f"-{rail}")), wire)


def _ohms(ohm: float) -> str:
    return figure(ohm, "ohm", decimals=0, trim=True)
