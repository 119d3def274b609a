"""Pressure of the air outside, from height, weather report and temperature."""

import math

P0_KPA = 101.325
T0_K = 288.15
LAPSE_K_PER_M = 0.0065
G0 = 9.80665
R_AIR = 287.05287  # J/(kg K)
EARTH_RADIUS_M = 6_356_766.0
EXPONENT = G0 / (R_AIR * LAPSE_K_PER_M)  # 5.255880
TROPOPAUSE_M = 11_000.0
LOWEST_M = -2_000.0


def geopotential_m(geometric_m: float) -> float:
    """Geopotential height [m] of a geometric height [m]: H = r z / (r + z).  Source: ISO 2533:1975 clause 2.

    >>> round(geopotential_m(4500), 1)
    4496.8
    """
    return EARTH_RADIUS_M * geometric_m / (EARTH_RADIUS_M + geometric_m)


def standard_temperature_c(height_m: float) -> float:
    """Temperature [degC] of the standard atmosphere at a geopotential height [m], -2000..11000.

    Source: ISO 2533:1975, 15 degC at sea level, 6.5 K less each kilometre. Raises ValueError outside.

    >>> round(standard_temperature_c(1000), 2)
    8.5
    """
    _in_troposphere(height_m)
    return T0_K - LAPSE_K_PER_M * height_m - 273.15


def standard_pressure_kpa(height_m: float) -> float:
    """Pressure [kPa] of the standard atmosphere at a geopotential height [m], -2000..11000.

    Source: ISO 2533:1975 (same as US Standard Atmosphere 1976 here), p = p0 (1 - L H / T0)^(g0 / (R L)).
    Raises ValueError outside the range.

    >>> round(standard_pressure_kpa(1500), 3)
    84.556
    """
    _in_troposphere(height_m)
    return P0_KPA * (1 - LAPSE_K_PER_M * height_m / T0_K) ** EXPONENT


def station_pressure_kpa(qnh_hpa: float, height_m: float) -> float:
    """Pressure [kPa] at a height [m] when the weather report's altimeter setting is qnh_hpa [hPa].

    QNH is station pressure reduced to sea level with the standard atmosphere, so it goes back the same way. It is not
    QFF (reduced with the real temperature), which some services publish instead.
    Source: ICAO Doc 7488 relation, p = (Q^n - p0^n L H / T0)^(1/n), n = R L / g0. Raises ValueError when qnh_hpa is
    outside 850..1100.

    >>> round(station_pressure_kpa(1020, 1000), 3)
    90.487
    """
    _in_troposphere(height_m)
    if not 850 <= qnh_hpa <= 1100:
        raise ValueError(f"qnh_hpa is {qnh_hpa:g}, must be 850 to 1100 hPa; a weather report gives about 1013")
    n = 1 / EXPONENT
    return (qnh_hpa**n - (10 * P0_KPA) ** n * LAPSE_K_PER_M * height_m / T0_K) ** EXPONENT / 10


def mean_column_c(station_c: float, height_m: float) -> float:
    """Mean temperature [degC] of the air between sea level and a station at station_c [degC], height_m [m].

    With the standard lapse the column is warmer below: half of 6.5 K each kilometre. Source: ISO 2533:1975 lapse.

    >>> mean_column_c(-20, 2000)
    -13.5
    """
    return station_c + LAPSE_K_PER_M * height_m / 2


def hypsometric_kpa(height_m: float, *, mean_c: float, sea_level_kpa: float = P0_KPA) -> float:
    """Pressure [kPa] at height_m [m] above sea level, air column of mean temperature mean_c [degC].

    Source: hypsometric equation, p = p_sl exp(-g0 h / (R Tm)), standard meteorology texts.
    Raises ValueError at or below absolute zero.

    >>> round(hypsometric_kpa(1000, mean_c=15), 3)
    89.997
    """
    if not mean_c > -273.15:
        raise ValueError(f"mean_c is {mean_c:g}, must be above absolute zero")
    return sea_level_kpa * math.exp(-G0 * height_m / (R_AIR * (mean_c + 273.15)))


def absolute_kpa(outside_kpa: float, *, vacuum_kpa: float) -> float:
    """Absolute pressure [kPa] under a vacuum that a gauge shows as vacuum_kpa below outside.

    Source: what a vacuum gauge shows is outside less inside. Raises ValueError for more vacuum than there is air.

    >>> round(absolute_kpa(101.325, vacuum_kpa=67.728), 3)
    33.597
    """
    if vacuum_kpa > outside_kpa:
        raise ValueError(f"a vacuum of {vacuum_kpa:g} kPa is more than the outside {outside_kpa:g} kPa; check the unit")
    return outside_kpa - vacuum_kpa


def _in_troposphere(height_m: float) -> None:
    if not LOWEST_M <= height_m <= TROPOPAUSE_M:
        raise ValueError(f"height_m is {height_m:g}, must be {LOWEST_M:g} to {TROPOPAUSE_M:g} m")
