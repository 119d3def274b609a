"""Batteries against published tables (check-values 4); bands are common practice, no source."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from flows.physics.battery import (
    cell_rule_v,
    charging_band_v,
    charging_v,
    corrected_gravity,
    cranking_floor_v,
    flooded_charge_percent,
    flooded_rest_v,
    interpolated,
    parasitic_limit_a,
    rest_band_v,
)


def test_rest_voltage_by_charge() -> None:
    """check-values 4: two public tables, flooded, rested, 26.7 degC; interpolations by hand."""
    for charge, volts in ((100, 12.65), (75, 12.45), (50, 12.24), (25, 12.06), (0, 11.89)):
        assert flooded_rest_v(charge) == pytest.approx(volts)
    assert flooded_charge_percent(12.55) == pytest.approx(87.5, abs=0.06)
    assert flooded_charge_percent(12.30) == pytest.approx(57.1, abs=0.06)


def test_gravity_and_cell_rule() -> None:
    """check-values 4: 0.004 for each 5.6 K; 6 (1.265 + 0.845) is 12.66."""
    assert corrected_gravity(1.250, 26.7 + 5.6) == pytest.approx(1.254)
    assert corrected_gravity(1.250, 26.7 - 11.2) == pytest.approx(1.242)
    assert cell_rule_v(1.265) == pytest.approx(12.66)


def test_charging_compensation() -> None:
    """check-values 4: 14.4 V at 25 degC with -18 mV/K."""
    for degrees, volts in ((25, 14.4), (0, 14.85), (-20, 15.21), (40, 14.13)):
        assert charging_v(14.4, degrees) == pytest.approx(volts)


def test_cranking_floor() -> None:
    """Common practice, no source: 9.6 V at 21, 9.4 at 10, 9.1 at -1, 8.5 at -18 degC."""
    for degrees, volts in ((21, 9.6), (10, 9.4), (-1, 9.1), (-18, 8.5), (50, 9.6), (-40, 8.5)):
        assert cranking_floor_v(degrees) == pytest.approx(volts)


def test_bands_by_chemistry() -> None:
    """Common practice, no source: a full battery of each chemistry is inside, a flat one is not."""
    for chemistry, full, flat in (("flooded", 12.65, 12.0), ("agm", 12.85, 12.1), ("lifepo4", 13.3, 12.5)):
        low, high = rest_band_v(chemistry)
        assert low < full < high and flat < low
    low, high = charging_band_v("flooded")
    assert (low, high) == (13.5, 14.8)
    assert charging_band_v("lifepo4", -20) == charging_band_v("lifepo4", 40)


def test_parasitic_draw_is_scaled_to_the_battery() -> None:
    """Issue 3: 0.3 of the ampere-hours over 720 h; by hand, 28 Ah is 8.4 Ah / 720 h."""
    assert parasitic_limit_a(28) == pytest.approx(8.4 / 720)
    assert parasitic_limit_a(120) == pytest.approx(0.050)  # the usual 50 mA belongs to a 120 Ah battery


@given(st.floats(0, 100), st.floats(0, 100))
def test_more_charge_is_more_volts(one: float, other: float) -> None:
    assert (flooded_rest_v(one) <= flooded_rest_v(other)) == (one <= other) or flooded_rest_v(one) == flooded_rest_v(
        other
    )
    assert flooded_charge_percent(flooded_rest_v(one)) == pytest.approx(one, abs=1e-6)


@given(st.floats(-60, 60))
def test_interpolation_stays_inside_its_table(x: float) -> None:
    assert 8.5 <= interpolated(x, ((-18, 8.5), (21, 9.6))) <= 9.6


def test_nonsense_is_refused_by_name() -> None:
    with pytest.raises(ValueError, match="charge_percent"):
        flooded_rest_v(101)
    with pytest.raises(ValueError, match="flooded, agm, lifepo4"):
        rest_band_v("nickel")
    with pytest.raises(ValueError, match="capacity_ah"):
        parasitic_limit_a(0)
