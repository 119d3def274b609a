"""Outside pressure against ISO 2533 tables (check-values 1.1 to 1.3) and the fluids library."""

import pytest
from fluids.atmosphere import ATMOSPHERE_1976
from hypothesis import given
from hypothesis import strategies as st

from flows.physics.atmosphere import (
    absolute_kpa,
    geopotential_m,
    hypsometric_kpa,
    mean_column_c,
    standard_pressure_kpa,
    standard_temperature_c,
    station_pressure_kpa,
)

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
# check-values 1.1, second table: feet, kPa.
FEET = [
    (-1000, 105.041),
    (500, 99.508),
    (1000, 97.717),
    (2000, 94.213),
    (3000, 90.812),
    (4000, 87.511),
    (5000, 84.307),
    (5280, 83.428),
    (6000, 81.200),
    (7000, 78.185),
    (8000, 75.262),
    (10000, 69.682),
    (12000, 64.441),
    (14000, 59.524),
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
# check-values 1.3: QNH hPa, height m, ISA exact hPa.
QNH = [
    (1013.25, 0, 1013.25),
    (1030, 300, 994.00),
    (990, 300, 955.14),
    (1020, 1000, 904.87),
    (1000, 1000, 886.72),
    (1013, 1588, 836.25),  # equals a value in a public weather-station test suite
    (1030, 2000, 808.72),
    (990, 2000, 775.86),
    (1013.25, 3000, 701.09),
]
# Same table: MetPy 1.7.1 (Smithsonian) and the NWS calculator, other published methods.
OTHER_METHODS = [
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


@pytest.mark.parametrize(("feet", "kpa"), FEET)
def test_standard_atmosphere_in_feet(feet: float, kpa: float) -> None:
    assert standard_pressure_kpa(feet * 0.3048) == pytest.approx(kpa, abs=0.0006)


@pytest.mark.parametrize("height", range(-300, 4501, 100))
def test_standard_atmosphere_against_fluids(height: float) -> None:
    oracle = ATMOSPHERE_1976(float(height))  # takes geometric height
    assert standard_pressure_kpa(geopotential_m(height)) == pytest.approx(oracle.P / 1000, rel=1e-6)
    assert standard_temperature_c(geopotential_m(height)) == pytest.approx(oracle.T - 273.15, abs=1e-6)


@pytest.mark.parametrize(("qnh", "height", "hpa"), QNH)
def test_altimeter_setting_to_station(qnh: float, height: float, hpa: float) -> None:
    assert 10 * station_pressure_kpa(qnh, height) == pytest.approx(hpa, abs=0.006)


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
