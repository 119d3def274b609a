"""What a meter does to a reading: accuracy, loading by its input, lead resistance, resistance from a drop."""

import math


def accuracy_half_width(reading: float, *, percent: float, counts: float, resolution: float) -> float:
    """Half-width a of a meter's error at this reading, in the unit of the reading.

    percent of reading, counts of the last digit, resolution: the last digit; all 0 or more, else ValueError.
    Source: the usual form of a maker's statement, +-(percent of reading + counts); example 32.00 V, 2.5 % + 3, by hand.

    >>> round(accuracy_half_width(32.00, percent=2.5, counts=3, resolution=0.01), 5)
    0.83
    """
    for name, number in (("percent", percent), ("counts", counts), ("resolution", resolution)):
        if not number >= 0:
            raise ValueError(f"{name} is {number:g}, must be 0 or more")
    return abs(reading) * percent / 100 + counts * resolution


def loaded_v(open_v: float, source_ohm: float, *, meter_ohm: float) -> float:
    """Voltage [V] a meter of meter_ohm shows at a point of open-circuit voltage open_v behind source_ohm .

    Source: Ohm's law. Raises ValueError when source_ohm is below 0 or meter_ohm not above 0.

    >>> round(loaded_v(1.0, 47e3, meter_ohm=1e6), 4)
    0.9551
    """
    if not source_ohm >= 0:
        raise ValueError(f"source_ohm is {source_ohm:g}, must be 0 ohm or more")
    if not meter_ohm > 0:
        raise ValueError(f"meter_ohm is {meter_ohm:g}, must be above 0 ohm")
    return open_v * meter_ohm / (meter_ohm + source_ohm)


def unloaded_v(reading_v: float, source_ohm: float, *, meter_ohm: float) -> float:
    """Voltage [V] that would be there without the meter: the reading [V] times (1 + source / meter) [ohm].

    Source: Ohm's law, loaded_v undone; its errors.

    >>> round(unloaded_v(loaded_v(5.0, 1e5, meter_ohm=1e7), 1e5, meter_ohm=1e7), 9)
    5.0
    """
    return reading_v / loaded_v(1.0, source_ohm, meter_ohm=meter_ohm)


def less_leads_ohm(reading_ohm: float, leads_ohm: float) -> float:
    """Resistance [ohm] of the part itself: the reading less what the shorted leads read, never below 0.

    Source: leads and part are in series.

    >>> round(less_leads_ohm(0.70, 0.20), 2)
    0.5
    """
    return max(0.0, reading_ohm - leads_ohm)


def resistance_from_drop(drop_v: float, current_a: float, *, drop_u: float, current_u: float) -> tuple[float, float]:
    """Resistance [ohm] from a voltage drop and the current, with its standard uncertainty [ohm].

    drop_u, current_u: standard uncertainties [V], [A]. Raises ValueError when either value is 0.
    Source: Ohm's law; relative uncertainties add in quadrature (JCGM 100:2008 5.1.6).

    >>> [round(x, 5) for x in resistance_from_drop(0.2280, 10.00, drop_u=0.0011, current_u=0.15)]
    [0.0228, 0.00036]
    """
    if drop_v == 0 or current_a == 0:
        raise ValueError("drop_v and current_a must not be 0: no current, no drop to divide")
    ohm = drop_v / current_a
    return ohm, abs(ohm) * math.hypot(drop_u / drop_v, current_u / current_a)
