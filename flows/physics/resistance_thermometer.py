"""Platinum resistance thermometers (Pt100 and its multiples)."""

import math

A_PER_K = 3.9083e-3
B_PER_K2 = -5.775e-7
C_PER_K4 = -4.183e-12  # below 0 degC only


def platinum_ohm(temperature_c: float, *, r0_ohm: float = 100.0) -> float:
    """Resistance [ohm] at temperature_c [degC, -200..850] of a platinum thermometer of r0_ohm at 0 degC.

    Source: IEC 60751, R = R0 (1 + A t + B t^2 + C (t - 100) t^3), C below 0 degC only. ValueError outside the range.

    >>> round(platinum_ohm(100), 2), round(platinum_ohm(-40), 2)
    (138.51, 84.27)
    """
    if not -200 <= temperature_c <= 850:
        raise ValueError(f"temperature_c is {temperature_c:g}, must be -200 to 850 degC for platinum")
    t = temperature_c
    cold = C_PER_K4 * (t - 100) * t**3 if t < 0 else 0.0
    return r0_ohm * (1 + A_PER_K * t + B_PER_K2 * t**2 + cold)


def platinum_c(ohm: float, *, r0_ohm: float = 100.0) -> float:
    """Temperature [degC, -200..850] of a platinum thermometer from its resistance [ohm].

    The quadratic is solved in closed form above 0 degC, and polished by Newton's method below.
    Source: IEC 60751, the equation of platinum_ohm. Raises ValueError outside the range.

    >>> round(platinum_c(138.5055), 3), round(platinum_c(60.2558), 2)
    (100.0, -100.0)
    """
    low, high = platinum_ohm(-200, r0_ohm=r0_ohm), platinum_ohm(850, r0_ohm=r0_ohm)
    if not low - 1e-9 <= ohm <= high + 1e-9:
        raise ValueError(
            f"ohm is {ohm:g}, must be {low:.2f} to {high:.2f} for a platinum thermometer of {r0_ohm:g} ohm"
        )
    t = (-A_PER_K + math.sqrt(A_PER_K**2 - 4 * B_PER_K2 * (1 - ohm / r0_ohm))) / (2 * B_PER_K2)
    for _ in range(4 if t < 0 else 0):
        t = max(-200.0, t)
        slope = A_PER_K + 2 * B_PER_K2 * t + C_PER_K4 * (4 * t**3 - 300 * t**2)
        t -= (platinum_ohm(t, r0_ohm=r0_ohm) / r0_ohm - ohm / r0_ohm) / slope
    return t


def platinum_tolerance_k(temperature_c: float, tolerance_class: str) -> float:
    """Tolerance [K] of class "A" or "B" at temperature_c [degC].  Source: IEC 60751. ValueError for another class.

    >>> round(platinum_tolerance_k(100, "A"), 2), round(platinum_tolerance_k(100, "B"), 2)
    (0.35, 0.8)
    """
    known = {"A": (0.15, 0.002), "B": (0.30, 0.005)}
    if tolerance_class not in known:
        raise ValueError(f"tolerance_class is {tolerance_class!r}, use A or B")
    base, slope = known[tolerance_class]
    return base + slope * abs(temperature_c)
