"""Dividers and pulled-up pins, with the meter that reads them in the circuit (Kirchhoff's current law)."""


def node_v(*branches: tuple[float, float]) -> float:
    """Voltage [V] of a node fed by (volts, ohms) branches: the mean of the volts weighted by 1 / ohms.

    Each branch is an ideal source [V] behind a resistance [ohm] above 0. Source: Millman's theorem.
    Raises ValueError without branches or when a resistance is not above 0.

    >>> node_v((5.0, 1000.0), (0.0, 1000.0))
    2.5
    """
    if not branches:
        raise ValueError("a node needs at least one branch; without any it floats")
    for volts, ohm in branches:
        if not ohm > 0:
            raise ValueError(f"the branch from {volts:g} V has {ohm:g} ohm, must be above 0 ohm")
    return sum(volts / ohm for volts, ohm in branches) / sum(1 / ohm for _, ohm in branches)


def parallel_ohm(*ohms: float) -> float:
    """Resistance [ohm] of resistors side by side, each above 0.

    Source: Kirchhoff's current law. Raises ValueError without resistors or for one not above 0.

    >>> parallel_ohm(120, 120)
    60.0
    """
    for ohm in ohms:
        if not ohm > 0:
            raise ValueError(f"a resistor of {ohm:g} ohm cannot be put in parallel; it must be above 0")
    if not ohms:
        raise ValueError("no resistors given")
    return 1 / sum(1 / ohm for ohm in ohms)


def lower_ohm_from_v(reading_v: float, source_v: float, *, upper_ohm: float) -> float:
    """Resistance [ohm] below the tap of a divider from its voltage, nothing else connected.

    source_v [V], upper_ohm [ohm]. Source: Ohm's law. Raises ValueError unless 0 < reading_v < source_v.

    >>> lower_ohm_from_v(2.5, 5.0, upper_ohm=2490.0)
    2490.0
    """
    if not 0 < reading_v < source_v:
        raise ValueError(f"{reading_v:g} V is not between 0 and the source of {source_v:g} V")
    return upper_ohm * reading_v / (source_v - reading_v)
