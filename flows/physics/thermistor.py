"""Thermistors that fall as they warm: Steinhart-Hart, and the simpler Beta model with its error."""

import math

ZERO_C_K = 273.15
T25_K = 298.15


def steinhart_hart_c(ohm: float, *, a: float, b: float, c: float) -> float:
    """Temperature [degC] at this resistance [ohm, above 0]: 1/T = a + b ln R + c (ln R)^3, T in kelvin.

    Source: Steinhart and Hart, Deep-Sea Research 15 (1968) 497.
    Raises ValueError when ohm is not above 0 or the coefficients give no temperature.

    >>> round(steinhart_hart_c(2252, a=1.461118182e-03, b=2.396808445e-04, c=9.256323184e-08), 2)
    25.01
    """
    if not ohm > 0:
        raise ValueError(f"ohm is {ohm:g}, must be above 0")
    log_r = math.log(ohm)
    inverse = a + b * log_r + c * log_r**3
    if not inverse > 0:
        raise ValueError(f"coefficients {a:g}, {b:g}, {c:g} give no temperature at {ohm:g} ohm; check the sheet")
    return 1 / inverse - ZERO_C_K


def steinhart_hart_ohm(temperature_c: float, *, a: float, b: float, c: float) -> float:
    """Resistance [ohm] at temperature_c [degC]: the cubic in ln R solved in closed form (Cardano).

    Source: the equation of steinhart_hart_c. Raises ValueError at or below absolute zero, or when b or c is not above 0.

    >>> round(steinhart_hart_ohm(0, a=1.461118182e-03, b=2.396808445e-04, c=9.256323184e-08))
    7373
    """
    if not temperature_c > -ZERO_C_K:
        raise ValueError(f"temperature_c is {temperature_c:g}, must be above absolute zero")
    if not (b > 0 and c > 0):
        raise ValueError(f"b {b:g} and c {c:g} must be above 0 for a thermistor that falls as it warms")
    half_q = (a - 1 / (temperature_c + ZERO_C_K)) / (2 * c)
    root = math.sqrt((b / (3 * c)) ** 3 + half_q**2)
    return math.exp(math.cbrt(root - half_q) - math.cbrt(root + half_q))


def steinhart_hart_fit(*points: tuple[float, float]) -> tuple[float, float, float]:
    """Coefficients (a, b, c) through exactly three (degC, ohm) points.

    Source: the equation of steinhart_hart_c, three of it solved. Raises ValueError for other than three resistances.

    >>> a, b, c = steinhart_hart_fit((0, 7373), (50, 811.5), (100, 153.8))
    >>> f"{a:.6e} {b:.6e} {c:.6e}"
    '1.461118e-03 2.396808e-04 9.256323e-08'
    """
    if len(points) != 3 or len({ohm for _, ohm in points}) != 3:
        raise ValueError(f"a fit needs three points of different resistance, got {len(points)}")
    (l1, y1), (l2, y2), (l3, y3) = ((math.log(ohm), 1 / (deg + ZERO_C_K)) for deg, ohm in points)
    g2, g3 = (y2 - y1) / (l2 - l1), (y3 - y1) / (l3 - l1)
    c = (g3 - g2) / (l3 - l2) / (l1 + l2 + l3)
    b = g2 - c * (l1**2 + l1 * l2 + l2**2)
    return y1 - (b + l1**2 * c) * l1, b, c


def beta_ohm(temperature_c: float, *, r25_ohm: float, beta_k: float) -> float:
    """Resistance [ohm] at temperature_c [degC] of the Beta model: R = R25 exp(B (1/T - 1/298.15)).

    Source: IEC 60539-1. Good near the temperatures B was taken from; beta_error_k says how good elsewhere.
    Raises ValueError for r25_ohm or beta_k not above 0, or at absolute zero.

    >>> round(beta_ohm(0, r25_ohm=10_000, beta_k=3977))
    33900
    """
    if not (r25_ohm > 0 and beta_k > 0):
        raise ValueError(f"r25_ohm {r25_ohm:g} and beta_k {beta_k:g} must be above 0")
    if not temperature_c > -ZERO_C_K:
        raise ValueError(f"temperature_c is {temperature_c:g}, must be above absolute zero")
    return r25_ohm * math.exp(beta_k * (1 / (temperature_c + ZERO_C_K) - 1 / T25_K))


def beta_c(ohm: float, *, r25_ohm: float, beta_k: float) -> float:
    """Temperature [degC] of the Beta model at this resistance [ohm, above 0].

    Source: IEC 60539-1, the equation of beta_ohm. Raises ValueError when ohm is not above 0.

    >>> round(beta_c(33900, r25_ohm=10_000, beta_k=3977), 1)
    0.0
    """
    if not ohm > 0:
        raise ValueError(f"ohm is {ohm:g}, must be above 0")
    return 1 / (1 / T25_K + math.log(ohm / r25_ohm) / beta_k) - ZERO_C_K


def beta_between_k(low_c: float, low_ohm: float, *, high_c: float, high_ohm: float) -> float:
    """B [K] from two (degC, ohm) points: ln(R1/R2) / (1/T1 - 1/T2).

    Source: IEC 60539-1. Raises ValueError when both points are at one temperature.

    >>> round(beta_between_k(25, 2252, high_c=50, high_ohm=811.5), 1)
    3933.6
    """
    if low_c == high_c:
        raise ValueError(f"both points are at {low_c:g} degC; B needs two temperatures")
    return math.log(low_ohm / high_ohm) / (1 / (low_c + ZERO_C_K) - 1 / (high_c + ZERO_C_K))


def beta_error_k(temperature_c: float, *, a: float, b: float, c: float, between: tuple[float, float]) -> float:
    """Error [K] of a Beta model at temperature_c [degC]: what it reads there less the truth, positive for too warm.

    a, b, c: the Steinhart-Hart curve taken as the truth. between: the two temperatures [degC] B is taken from, R25 being
    the curve's own. Source: both models of this module. Raises ValueError as they do.

    >>> round(beta_error_k(-20, a=1.461118182e-03, b=2.396808445e-04, c=9.256323184e-08, between=(25, 80)), 1)
    1.4
    """
    curve = {"a": a, "b": b, "c": c}
    low, high = between
    beta = beta_between_k(
        low, steinhart_hart_ohm(low, **curve), high_c=high, high_ohm=steinhart_hart_ohm(high, **curve)
    )
    r25 = steinhart_hart_ohm(25, **curve)
    return beta_c(steinhart_hart_ohm(temperature_c, **curve), r25_ohm=r25, beta_k=beta) - temperature_c


def alpha_interpolated_ohm(temperature_c: float, *, known_c: float, known_ohm: float, alpha_percent_k: float) -> float:
    """Resistance [ohm] near a catalogue point: R = Rx exp[(alpha/100) Tx^2 (1/T - 1/Tx)], alpha in percent per kelvin.

    Source: component catalogue, standardised R/T curves; its example, 10.6873 kohm at 5 degC, 4.4 %/K.

    >>> round(alpha_interpolated_ohm(7, known_c=5, known_ohm=10687.3, alpha_percent_k=4.4), 1)
    9793.2
    """
    t, tx = temperature_c + ZERO_C_K, known_c + ZERO_C_K
    return known_ohm * math.exp(alpha_percent_k / 100 * tx**2 * (1 / t - 1 / tx))
