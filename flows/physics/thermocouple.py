"""Type K thermocouples: ITS-90 reference function, cold junction included."""

import math

LOWEST_C, HIGHEST_C = -270.0, 1372.0
# NIST ITS-90 (IEC 60584-1), mV from degC, lowest power first.
_BELOW_ZERO = (
    0.0,
    0.394501280250e-01,
    0.236223735980e-04,
    -0.328589067840e-06,
    -0.499048287770e-08,
    -0.675090591730e-10,
    -0.574103274280e-12,
    -0.310888728940e-14,
    -0.104516093650e-16,
    -0.198892668780e-19,
    -0.163226974860e-22,
)
_ABOVE_ZERO = (
    -0.176004136860e-01,
    0.389212049750e-01,
    0.185587700320e-04,
    -0.994575928740e-07,
    0.318409457190e-09,
    -0.560728448890e-12,
    0.560750590590e-15,
    -0.320207200030e-18,
    0.971511471520e-22,
    -0.121047212750e-25,
)
_HUMP = (0.118597600000, -0.118343200000e-03, 0.126968600000e03)


def type_k_mv(tip_c: float, *, reference_c: float = 0.0) -> float:
    """Voltage [mV] of a type K pair, tip at tip_c and cold junction at reference_c [degC, -270..1372].

    Source: NIST ITS-90 polynomial with its exponential term (IEC 60584-1). Raises ValueError outside the range.

    >>> round(type_k_mv(600), 3), round(type_k_mv(600, reference_c=25), 3)
    (24.905, 23.905)
    """
    return _to_ice_mv(tip_c) - (_to_ice_mv(reference_c) if reference_c else 0.0)


def type_k_c(millivolts: float, *, reference_c: float = 0.0) -> float:
    """Tip temperature [degC] from the voltage [mV] and the cold junction's temperature [degC].

    Source: NIST ITS-90, the function of type_k_mv inverted by halving: it rises all the way from -270 to 1372 degC.
    Raises ValueError for a voltage no type K pair makes.

    >>> round(type_k_c(10.000, reference_c=25), 2)
    270.71
    """
    wanted = millivolts + _to_ice_mv(reference_c)
    low, high = LOWEST_C, HIGHEST_C
    if not _to_ice_mv(low) <= wanted <= _to_ice_mv(high):
        raise ValueError(f"{millivolts:g} mV with the cold junction at {reference_c:g} degC is no type K voltage")
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if _to_ice_mv(middle) < wanted else (low, middle)
    return (low + high) / 2


def _to_ice_mv(temperature_c: float) -> float:
    if not LOWEST_C <= temperature_c <= HIGHEST_C:
        raise ValueError(f"temperature is {temperature_c:g}, must be {LOWEST_C:g} to {HIGHEST_C:g} degC for type K")
    below = temperature_c < 0
    total = 0.0
    for coefficient in reversed(_BELOW_ZERO if below else _ABOVE_ZERO):
        total = total * temperature_c + coefficient
    if below:
        return total
    a0, a1, a2 = _HUMP
    return total + a0 * math.exp(a1 * (temperature_c - a2) ** 2)
