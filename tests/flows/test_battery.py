"""Batteries against published tables (check-values 4); bands are common practice, no source."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from flows.physics.battery import (
    CRANKING_FLOOR_V,
    acid_freezing_c,
    cell_rule_v,
    charger_band_v,
    charging_band_v,
    charging_v,
    corrected_gravity,
    cranking_floor_v,
    flooded_charge_percent,
    flooded_gravity,
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


def test_acid_by_charge() -> None:
    """check-values 4: gravity of the same tables; freezing from memory but for a full one."""
    for charge, gravity, freezing in (
        (100, 1.265, -59.4),
        (75, 1.225, -37),
        (50, 1.190, -24),
        (25, 1.155, -15),
        (0, 1.120, -8),
    ):
        assert flooded_gravity(charge) == pytest.approx(gravity)
        assert acid_freezing_c(charge) == pytest.approx(freezing)


def test_rest_voltage_is_what_its_acid_makes() -> None:
    """Two tables beside each other: six cells by the rule of gravity, within the 0.1 V that public tables differ by."""
    for charge in (0, 25, 50, 75, 100):
        assert cell_rule_v(flooded_gravity(charge)) == pytest.approx(flooded_rest_v(charge), abs=0.1)


def test_rest_voltage_hardly_moves_with_temperature() -> None:
    """check-values 4: 0.2 mV/K a cell from memory, far below the printed 0.024 V for 10 degF."""
    slope = flooded_rest_v(100, 36.7) - flooded_rest_v(100, 26.7)
    assert slope == pytest.approx(6 * 0.2e-3 * 10)
    assert slope < 0.3 * 0.024 * 10 / 5.556


def test_gravity_and_cell_rule() -> None:
    """check-values 4: 0.004 for each 5.6 K; 6 (1.265 + 0.845) is 12.66."""
    assert corrected_gravity(1.250, 26.7 + 5.6) == pytest.approx(1.254)
    assert corrected_gravity(1.250, 26.7 - 11.2) == pytest.approx(1.242)
    assert cell_rule_v(1.265) == pytest.approx(12.66)


def test_charging_compensation() -> None:
    """check-values 4: 14.4 V at 25 degC with -18 mV/K."""
    for degrees, volts in ((25, 14.4), (0, 14.85), (-20, 15.21), (40, 14.13)):
        assert charging_v(14.4, degrees) == pytest.approx(volts)


def test_charger_stages() -> None:
    """check-values 4: 2.40 to 2.45 and 2.25 to 2.30 V a cell, six cells; compensated as charging_v is."""
    assert charger_band_v("charge") == (pytest.approx(14.4), pytest.approx(14.7))
    assert charger_band_v("float") == (pytest.approx(13.5), pytest.approx(13.8))
    assert charger_band_v("charge", -20)[0] == pytest.approx(15.21)
    with pytest.raises(ValueError, match="charge, float"):
        charger_band_v("boost")


def test_interpolation_against_numpy() -> None:
    for x in np.linspace(-40, 40, 161):
        assert cranking_floor_v(float(x)) == pytest.approx(np.interp(x, *zip(*CRANKING_FLOOR_V, strict=True)))


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
    for by_charge in (flooded_rest_v, flooded_gravity, acid_freezing_c):
        for charge in (101, -1, float("nan")):
            with pytest.raises(ValueError, match="charge_percent"):
                by_charge(charge)
    with pytest.raises(ValueError, match="hours"):
        parasitic_limit_a(28, hours=0)
    with pytest.raises(ValueError, match="flooded, agm, lifepo4"):
        rest_band_v("nickel")
    with pytest.raises(ValueError, match="capacity_ah"):
        parasitic_limit_a(0)
