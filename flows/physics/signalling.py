"""Signals on wires: two-wire bus termination and levels, 4 to 20 mA loops."""

from collections.abc import Mapping
from types import MappingProxyType

from flows.physics.dividers import parallel_ohm

TERMINATOR_RANGE_OHM = (100.0, 130.0)  # each end, nominal 120: ISO 11898-2; the range from memory

# Least, nominal and greatest voltage [V] of a two-wire bus, ISO 11898-2: recessive levels and both differences read in a
# transceiver data sheet, dominant levels of one wire from memory.
BUS_LEVELS_V: Mapping[tuple[str, str], tuple[float, float, float]] = MappingProxyType(
    {
        ("high", "recessive"): (2.0, 2.5, 3.0),
        ("low", "recessive"): (2.0, 2.5, 3.0),
        ("difference", "recessive"): (-0.120, 0.0, 0.012),  # with 60 ohm
        ("high", "dominant"): (2.75, 3.5, 4.5),
        ("low", "dominant"): (0.5, 1.5, 2.25),
        ("difference", "dominant"): (1.5, 2.0, 3.0),  # with 45 to 65 ohm
    }
)
RECESSIVE_UP_TO_V, DOMINANT_FROM_V = 0.5, 0.9  # receiver's thresholds; the second from memory


def bus_ohm(*terminators_ohm: float, nodes: int = 0, node_ohm: float = 30e3) -> float:
    """Resistance [ohm] across a two-wire bus, power off: the terminators side by side, and the nodes' inputs.

    node_ohm: differential input resistance of one node [ohm]. Source: Ohm's law on ISO 11898-2 parts.
    Raises ValueError without a terminator or node, or for a resistance not above 0.

    >>> bus_ohm(120, 120), round(bus_ohm(120, 120, nodes=10), 1)
    (60.0, 58.8)
    """
    return parallel_ohm(*terminators_ohm, *([node_ohm] * nodes))


def bus_ohm_window() -> tuple[float, float]:
    """Least and greatest resistance [ohm] across a bus with two terminators of ISO 11898-2's range.

    Source: ISO 11898-2, 120 ohm; the range of 100 to 130 ohm from memory.

    >>> bus_ohm_window()
    (50.0, 65.0)
    """
    low, high = TERMINATOR_RANGE_OHM
    return bus_ohm(low, low), bus_ohm(high, high)


def bus_fault(ohm: float) -> str:
    """What a resistance [ohm, 0 or more] across the bus means: the count of terminators that comes nearest, or a short.

    Source: ISO 11898-2's terminator range over the count, 3 percent below for the nodes beside them; a short below 5 ohm is
    common practice. Raises ValueError below 0.

    >>> [bus_fault(r) for r in (0.3, 40.0, 60.0, 119.0, 15_000.0)]
    ['shorted pair', 'three terminators', 'two terminators', 'one terminator', 'no terminator']
    """
    if not ohm >= 0:
        raise ValueError(f"ohm is {ohm:g}, must be 0 or more")
    low, high = TERMINATOR_RANGE_OHM
    if ohm < 5:
        return "shorted pair"
    for count, words in ((1, "one terminator"), (2, "two terminators"), (3, "three terminators")):
        if low / count * 0.97 <= ohm <= high / count:
            return words
    return "no terminator" if ohm > high else "damaged or too many terminators"


def bus_level_v(line: str, state: str) -> tuple[float, float, float]:
    """Least, nominal and greatest voltage [V] of a two-wire bus: line "high", "low" or "difference", state "recessive" or
    "dominant".

    Source: ISO 11898-2 by a transceiver data sheet; dominant levels of one wire from memory. Raises ValueError otherwise.

    >>> bus_level_v("high", "recessive")
    (2.0, 2.5, 3.0)
    """
    if (line, state) not in BUS_LEVELS_V:
        known = ", ".join(" ".join(key) for key in BUS_LEVELS_V)
        raise ValueError(f"line {line!r} with state {state!r} is unknown; use one of {known}")
    return BUS_LEVELS_V[line, state]


def received_as(difference_v: float) -> str:
    """What a receiver makes of a difference [V] between the two wires: recessive, dominant, or undefined between.

    Source: ISO 11898-2, 0.5 V read in a transceiver data sheet, 0.9 V from memory.

    >>> [received_as(v) for v in (0.0, 0.5, 0.7, 0.9, 2.0)]
    ['recessive', 'recessive', 'undefined', 'dominant', 'dominant']
    """
    if difference_v <= RECESSIVE_UP_TO_V:
        return "recessive"
    return "dominant" if difference_v >= DOMINANT_FROM_V else "undefined"


def live_bus_v(line: str, dominant_share: float) -> float:
    """What a meter on DC shows of one wire of a talking bus [V]: the mean of its nominal levels, by the share dominant.

    line: "high" or "low"; dominant_share 0..1. Source: common practice, a meter on DC shows the mean. ValueError outside.

    >>> round(live_bus_v("high", 0.1), 2), round(live_bus_v("low", 0.1), 2)
    (2.6, 2.4)
    """
    if not 0 <= dominant_share <= 1:
        raise ValueError(f"dominant_share is {dominant_share:g}, must be 0 to 1")
    quiet, talking = bus_level_v(line, "recessive")[1], bus_level_v(line, "dominant")[1]
    return quiet + dominant_share * (talking - quiet)


def loop_percent(milliamps: float) -> float:
    """Reading [percent of span] of a 4 to 20 mA loop at a current [mA].  Source: 4 mA is 0, 20 mA is 100 percent.

    >>> round(loop_percent(3.8), 3), loop_percent(20.5)
    (-1.25, 103.125)
    """
    return (milliamps - 4) / 16 * 100


def loop_ma(percent: float) -> float:
    """Current [mA] of a 4 to 20 mA loop at a reading [percent of span].  Source: 4 mA is 0, 20 mA is 100 percent.

    >>> loop_ma(50)
    12.0
    """
    return 4 + percent / 100 * 16


def loop_v(milliamps: float, burden_ohm: float = 250.0) -> float:
    """Voltage [V] a loop current [mA] makes on its burden [ohm, above 0].

    Source: Ohm's law. Raises ValueError when burden_ohm is not above 0.

    >>> round(loop_v(20.5), 3)
    5.125
    """
    if not burden_ohm > 0:
        raise ValueError(f"burden_ohm is {burden_ohm:g}, must be above 0")
    return milliamps / 1000 * burden_ohm


def loop_state(milliamps: float) -> str:
    """What a loop current says: failure low, measuring, failure high, or the gap between.

    Source: NAMUR NE 43: failure at 3.6 mA or less and 21 mA or more, measuring from 3.8 to 20.5 mA. What is done with
    the gaps is left to the design.

    >>> [loop_state(ma) for ma in (3.6, 3.7, 3.8, 12, 20.5, 20.8, 21.0)]
    ['failure low', 'gap', 'measuring', 'measuring', 'measuring', 'gap', 'failure high']
    """
    if milliamps <= 3.6:
        return "failure low"
    if milliamps >= 21.0:
        return "failure high"
    return "measuring" if 3.8 <= milliamps <= 20.5 else "gap"
