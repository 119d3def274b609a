"""Signals on wires: two-wire bus termination and levels, 4 to 20 mA loops."""

from flows.physics.dividers import parallel_ohm

TERMINATOR_OHM = 120.0  # ISO 11898-2, each end
TERMINATOR_RANGE_OHM = (100.0, 130.0)  # from memory
RECESSIVE_V = (2.0, 3.0)  # either line, no load: transceiver data sheet
RECESSIVE_DIFFERENCE_V = (-0.120, 0.012)  # 60 ohm: transceiver data sheet
DOMINANT_DIFFERENCE_V = (1.5, 3.0)  # 45 to 65 ohm: ISO 11898-2


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

    >>> bus_ohm_window()
    (50.0, 65.0)
    """
    low, high = TERMINATOR_RANGE_OHM
    return bus_ohm(low, low), bus_ohm(high, high)


def bus_fault(ohm: float) -> str:
    """What a resistance [ohm, 0 or more] across the bus means: the count of terminators that comes nearest, or a short.

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


def loop_percent(milliamps: float) -> float:
    """Reading [percent of span] of a 4 to 20 mA loop.

    >>> round(loop_percent(3.8), 3), loop_percent(20.5)
    (-1.25, 103.125)
    """
    return (milliamps - 4) / 16 * 100


def loop_ma(percent: float) -> float:
    """Current [mA] of a 4 to 20 mA loop at a reading [percent of span].

    >>> loop_ma(50)
    12.0
    """
    return 4 + percent / 100 * 16


def loop_v(milliamps: float, burden_ohm: float = 250.0) -> float:
    """Voltage [V] a loop current makes on its burden [ohm, above 0].

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
