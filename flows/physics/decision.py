"""Deciding with an uncertain reading: uncertainty, conformance, guard bands (JCGM 100, JCGM 106, ILAC-G8)."""

import math


def rectangular_u(half_width: float) -> float:
    """Standard uncertainty of an error known only to lie within plus or minus half_width (same unit, 0 or more).

    Source: JCGM 100:2008 4.3.7, u = a / sqrt(3). Raises ValueError below 0.

    >>> round(rectangular_u(0.0270), 6)
    0.015588
    """
    if not half_width >= 0:
        raise ValueError(f"half_width is {half_width:g}, must be 0 or more")
    return half_width / math.sqrt(3)


def resolution_u(last_digit: float) -> float:
    """Standard uncertainty of rounding to last_digit (same unit, 0 or more).

    Source: JCGM 100:2008 F.2.2.1, u = last digit / (2 sqrt(3)). Raises ValueError below 0.

    >>> round(resolution_u(0.01), 6)
    0.002887
    """
    return rectangular_u(last_digit) / 2


def combined_u(*parts: float) -> float:
    """Root sum of squares of independent standard uncertainties.  Source: JCGM 100:2008 5.1.2.

    >>> round(combined_u(0.015588, 0.000289), 6)
    0.015591
    """
    return math.hypot(*parts)


def expanded_u(standard_u: float, *, k: float = 2.0) -> float:
    """Expanded uncertainty U = k u; k = 2 covers about 95 percent of a normal error.  Source: JCGM 100:2008 6.2.1.

    >>> round(expanded_u(0.015591), 5)
    0.03118
    """
    return k * standard_u


def normal_cdf(z: float) -> float:
    """Share of a standard normal distribution below z.  Source: its definition by the error function.

    >>> round(normal_cdf(1.96), 4)
    0.975
    """
    return math.erfc(-z / math.sqrt(2)) / 2


def conformance_probability(value: float, standard_u: float, *, low: float | None, high: float | None) -> float:
    """Probability that the true value lies between the limits, given the reading and a normal error.

    value, low, high, standard_u: one unit; a limit of None is no limit; standard_u above 0.
    Source: JCGM 106:2012 clause 7, p = Phi((high - y) / u) - Phi((low - y) / u).
    Raises ValueError when standard_u is not above 0. The error of a meter is taken as normal here; a rectangular one gives other risks near a limit (rectangular_share).

    >>> round(conformance_probability(-5.47, 0.05, low=None, high=-5.40), 4)
    0.9192
    """
    if not standard_u > 0:
        raise ValueError(f"standard_u is {standard_u:g}, must be above 0")
    below_high = 1.0 if high is None else normal_cdf((high - value) / standard_u)
    below_low = 0.0 if low is None else normal_cdf((low - value) / standard_u)
    return max(0.0, below_high - below_low)


def specific_risk(value: float, standard_u: float, *, low: float | None, high: float | None) -> float:
    """Risk that the item is outside its limits although this reading is called a pass.  Source: JCGM 106:2012 9.3.

    >>> round(specific_risk(4.950, 0.015591, low=4.9, high=5.1), 4)
    0.0007
    """
    return 1 - conformance_probability(value, standard_u, low=low, high=high)


def rectangular_share(value: float, half_width: float, *, low: float | None, high: float | None) -> float:
    """Share of value plus or minus half_width that lies between the limits: the same question for a rectangular error.

    Source: JCGM 101:2008 6.4.2, a rectangular density. Raises ValueError when half_width is not above 0.

    >>> round(1 - rectangular_share(0.0995, 0.0008, low=None, high=0.1), 4)
    0.1875
    """
    if not half_width > 0:
        raise ValueError(f"half_width is {half_width:g}, must be above 0")
    bottom, top = value - half_width, value + half_width
    if low is not None:
        bottom = max(bottom, low)
    if high is not None:
        top = min(top, high)
    return max(0.0, top - bottom) / (2 * half_width)


def acceptance_limits(
    low: float | None, high: float | None, *, expanded: float, r: float = 1.0
) -> tuple[float | None, float | None]:
    """Limits drawn in by the guard band w = r U.  The pair may come out crossed: then no reading can pass.

    Source: ILAC-G8:09/2019 4.1, acceptance limit = tolerance limit - guard band.

    >>> acceptance_limits(None, 0.1000, expanded=0.00093)
    (None, 0.09907)
    """
    guard = r * expanded
    return (None if low is None else low + guard, None if high is None else high - guard)


def one_sided_risk(r: float, *, k: float = 2.0) -> float:
    """Largest risk of a false pass at one limit when the guard band is r U and U = k u.  Source: ILAC-G8:09/2019.

    >>> round(one_sided_risk(1.0), 4), round(one_sided_risk(1.0, k=1.96), 4), round(one_sided_risk(0.0), 1)
    (0.0228, 0.025, 0.5)
    """
    return normal_cdf(-r * k)


def lost_share(tolerance: float, expanded: float) -> float:
    """Share of a one-sided tolerance half-width used up by the guard band w = U (1 or more: nothing can pass).

    Source: ILAC-G8:09/2019 4.1, U over the tolerance. Raises ValueError when tolerance is not above 0.

    >>> lost_share(4.0, 1.0), lost_share(2.0, 1.0)
    (0.25, 0.5)
    """
    if not tolerance > 0:
        raise ValueError(f"tolerance is {tolerance:g}, must be above 0")
    return expanded / tolerance


def four_way(value: float, *, low: float | None, high: float | None, expanded: float) -> str:
    """Pass, conditional pass, conditional fail or fail, with guard band w = U.  Source: ILAC-G8:09/2019 4.2.3.

    >>> [four_way(v, low=4.9, high=5.1, expanded=0.03118) for v in (5.0, 5.08, 5.12, 5.14)]
    ['pass', 'conditional pass', 'conditional fail', 'fail']
    """
    over = max(value - high if high is not None else -math.inf, low - value if low is not None else -math.inf)
    if over > expanded:
        return "fail"
    if over > 0:
        return "conditional fail"
    return "conditional pass" if over > -expanded else "pass"
