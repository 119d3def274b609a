"""The site's outside pressure and its sentence."""

import pytest
from fluids.atmosphere import ATMOSPHERE_1976
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from flows.site import Site


@pytest.mark.parametrize("altitude", range(-300, 4501, 300))
def test_a_standard_day_gives_the_standard_pressure(altitude: int) -> None:
    """With the standard's own temperature at the station, within 0.1 kPa of fluids up to 1500 m and 0.3 kPa above.

    The two use the same column but the mean of its temperature differently (arithmetic against logarithmic).
    """
    oracle = ATMOSPHERE_1976(float(altitude))
    _, nominal, _, _ = Site(altitude_m=altitude, outdoor_c=oracle.T - 273.15).pressure_kpa()
    assert nominal == pytest.approx(oracle.P / 1000, abs=0.1 if altitude <= 1500 else 0.3)


def test_weather_is_three_kilopascals_and_a_report_is_tighter() -> None:
    low, nominal, high, because = Site(altitude_m=240).pressure_kpa()
    assert (nominal - low, high - nominal) == (pytest.approx(3), pytest.approx(3))
    assert because == "Outside pressure at 240 metres is 98.5 kilopascals, give or take 3 for weather."
    low, nominal, high, because = Site(altitude_m=1588, qnh_hpa=1013).pressure_kpa()
    assert nominal == pytest.approx(83.625, abs=0.001)  # check-values 1.3, a public weather-station test suite
    assert high - low == pytest.approx(1.0)
    assert because == "By the weather report it is 83.6 kilopascals at 1588 metres, give or take 0.5."


def test_a_place_below_the_sea_is_said_without_a_symbol() -> None:
    assert "at minus 200 metres" in Site(altitude_m=-200).pressure_kpa()[3]


def test_cold_air_is_heavy() -> None:
    """check-values 1.2: at one sea-level pressure a 1600 m station is 82.00 kPa at -20 and 84.87 at +30 degC."""
    cold, warm = (Site(altitude_m=1600, outdoor_c=t).pressure_kpa()[1] for t in (-20, 30))
    assert (cold, warm) == (pytest.approx(82.00, abs=0.006), pytest.approx(84.87, abs=0.006))


@given(st.floats(-300, 4400), st.floats(-20, 50), st.floats(1, 100))
def test_higher_is_less(altitude: float, outdoor: float, more: float) -> None:
    here = Site(altitude_m=altitude, outdoor_c=outdoor).pressure_kpa()[1]
    assert Site(altitude_m=altitude + more, outdoor_c=outdoor).pressure_kpa()[1] < here


@pytest.mark.parametrize(
    "wrong", [{"altitude_m": 9000}, {"outdoor_c": 200}, {"qnh_hpa": 29.92}, {"altitude_m": float("nan")}]
)
def test_nonsense_is_refused(wrong: dict) -> None:
    with pytest.raises(ValidationError):
        Site(**wrong)
