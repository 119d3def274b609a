"""A pulled up pin read from battery positive: what is left of the battery tells a free wire, a held one and a cut one."""

from flows.windows.battery import KEY_ON_V
from flows.windows.window import Context, Window, WindowError, said_between

LEAST_PULL_SHARE = 0.9  # of the pull: a wire with resistance loses little to a meter, a leak more; common practice
CRANK_V = 0.3  # the loads of a key that is on, and a battery that has just cranked; common practice, no source


def pin_from_battery(c: Context, *, input: str, rest_from: str) -> Window:
    """Voltage [V] from battery positive to an unplugged pin that the control unit pulls up. Raises WindowError.

    Low: next to nothing, the wire floats, so it is cut or the control unit does not pull. High: nearly the whole
    battery, so something holds the wire down. A reading of the whole battery proves both probes, nothing does not.
    Source: Kirchhoff's voltage law round battery, pull and meter.
    """
    pin = c.input(input)
    if pin.pull != "up":
        raise WindowError(f"input '{input}' is not pulled up; pin_from_battery takes one that is")
    rest, pull = c.reading(rest_from), c.pull_v(input)
    low = rest - KEY_ON_V - CRANK_V - pull.high
    high = rest + 0.1 - pull.low * LEAST_PULL_SHARE
    because = f"The battery less what the control unit pulls this pin to is {said_between(low, high, 'V')}."
    return Window(low, high, "V", because, nominal=rest - pull.middle)


def supply_from_battery(c: Context, *, rest_from: str) -> Window:
    """Voltage [V] from battery positive to an unplugged sensor supply pin. Low, high and source as `pin_from_battery`.

    A supply that is dead is held down by what else hangs on it, so it reads high as a short does.
    """
    rest, supply = c.reading(rest_from), c.supply()
    low = rest - KEY_ON_V - CRANK_V - supply.high
    high = rest + 0.1 - supply.low * LEAST_PULL_SHARE
    because = f"The battery less the sensor supply is {said_between(low, high, 'V')}."
    return Window(low, high, "V", because, nominal=rest - supply.middle)


OFFERS = (pin_from_battery, supply_from_battery)
