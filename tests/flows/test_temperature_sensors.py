"""Thermistors, platinum and type K against published tables (check-values 3.1 to 3.5)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq
from thermocouple_its90 import get

from flows.physics.resistance_thermometer import platinum_c, platinum_ohm, platinum_tolerance_k
from flows.physics.thermistor import (
    alpha_interpolated_ohm,
    beta_between_k,
    beta_c,
    beta_error_k,
    beta_ohm,
    steinhart_hart_c,
    steinhart_hart_fit,
    steinhart_hart_ohm,
)
from flows.physics.thermocouple import type_k_c, type_k_mv

DEGREES = (-40, -30, -20, -10, 0, 10, 20, 25, 30, 40, 50, 60, 70, 80, 90, 100, 110, 120, 130)
# check-values 3.2: CRAN `thermocouple` 1.0.2, rtdAndThermistorStandardValues; ohm.
TYPE_2252 = (
    77081,
    40330,
    22032,
    12519,
    7373,
    4487,
    2814,
    2252,
    1814,
    1199,
    811.5,
    561.0,
    395.5,
    284.0,
    207.4,
    153.8,
    115.8,
    88.3,
    68.3,
)
TYPE_2 = (
    344700,
    180100,
    98320,
    55790,
    32770,
    19930,
    12500,
    10000,
    8055,
    5323,
    3599,
    2486,
    1753,
    1258,
    919,
    682,
    513,
    392,
    303,
)
TYPE_3 = (
    245089,
    137307,
    79729,
    47843,
    29588,
    18813,
    12272,
    10000,
    8195,
    5593,
    3894,
    2763,
    1994,
    1462,
    1088,
    821,
    628,
    486,
    380,
)
# check-values 3.2: fitted at 0, 50, 100 degC; A, B, C, worst error K.
FITS = [
    (TYPE_2252, 1.461118182e-03, 2.396808445e-04, 9.256323184e-08, 0.066),
    (TYPE_2, 1.111243784e-03, 2.372668029e-04, 7.368616895e-08, 0.037),
    (TYPE_3, 1.011229826e-03, 2.422230528e-04, 1.430071004e-07, 0.089),
]
PROBE = {"a": 1.129148302e-03, "b": 2.341245522e-04, "c": 8.767421393e-08}
# check-values 3.4: IEC 60751.
PLATINUM = [
    (-200, 18.52), (-100, 60.26), (-50, 80.31), (-40, 84.27), (-20, 92.16), (0, 100.00), (20, 107.79), (25, 109.73),
    (40, 115.54), (50, 119.40), (80, 130.90), (100, 138.51), (120, 146.07), (150, 157.33), (200, 175.86), (300, 212.05),
    (400, 247.09), (500, 280.98), (600, 313.71),
]  # fmt: skip
# check-values 3.5: IEC 60584-1 / NIST ITS-90, type K.
TYPE_K = [
    (-200, -5.891), (-100, -3.554), (-50, -1.889), (-20, -0.778), (20, 0.798), (25, 1.000), (50, 2.023), (100, 4.096),
    (200, 8.138), (300, 12.209), (400, 16.397), (500, 20.644), (600, 24.905), (800, 33.275), (1000, 41.276), (1200, 48.838),
]  # fmt: skip


@pytest.mark.parametrize(("table", "a", "b", "c", "worst"), FITS)
def test_steinhart_hart_fit_and_its_error(table: tuple, a: float, b: float, c: float, worst: float) -> None:
    at = dict(zip(DEGREES, table, strict=True))
    fitted = steinhart_hart_fit((0, at[0]), (50, at[50]), (100, at[100]))
    assert fitted == (pytest.approx(a, rel=1e-8), pytest.approx(b, rel=1e-8), pytest.approx(c, rel=1e-7))
    errors = [abs(steinhart_hart_c(ohm, a=a, b=b, c=c) - deg) for deg, ohm in at.items()]
    assert max(errors) <= worst + 0.0006


def test_steinhart_hart_gives_a_published_probe_table() -> None:
    """check-values 3.2: a data-logger probe manual, ohm; fit from -40, 0 and 25 degC, others are a check."""
    for degrees, ohm in ((-40, 336103.2), (-30, 176804.8), (-20, 97006.9), (-10, 55303.9), (0, 32650.9), (25, 10000.0)):
        assert steinhart_hart_ohm(degrees, **PROBE) == pytest.approx(ohm, rel=1e-4)
        assert steinhart_hart_c(ohm, **PROBE) == pytest.approx(degrees, abs=0.001)


@given(st.floats(-55, 150))
def test_resistance_is_the_root_of_the_curve(degrees: float) -> None:
    """Cardano against scipy's bracketing root finder."""
    ohm = brentq(lambda r: steinhart_hart_c(r, **PROBE) - degrees, 50, 2e6, xtol=1e-9, rtol=1e-14)
    assert steinhart_hart_ohm(degrees, **PROBE) == pytest.approx(ohm, rel=1e-9)


def test_a_fit_goes_through_the_rest_of_an_industrial_table() -> None:
    """check-values 3.2: 10 kohm of a machine manual (its own tolerance is 4.7 %); fit at three points, five are a check."""
    fitted = dict(zip("abc", steinhart_hart_fit((20, 12490), (60, 2488), (100, 680)), strict=True))
    for degrees, ohm in ((30, 8057), (55, 2986), (65, 2083), (90, 917.7), (95, 788.5)):
        assert steinhart_hart_c(ohm, **fitted) == pytest.approx(degrees, abs=0.011)


def test_beta_between_table_points() -> None:
    """check-values 3.2: B25/50, B25/85 (by the fitted curve, the table has no such row), B25/100."""
    for (table, a, b, c, _), b85 in zip(FITS, (3969.1, 3971.5, 3688.8), strict=True):
        r25, r85 = table[DEGREES.index(25)], steinhart_hart_ohm(85, a=a, b=b, c=c)
        assert beta_between_k(25, r25, high_c=85, high_ohm=r85) == pytest.approx(b85, abs=0.06)
    for table, b50, b100 in ((TYPE_2252, 3933.6, 3981.3), (TYPE_2, 3938.4, 3983.4), (TYPE_3, 3634.8, 3708.2)):
        at = dict(zip(DEGREES, table, strict=True))
        assert beta_between_k(25, at[25], high_c=50, high_ohm=at[50]) == pytest.approx(b50, abs=0.06)
        assert beta_between_k(25, at[25], high_c=100, high_ohm=at[100]) == pytest.approx(b100, abs=0.06)
    assert beta_between_k(25, 10000, high_c=100, high_ohm=680) == pytest.approx(3987.7, abs=0.06)


def test_beta_table() -> None:
    """check-values 3.2: R25 10 kohm, B 3977 K."""
    known = (
        (-40, 412135),
        (-20, 107095),
        (0, 33900),
        (20, 12555),
        (40, 5279),
        (60, 2463),
        (85, 1070),
        (100, 685),
        (120, 398),
    )
    for degrees, ohm in known:
        assert beta_ohm(degrees, r25_ohm=10_000, beta_k=3977) == pytest.approx(ohm, abs=0.6)


def test_beta_is_not_good_enough_in_the_cold() -> None:
    """check-values 3.2: error of the single-Beta model with B25/80 for the 2.252 kohm type."""
    at = dict(zip(DEGREES, TYPE_2252, strict=True))
    beta = beta_between_k(25, at[25], high_c=80, high_ohm=at[80])
    for degrees, error in ((-40, 2.40), (-20, 1.34), (0, 0.58), (50, -0.21), (100, 0.41), (120, 1.03)):
        assert beta_c(at[degrees], r25_ohm=2252, beta_k=beta) - degrees == pytest.approx(error, abs=0.011)


def test_beta_error_by_the_curve_is_that_of_the_table() -> None:
    """The same errors from the fitted curve, whose own error is at most 0.066 K; none at the points B is from."""
    curve = dict(zip("abc", FITS[0][1:4], strict=True))
    for degrees, error in ((-40, 2.40), (-20, 1.34), (0, 0.58), (50, -0.21), (100, 0.41), (120, 1.03)):
        assert beta_error_k(degrees, **curve, between=(25, 80)) == pytest.approx(error, abs=0.08)
    for degrees in (25, 80):
        assert beta_error_k(degrees, **curve, between=(25, 80)) == pytest.approx(0, abs=1e-9)


def test_catalogue_interpolation_example() -> None:
    """check-values 3.1: ratio 2.2739 at 5 degC, 4.4 %/K, 4.7 kohm: 10.6873 kohm at 5, 9.7932 kohm at 7 degC."""
    known = 2.2739 * 4700
    assert known == pytest.approx(10687.3, abs=0.1)
    seven = alpha_interpolated_ohm(7, known_c=5, known_ohm=known, alpha_percent_k=4.4)
    assert seven == pytest.approx(9793.2, abs=0.1)


@pytest.mark.parametrize(("degrees", "ohm"), PLATINUM)
def test_platinum_table(degrees: float, ohm: float) -> None:
    assert platinum_ohm(degrees) == pytest.approx(ohm, abs=0.0051)
    assert platinum_c(platinum_ohm(degrees)) == pytest.approx(degrees, abs=1e-6)


def test_platinum_tolerance() -> None:
    """check-values 3.4: at 100 degC 0.35 and 0.8 K, 0.13 and 0.30 ohm."""
    slope = platinum_ohm(100.5) - platinum_ohm(99.5)
    for letter, kelvin, ohm in (("A", 0.35, 0.13), ("B", 0.8, 0.30)):
        assert platinum_tolerance_k(100, letter) == pytest.approx(kelvin)
        assert platinum_tolerance_k(100, letter) * slope == pytest.approx(ohm, abs=0.006)


@pytest.mark.parametrize(("degrees", "millivolts"), TYPE_K)
def test_type_k_table(degrees: float, millivolts: float) -> None:
    assert type_k_mv(degrees) == pytest.approx(millivolts, abs=0.00051)
    assert type_k_c(type_k_mv(degrees)) == pytest.approx(degrees, abs=1e-6)


def test_type_k_cold_junction() -> None:
    """check-values 3.5."""
    assert type_k_mv(600, reference_c=25) == pytest.approx(23.905, abs=0.0006)
    assert type_k_c(10.000, reference_c=25) == pytest.approx(270.71, abs=0.006)


def test_platinum_slope_is_its_alpha() -> None:
    """check-values 3.4: alpha 0.003851 a kelvin between 0 and 100 degC."""
    assert (platinum_ohm(100) - platinum_ohm(0)) / 100 / 100 == pytest.approx(0.003851, abs=6e-7)
    assert platinum_ohm(-200, r0_ohm=1000) == pytest.approx(185.2, abs=0.06)


@given(st.floats(-199.9, 849.9))
def test_platinum_temperature_is_the_root_of_its_curve(degrees: float) -> None:
    ohm = platinum_ohm(degrees)
    root = brentq(lambda t: platinum_ohm(t) - ohm, -200, 850, xtol=1e-10, rtol=1e-14)
    assert platinum_c(ohm) == pytest.approx(root, abs=1e-6)


NIST_K = get("K")  # the reference function of NIST, coefficients parsed from its own files


@given(st.floats(-270, 1372), st.floats(-40, 120))
def test_type_k_against_nist(tip: float, reference: float) -> None:
    assert type_k_mv(tip, reference_c=reference) == pytest.approx(NIST_K.emf(tip, reference=reference), abs=1e-6)


@given(st.floats(-250, 1370), st.floats(-40, 120))
def test_type_k_temperature_against_nist(tip: float, reference: float) -> None:
    millivolts = NIST_K.emf(tip, reference=reference)
    assert type_k_c(millivolts, reference_c=reference) == pytest.approx(tip, abs=1e-5)


@given(st.floats(-55, 150))
def test_steinhart_hart_goes_there_and_back(degrees: float) -> None:
    assert steinhart_hart_c(steinhart_hart_ohm(degrees, **PROBE), **PROBE) == pytest.approx(degrees, abs=1e-6)


@given(st.floats(-199, 849), st.floats(0.01, 1))
def test_platinum_rises(degrees: float, more: float) -> None:
    assert platinum_ohm(degrees + more) > platinum_ohm(degrees)
    assert platinum_c(platinum_ohm(degrees)) == pytest.approx(degrees, abs=1e-5)


@given(st.floats(-260, 1360), st.floats(0.1, 10))
def test_type_k_rises(degrees: float, more: float) -> None:
    assert type_k_mv(degrees + more) > type_k_mv(degrees)


@pytest.mark.parametrize(
    ("call", "word"),
    [
        (lambda: steinhart_hart_c(0, **PROBE), "ohm"),
        (lambda: steinhart_hart_c(10, a=-1, b=0, c=0), "check the sheet"),
        (lambda: steinhart_hart_ohm(-300, **PROBE), "absolute zero"),
        (lambda: steinhart_hart_ohm(20, a=1e-3, b=2e-4, c=0), "above 0"),
        (lambda: steinhart_hart_fit((0, 1), (1, 2)), "three points"),
        (lambda: beta_ohm(20, r25_ohm=0, beta_k=1), "r25_ohm"),
        (lambda: beta_c(-1, r25_ohm=1, beta_k=1), "ohm"),
        (lambda: beta_between_k(5, 1, high_c=5, high_ohm=2), "two temperatures"),
        (lambda: platinum_ohm(-201), "temperature_c"),
        (lambda: platinum_c(5), "ohm"),
        (lambda: platinum_tolerance_k(0, "Z"), "A or B"),
        (lambda: type_k_mv(2000), "type K"),
        (lambda: type_k_c(999), "no type K"),
        (lambda: beta_error_k(20, **PROBE, between=(25, 25)), "two temperatures"),
    ],
)
def test_nonsense_is_refused_by_name(call, word: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(ValueError, match=word):
        call()
