"""Pressure sensor, oxygen cell, toothed wheel, dividers, bus and loop (check-values 3.3, 3.6, 5, 6.4)."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pint import UnitRegistry
from scipy import constants
from uncertainties import ufloat

from flows.physics.dividers import lower_ohm_from_v, node_v, parallel_ohm
from flows.physics.meters import less_leads_ohm, loaded_v, resistance_from_drop, unloaded_v
from flows.physics.sensors import (
    coil_current_a,
    mean_pulse_hz,
    nernst_slope_v,
    oxygen_cell_v,
    ratiometric_kpa,
    ratiometric_v,
    tooth_rate_hz,
)
from flows.physics.signalling import (
    bus_fault,
    bus_level_v,
    bus_ohm,
    bus_ohm_window,
    live_bus_v,
    loop_ma,
    loop_percent,
    loop_state,
    loop_v,
    received_as,
)
from flows.physics.thermistor import steinhart_hart_c, steinhart_hart_ohm
from flows.physics.wiring import copper_ohm_at

TYPE_2252 = {-40: 77081, -20: 22032, 0: 7373, 20: 2814, 25: 2252, 40: 1199, 60: 561.0, 80: 284.0, 100: 153.8, 120: 88.3}
CURVE_2252 = {"a": 1.461118182e-03, "b": 2.396808445e-04, "c": 9.256323184e-08}  # check-values 3.2
# check-values 3.3: V = 5.000 R / (R + Rp), no meter.
DIVIDER = {
    1000: (4.936, 4.783, 4.403, 3.689, 3.462, 2.726, 1.797, 1.106, 0.666, 0.406),
    2200: (4.861, 4.546, 3.851, 2.806, 2.529, 1.764, 1.016, 0.572, 0.327, 0.193),
    2490: (4.844, 4.492, 3.738, 2.653, 2.375, 1.625, 0.919, 0.512, 0.291, 0.171),
    4700: (4.713, 4.121, 3.054, 1.873, 1.620, 1.016, 0.533, 0.285, 0.158, 0.092),
}


def test_pull_up_divider_table() -> None:
    for pull, row in DIVIDER.items():
        for ohm, volts in zip(TYPE_2252.values(), row, strict=True):
            assert node_v((5.0, pull), (0.0, ohm)) == pytest.approx(volts, abs=0.0006)


def test_a_bad_joint_reads_too_cold() -> None:
    """check-values 3.3: 100 ohm at 80 degC with 2490: 0.512 becomes 0.668 V, read as about 9 K too cold."""
    assert node_v((5.0, 2490), (0.0, 284.0)) == pytest.approx(0.512, abs=0.0006)
    volts = node_v((5.0, 2490), (0.0, 284.0 + 100))
    assert volts == pytest.approx(0.668, abs=0.0006)
    seen = steinhart_hart_c(lower_ohm_from_v(volts, 5.0, upper_ohm=2490), **CURVE_2252)
    assert seen - 80 == pytest.approx(-9, abs=0.5)


def test_divider_of_the_ten_kilohm_type() -> None:
    """check-values 3.3: 10 kohm type 2 with 10 kohm; open is the whole supply, a short nothing."""
    for ohm, volts in ((98320, 4.538), (32770, 3.831), (10000, 2.500), (2486, 0.996), (682, 0.319), (392, 0.189)):
        assert node_v((5.0, 10_000), (0.0, ohm)) == pytest.approx(volts, abs=0.0006)
    assert node_v((5.0, 2490)) == pytest.approx(5.0)
    assert node_v((5.0, 2490), (0.0, 1e-9)) == pytest.approx(0.0, abs=1e-9)


def test_slope_of_the_divider() -> None:
    """check-values 3.3: mV/K with 2490 ohm. At 80 degC the file has -14.8 and at 100 -8.0."""
    for degrees, slope in ((20, -56.3), (80, -14.8), (100, -8.0)):
        cold, hot = (node_v((5.0, 2490), (0.0, steinhart_hart_ohm(degrees + k, **CURVE_2252))) for k in (-0.5, 0.5))
        assert 1000 * (hot - cold) == pytest.approx(slope, abs=0.06)


def test_ratiometric_sensor() -> None:
    """check-values 3.6; coefficients as typical for parts of 15 to 115 and 20 to 250 kPa (from memory)."""
    small, wide = {"a_per_kpa": 0.009, "b": 0.095}, {"a_per_kpa": 0.004, "b": 0.04}
    for kpa, volts in ((30, 0.875), (80, 3.125), (101.325, 4.085)):
        assert ratiometric_v(kpa, supply_v=5.0, **small) == pytest.approx(volts, abs=0.0006)
    for kpa, volts in ((50, 0.800), (101.325, 1.827), (250, 4.800)):
        assert ratiometric_v(kpa, supply_v=5.0, **wide) == pytest.approx(volts, abs=0.0006)
    assert ratiometric_v(80, supply_v=4.9, **small) / 4.9 == pytest.approx(3.125 / 5.0)


def test_oxygen_cell() -> None:
    """check-values 3.6: RT/4F and the cell's voltage, Nernst."""
    for degrees, millivolts in ((350, 13.425), (600, 18.811), (700, 20.965), (800, 23.119)):
        assert 1000 * nernst_slope_v(degrees) == pytest.approx(millivolts, abs=0.0006)
    for atm, millivolts in ((0.02, 49.2), (1e-20, 932.7), (1e-18, 836.2)):
        assert 1000 * oxygen_cell_v(atm, 700) == pytest.approx(millivolts, abs=0.06)


def test_oxygen_cell_against_the_constants_of_nature() -> None:
    """scipy's CODATA, and the pressures through pint: an atmosphere of air over a hundredth of it."""
    slope = constants.R * constants.convert_temperature(700, "C", "K") / (4 * constants.value("Faraday constant"))
    assert nernst_slope_v(700) == pytest.approx(slope, rel=1e-9)
    assert oxygen_cell_v(0.2095 / 100, 700) == pytest.approx(slope * np.log(100), rel=1e-9)


def test_toothed_wheel() -> None:
    """check-values 3.6."""
    assert [tooth_rate_hz(rpm, pitches=60) for rpm in (300, 750)] == [300, 750]
    assert tooth_rate_hz(250, pitches=36) == 150
    turning = UnitRegistry().Quantity(250, "revolutions_per_minute").to("turn / second").magnitude
    assert tooth_rate_hz(250, pitches=36) == pytest.approx(36 * turning)
    assert mean_pulse_hz(250, pitches=36, missing=1) == pytest.approx(145.8, abs=0.06)


def test_injector_current() -> None:
    """check-values 3.6: 12.0 ohm on 14.2 V, at 20 and at 80 degC."""
    assert coil_current_a(14.2, 12.0) == pytest.approx(1.183, abs=0.0006)
    assert coil_current_a(14.2, copper_ohm_at(12.0, 80)) == pytest.approx(0.958, abs=0.0006)


def test_bus_termination() -> None:
    """check-values 5.1, ISO 11898-2: one, two, three terminators, 1 percent parts, ten nodes, the window."""
    assert (bus_ohm(120), bus_ohm(120, 120)) == (120, 60)
    assert bus_ohm(120, 120, 120) == pytest.approx(40)
    assert (bus_ohm(118.8, 118.8), bus_ohm(121.2, 121.2)) == (pytest.approx(59.4), pytest.approx(60.6))
    assert bus_ohm(120, 120, nodes=10) == pytest.approx(58.8, abs=0.06)
    assert bus_ohm_window() == (50, 65)
    assert (bus_fault(60), bus_fault(120), bus_fault(40.0), bus_fault(0)) == (
        "two terminators",
        "one terminator",
        "three terminators",
        "shorted pair",
    )
    assert bus_fault(20) == "damaged or too many terminators"


def test_bus_levels() -> None:
    """check-values 5.1, ISO 11898-2: least, nominal, greatest; dominant levels of one wire from memory."""
    for line, state, row in (
        ("high", "recessive", (2.0, 2.5, 3.0)),
        ("low", "recessive", (2.0, 2.5, 3.0)),
        ("difference", "recessive", (-0.120, 0, 0.012)),
        ("high", "dominant", (2.75, 3.5, 4.5)),
        ("low", "dominant", (0.5, 1.5, 2.25)),
        ("difference", "dominant", (1.5, 2.0, 3.0)),
    ):
        assert bus_level_v(line, state) == row
    assert bus_level_v("high", "dominant")[1] - bus_level_v("low", "dominant")[1] == 2.0
    assert [received_as(v) for v in (0.5, 0.6, 0.89, 0.9)] == ["recessive", "undefined", "undefined", "dominant"]


@given(st.floats(0, 1))
def test_a_meter_on_a_talking_bus(share: float) -> None:
    """check-values 5.1: CAN_H a little above, CAN_L a little below 2.5 V, the sum near 5.0."""
    high, low = live_bus_v("high", share), live_bus_v("low", share)
    assert high >= 2.5 >= low
    assert high + low == pytest.approx(5.0)


def test_current_loop() -> None:
    """check-values 5.2, NAMUR NE 43: mA, percent, volts on 250 ohm."""
    for ma, percent, volts in (
        (3.6, -2.5, 0.9),
        (3.8, -1.25, 0.95),
        (4, 0, 1),
        (12, 50, 3),
        (20, 100, 5),
        (20.5, 103.125, 5.125),
        (21, 106.25, 5.25),
    ):
        assert loop_percent(ma) == pytest.approx(percent)
        assert loop_ma(percent) == pytest.approx(ma)
        assert loop_v(ma) == pytest.approx(volts)
    assert [loop_state(ma) for ma in (3.6, 3.7, 20.7, 21.0)] == ["failure low", "gap", "gap", "failure high"]


def test_meter_loading() -> None:
    """check-values 6.4: error in percent with 10 and 1 megohm."""
    for source, ten, one in (
        (1e3, -0.010, -0.100),
        (10e3, -0.100, -0.990),
        (47e3, -0.468, -4.49),
        (100e3, -0.990, -9.09),
        (1e6, -9.09, -50.0),
    ):
        assert 100 * (loaded_v(1, source, meter_ohm=10e6) - 1) == pytest.approx(ten, abs=0.006)
        assert 100 * (loaded_v(1, source, meter_ohm=1e6) - 1) == pytest.approx(one, abs=0.006)
    assert 100 * (loaded_v(1, parallel_ohm(77081, 2490), meter_ohm=10e6) - 1) == pytest.approx(-0.024, abs=0.0006)
    assert 100 * (loaded_v(1, 10e3, meter_ohm=200e3) - 1) == pytest.approx(-4.76, abs=0.006)


@given(st.floats(0.01, 15), st.floats(0.05, 200), st.floats(1e-4, 0.2), st.floats(1e-4, 0.2))
def test_resistance_from_a_drop_against_uncertainties(drop: float, current: float, du: float, iu: float) -> None:
    quotient = ufloat(drop, drop * du) / ufloat(current, current * iu)
    ohm, u = resistance_from_drop(drop, current, drop_u=drop * du, current_u=current * iu)
    assert (ohm, u) == (pytest.approx(quotient.nominal_value), pytest.approx(quotient.std_dev))


def test_leads_and_resistance_from_a_drop() -> None:
    """check-values 6.4: leads of 0.2 ohm; 0.2280(11) V at 10.00(15) A is 0.02280(36) ohm."""
    assert less_leads_ohm(0.70, 0.20) == pytest.approx(0.50)
    ohm, u = resistance_from_drop(0.2280, 10.00, drop_u=0.0011, current_u=0.15)
    assert (ohm, u) == (pytest.approx(0.02280), pytest.approx(0.00036, abs=5e-6))


@given(st.floats(0, 20), st.floats(1, 1e6), st.floats(1, 1e6), st.floats(1e5, 1e8))
def test_two_ways_to_the_same_divider(source: float, upper: float, lower: float, meter: float) -> None:
    tapped = node_v((source, upper), (0.0, lower), (0.0, meter))
    through = loaded_v(node_v((source, upper), (0.0, lower)), parallel_ohm(upper, lower), meter_ohm=meter)
    assert tapped == pytest.approx(through, rel=1e-9, abs=1e-12)


@given(st.floats(20, 110), st.floats(4.5, 5.5))
def test_pressure_goes_there_and_back(kpa: float, supply: float) -> None:
    volts = ratiometric_v(kpa, supply_v=supply, a_per_kpa=0.0086, b=0.052)
    assert ratiometric_kpa(volts, supply_v=supply, a_per_kpa=0.0086, b=0.052) == pytest.approx(kpa)


@given(st.floats(0.01, 15), st.floats(0, 1e7), st.floats(1e5, 1e8))
def test_loading_is_undone(volts: float, source: float, meter: float) -> None:
    assert unloaded_v(loaded_v(volts, source, meter_ohm=meter), source, meter_ohm=meter) == pytest.approx(volts)


@pytest.mark.parametrize(
    ("call", "word"),
    [
        (lambda: node_v(), "branch"),
        (lambda: node_v((5, 0)), "above 0"),
        (lambda: node_v((5, float("nan"))), "above 0"),
        (lambda: parallel_ohm(), "no resistors"),
        (lambda: parallel_ohm(5, -1), "parallel"),
        (lambda: lower_ohm_from_v(5.1, 5.0, upper_ohm=1), "between 0 and the source"),
        (lambda: loaded_v(1, -1, meter_ohm=1), "source_ohm"),
        (lambda: loaded_v(1, 1, meter_ohm=0), "meter_ohm"),
        (lambda: resistance_from_drop(0, 1, drop_u=1, current_u=1), "must not be 0"),
        (lambda: ratiometric_v(1, supply_v=-1, a_per_kpa=1, b=0), "supply_v"),
        (lambda: ratiometric_kpa(1, supply_v=0, a_per_kpa=1, b=0), "supply_v"),
        (lambda: oxygen_cell_v(0, 700), "atm"),
        (lambda: nernst_slope_v(-300), "absolute zero"),
        (lambda: tooth_rate_hz(-1, pitches=1), "rpm"),
        (lambda: mean_pulse_hz(1, pitches=1, missing=1), "missing"),
        (lambda: coil_current_a(1, 0), "ohm"),
        (lambda: bus_fault(-1), "ohm"),
        (lambda: bus_level_v("high", "busy"), "busy"),
        (lambda: live_bus_v("high", 1.1), "dominant_share"),
        (lambda: live_bus_v("middle", 0.1), "middle"),
        (lambda: loop_v(4, 0), "burden_ohm"),
    ],
)
def test_nonsense_is_refused_by_name(call, word: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(ValueError, match=word):
        call()
