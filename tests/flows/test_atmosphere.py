"""Outside pressure against ISO 2533 tables (check-values 1.1 to 1.3) and the fluids library."""

import pytest
from fluids.atmosphere import ATMOSPHERE_1976
from hypothesis import given
from hypothesis import strategies as st
from pint import UnitRegistry
from scipy import constants

from flows.physics.atmosphere import (
    EXPONENT,
    G0,
    P0_KPA,
    R_AIR,
    absolute_kpa,
    geopotential_m,
    hypsometric_kpa,
    mean_column_c,
    standard_pressure_kpa,
    standard_temperature_c,
    station_pressure_kpa,
)
from flows.units import from_base, to_base

# check-values 1.1: ISO 2533:1975 by geopotential height; kPa, temperature degC, and the geometric column (fluids).
ISO_2533 = [
    (-300, 104.981, 16.95, 104.981),
    (-100, 102.532, 15.65, 102.532),
    (0, 101.325, 15.00, 101.325),
    (100, 100.129, 14.35, 100.129),
    (200, 98.945, 13.70, 98.945),
    (300, 97.773, 13.05, 97.773),
    (500, 95.461, 11.75, 95.461),
    (750, 92.634, 10.12, 92.635),
    (1000, 89.875, 8.50, 89.876),
    (1250, 87.182, 6.88, 87.185),
    (1500, 84.556, 5.25, 84.560),
    (1750, 81.994, 3.62, 81.999),
    (2000, 79.495, 2.00, 79.501),
    (2250, 77.058, 0.38, 77.066),
    (2500, 74.683, -1.25, 74.692),
    (2750, 72.366, -2.88, 72.377),
    (3000, 70.109, -4.50, 70.121),
    (3500, 65.764, -7.75, 65.780),
    (4000, 61.640, -11.00, 61.660),
    (4500, 57.728, -14.25, 57.753),
]
# Same table: the same pressures in psi, inches and millimetres of mercury at 0 degC, by height.
OTHER_UNITS = {
    -300: (15.226, 31.001, 787.4),
    -100: (14.871, 30.278, 769.1),
    0: (14.696, 29.921, 760.0),
    100: (14.523, 29.568, 751.0),
    200: (14.351, 29.219, 742.2),
    300: (14.181, 28.872, 733.4),
    500: (13.845, 28.19, 716.0),
    750: (13.435, 27.355, 694.8),
    1000: (13.035, 26.54, 674.1),
    1250: (12.645, 25.745, 653.9),
    1500: (12.264, 24.969, 634.2),
    1750: (11.892, 24.213, 615.0),
    2000: (11.53, 23.475, 596.3),
    2250: (11.176, 22.755, 578.0),
    2500: (10.832, 22.054, 560.2),
    2750: (10.496, 21.37, 542.8),
    3000: (10.168, 20.703, 525.9),
    3500: (9.538, 19.42, 493.3),
    4000: (8.94, 18.202, 462.3),
    4500: (8.373, 17.047, 433.0),
}
# check-values 1.1, second table: feet, kPa, psi, inHg.
FEET = [
    (-1000, 105.041, 15.235, 31.018),
    (500, 99.508, 14.432, 29.385),
    (1000, 97.717, 14.173, 28.856),
    (2000, 94.213, 13.664, 27.821),
    (3000, 90.812, 13.171, 26.817),
    (4000, 87.511, 12.692, 25.842),
    (5000, 84.307, 12.228, 24.896),
    (5280, 83.428, 12.1, 24.636),
    (6000, 81.200, 11.777, 23.978),
    (7000, 78.185, 11.34, 23.088),
    (8000, 75.262, 10.916, 22.225),
    (10000, 69.682, 10.106, 20.577),
    (12000, 64.441, 9.346, 19.029),
    (14000, 59.524, 8.633, 17.577),
]
# check-values 1.2: hypsometric equation, sea level 101.325 kPa.
HEIGHTS = (500, 1000, 1500, 2000, 3000)
MEAN_C = {
    -20: (94.714, 88.533, 82.757, 77.357, 67.591),
    0: (95.183, 89.413, 83.992, 78.901, 69.625),
    15: (95.493, 89.997, 84.817, 79.935, 70.998),
    30: (95.774, 90.526, 85.566, 80.878, 72.259),
}
STATION_C = {-20: (94.754, 88.685, 83.074, 77.881, 68.614), 30: (95.802, 90.634, 85.796, 81.262, 73.024)}
# check-values 1.3: QNH hPa, height m, ISA exact hPa, the same in psi and inHg.
QNH = [
    (1013.25, 0, 1013.25, 14.696, 29.921),
    (1030, 300, 994.00, 14.417, 29.353),
    (990, 300, 955.14, 13.853, 28.205),
    (1020, 1000, 904.87, 13.124, 26.721),
    (1000, 1000, 886.72, 12.861, 26.185),
    (1013, 1588, 836.25, 12.129, 24.695),  # equals a value in a public weather-station test suite
    (1030, 2000, 808.72, 11.729, 23.881),
    (990, 2000, 775.86, 11.253, 22.911),
    (1013.25, 3000, 701.09, 10.168, 20.703),
]
# Same table: MetPy 1.7.1 (Smithsonian) and the NWS calculator, other published methods.
OTHER_METHODS = [
    (1013.25, 0, 1013.55, 1013.25),
    (1020, 1000, 905.11, 904.67),
    (1000, 1000, 886.97, 886.93),
    (1013, 1588, 836.47, 836.17),
    (1030, 2000, 808.91, 807.98),
    (990, 2000, 776.05, 776.60),
    (1013.25, 3000, 701.24, 700.94),
]


@pytest.mark.parametrize(("height", "kpa", "degrees", "geometric"), ISO_2533)
def test_standard_atmosphere_table(height: float, kpa: float, degrees: float, geometric: float) -> None:
    assert standard_pressure_kpa(height) == pytest.approx(kpa, abs=0.0006)
    assert standard_temperature_c(height) == pytest.approx(degrees, abs=0.0051)
    assert standard_pressure_kpa(geopotential_m(height)) == pytest.approx(geometric, abs=0.0006)


@pytest.mark.parametrize(("feet", "kpa", "psi", "in_hg"), FEET)
def test_standard_atmosphere_in_feet(feet: float, kpa: float, psi: float, in_hg: float) -> None:
    ours = standard_pressure_kpa(feet * 0.3048)
    assert ours == pytest.approx(kpa, abs=0.0006)
    assert from_base(ours, "psi", "pressure") == pytest.approx(psi, abs=0.0006)
    assert from_base(ours, "inHg", "pressure") == pytest.approx(in_hg, abs=0.0006)


@pytest.mark.parametrize(("height", "row"), OTHER_UNITS.items())
def test_standard_atmosphere_in_other_units(height: float, row: tuple[float, float, float]) -> None:
    """The column in millimetres of mercury goes through pint: no gauge of this tool reads it."""
    ours, (psi, in_hg, mm_hg) = standard_pressure_kpa(height), row
    assert from_base(ours, "psi", "pressure") == pytest.approx(psi, abs=0.0006)
    assert from_base(ours, "inHg", "pressure") == pytest.approx(in_hg, abs=0.0006)
    assert UnitRegistry().Quantity(ours, "kPa").to("mmHg").magnitude == pytest.approx(mm_hg, abs=0.06)


def test_derived_figures_of_the_standard_atmosphere() -> None:
    """check-values 1.1: exponent and inverse, drop near sea level, cost of mixing up the two heights."""
    assert (pytest.approx(5.255880, abs=6e-7), pytest.approx(0.190263, abs=6e-7)) == (EXPONENT, 1 / EXPONENT)
    assert standard_pressure_kpa(0) - standard_pressure_kpa(100) == pytest.approx(1.196, abs=0.0006)
    assert standard_pressure_kpa(0) - standard_pressure_kpa(304.8) == pytest.approx(3.608, abs=0.0006)
    for height, kpa in ((3000, 0.012), (4500, 0.025)):  # the file's are differences of its rounded columns
        mixed_up = standard_pressure_kpa(geopotential_m(height)) - standard_pressure_kpa(height)
        assert mixed_up == pytest.approx(kpa, abs=0.001)


def test_constants_of_the_atmosphere() -> None:
    """Gravity and atmosphere as scipy has them; air's constant with ISO 2533's own 8314.32 J/(kmol K), CODATA is near."""
    assert constants.g == G0 and constants.atm == 1000 * P0_KPA
    assert pytest.approx(8314.32 / 28.964420, rel=1e-7) == R_AIR
    assert pytest.approx(1000 * constants.R / 28.964420, rel=2e-5) == R_AIR


@pytest.mark.parametrize("height", range(-300, 4501, 100))
def test_standard_atmosphere_against_fluids(height: float) -> None:
    oracle = ATMOSPHERE_1976(float(height))  # takes geometric height
    assert standard_pressure_kpa(geopotential_m(height)) == pytest.approx(oracle.P / 1000, rel=1e-6)
    assert standard_temperature_c(geopotential_m(height)) == pytest.approx(oracle.T - 273.15, abs=1e-6)


@pytest.mark.parametrize(("qnh", "height", "hpa", "psi", "in_hg"), QNH)
def test_altimeter_setting_to_station(qnh: float, height: float, hpa: float, psi: float, in_hg: float) -> None:
    ours = station_pressure_kpa(qnh, height)
    assert 10 * ours == pytest.approx(hpa, abs=0.006)
    assert from_base(ours, "psi", "pressure") == pytest.approx(psi, abs=0.0006)
    assert from_base(ours, "inHg", "pressure") == pytest.approx(in_hg, abs=0.0006)


def test_two_more_values_of_another_method() -> None:
    """check-values 1.3: MetPy at 500 m, 1013 hPa and 29.92 inHg. It adds 0.3 hPa, so it stands a little above ours."""
    for qnh, metpy_hpa in ((1013, 954.639), (10 * to_base(29.92, "inHg", "pressure"), 954.84)):
        assert 0.1 < metpy_hpa - 10 * station_pressure_kpa(qnh, 500) < 0.3


def test_the_straight_rule_is_far_off_high_up() -> None:
    """check-values 1.3: 1 hPa per 8.3 m makes 749.0 hPa of QNH 990 at 2000 m, 26.8 hPa wrong."""
    straight_hpa = 990 - 2000 / 8.3
    assert straight_hpa == pytest.approx(749.0, abs=0.06)
    assert 10 * station_pressure_kpa(990, 2000) - straight_hpa == pytest.approx(26.8, abs=0.06)


@pytest.mark.parametrize(("qnh", "height", "metpy_hpa", "nws_hpa"), OTHER_METHODS)
def test_other_published_methods_agree_within_one_hectopascal(
    qnh: float, height: float, metpy_hpa: float, nws_hpa: float
) -> None:
    ours = 10 * station_pressure_kpa(qnh, height)
    assert abs(ours - metpy_hpa) < 1 and abs(ours - nws_hpa) < 1


def test_hypsometric_tables() -> None:
    for mean_c, row in MEAN_C.items():
        for height, kpa in zip(HEIGHTS, row, strict=True):
            assert hypsometric_kpa(height, mean_c=mean_c) == pytest.approx(kpa, abs=0.0006)
    for station_c, row in STATION_C.items():
        for height, kpa in zip(HEIGHTS, row, strict=True):
            mean_c = mean_column_c(station_c, height)
            assert hypsometric_kpa(height, mean_c=mean_c) == pytest.approx(kpa, abs=0.0006)


def test_temperature_alone_moves_a_high_station() -> None:
    """check-values 1.2: 1600 m, the column's mean temperature as given, 82.00 kPa at -20 and 84.87 at +30 degC."""
    cold = hypsometric_kpa(1600, mean_c=mean_column_c(-20, 1600))
    warm = hypsometric_kpa(1600, mean_c=mean_column_c(30, 1600))
    assert (cold, warm) == (pytest.approx(82.00, abs=0.006), pytest.approx(84.87, abs=0.006))


def test_vacuum_to_absolute() -> None:
    """check-values 1.3: 20 inches of mercury is 67.728 kPa."""
    assert to_base(20, "inHg", "pressure") == pytest.approx(67.728, abs=0.0005)
    assert absolute_kpa(101.325, vacuum_kpa=67.728) == pytest.approx(33.597, abs=0.0005)
    assert absolute_kpa(84.556, vacuum_kpa=67.728) == pytest.approx(16.83, abs=0.005)


@pytest.mark.parametrize(
    ("call", "word"),
    [
        (lambda: standard_pressure_kpa(12_000), "height_m"),
        (lambda: standard_pressure_kpa(float("nan")), "height_m"),
        (lambda: station_pressure_kpa(29.92, 0), "qnh_hpa"),
        (lambda: hypsometric_kpa(10, mean_c=-300), "absolute zero"),
        (lambda: absolute_kpa(100, vacuum_kpa=101), "check the unit"),
    ],
)
def test_nonsense_is_refused_by_name(call, word: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(ValueError, match=word):
        call()


@given(st.floats(-2000, 10_900), st.floats(1, 100))
def test_pressure_falls_with_height(height: float, more: float) -> None:
    assert standard_pressure_kpa(height + more) < standard_pressure_kpa(height)


@given(st.floats(900, 1060), st.floats(-300, 4500))
def test_standard_setting_gives_back_the_standard_atmosphere(qnh: float, height: float) -> None:
    assert station_pressure_kpa(1013.25, height) == pytest.approx(standard_pressure_kpa(height), rel=1e-9)
    assert (station_pressure_kpa(qnh, height) < standard_pressure_kpa(height)) == (qnh < 1013.25)
