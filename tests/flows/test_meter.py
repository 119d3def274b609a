"""The meter: ranges, error, what it shows; its numbers against check-values 6.2 where they are the same meter."""

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from flows.meter import OVER, Meter, MeterError, MeterRange, load_meter, meter_names

BENCH, HAND = load_meter("bench"), load_meter("hand")
VOLTS = st.floats(-59, 59, allow_subnormal=False)
SHARE = st.floats(-1, 1)


def test_the_bench_meter_is_the_design_s() -> None:
    """design.md: 6 V and 60 V ranges, 0.3 percent and 2 counts, 1 mV and 10 mV digits, 10 megohm."""
    for volts, digit in ((5.0, 0.001), (12.0, 0.01), (0.05, 0.0001)):
        chosen = BENCH.range_for("dc_voltage", volts)
        assert (chosen.resolution, chosen.percent, chosen.counts) == (digit, 0.3, 2)
    assert BENCH.input_ohm == 10e6
    assert BENCH.error("dc_voltage", 5.0) == pytest.approx(0.017)  # by hand: 15 mV and 2 mV


@pytest.mark.parametrize(
    ("quantity", "reading", "spec", "u_c", "big_u"),
    [
        ("dc_voltage", 5.000, (6, 0.001, 0.5, 2), 0.015591, 0.0312),
        ("dc_voltage", 5.00, (60, 0.01, 0.5, 2), 0.02614, 0.0523),
        ("dc_voltage", 12.65, (60, 0.01, 0.5, 2), 0.04815, 0.0963),
        ("dc_voltage", 0.1000, (0.6, 0.0001, 0.5, 3), 0.000463, 0.00093),
        ("resistance", 60.0, (600, 0.1, 0.9, 2), 0.4282, 0.856),
        ("resistance", 2252, (6000, 1, 0.9, 2), 12.860, 25.7),
    ],
)
def test_check_values_of_meters(quantity: str, reading: float, spec: tuple, u_c: float, big_u: float) -> None:
    """check-values 6.2."""
    full, digit, percent, counts = spec
    only = MeterRange(full_scale=full, resolution=digit, percent=percent, counts=counts)
    meter = Meter(name="example", ranges={quantity: (only,)})
    assert meter.standard_uncertainty(quantity, reading) == pytest.approx(u_c, rel=6e-4)
    assert meter.expanded_uncertainty(quantity, reading) == pytest.approx(big_u, rel=6e-3)


def test_a_coarsely_said_value_is_less_certain() -> None:
    fine = BENCH.standard_uncertainty("dc_voltage", 4.9)
    said = BENCH.standard_uncertainty("dc_voltage", 4.9, said_digit=0.1)
    assert said == pytest.approx(math.hypot(BENCH.error("dc_voltage", 4.9) / math.sqrt(3), 0.1 / math.sqrt(12)))
    assert said > fine


def test_over_range_and_open_leads() -> None:
    assert BENCH.shows("dc_voltage", 650) == OVER
    assert BENCH.shows("resistance", math.inf) == OVER
    assert BENCH.shows("resistance", 0.0) == pytest.approx(0.2)  # its own leads
    assert BENCH.shows("dc_voltage", -12.345) == pytest.approx(-12.35, abs=0.011)


def test_the_face_shows_the_unit_of_the_range() -> None:
    assert (BENCH.face("dc_voltage", 0.4123).value, BENCH.face("dc_voltage", 0.4123).unit) == (412.3, "mV")
    assert BENCH.face("dc_voltage", 4.982).decimals == 3
    assert (BENCH.face("resistance", 12350).value, BENCH.face("resistance", 12350).unit) == (12.35, "kohm")
    assert BENCH.decimals("dc_voltage", 12.6) == 2 and BENCH.decimals("resistance", 150.0) == 1


@given(VOLTS, SHARE, SHARE)
def test_what_is_shown_is_within_the_maker_s_error(volts: float, gain: float, offset: float) -> None:
    shown = BENCH.shows("dc_voltage", volts, gain=gain, offset=offset)
    assert abs(shown - volts) <= BENCH.error("dc_voltage", volts) + 1e-9
    digit = BENCH.range_for("dc_voltage", volts).resolution
    assert shown / digit == pytest.approx(round(shown / digit), abs=1e-6)


@given(VOLTS)
def test_the_guard_band_covers_the_whole_error(volts: float) -> None:
    assert BENCH.expanded_uncertainty("dc_voltage", volts) > BENCH.error("dc_voltage", volts)


@given(st.lists(st.floats(-500, 700), min_size=1, max_size=20), SHARE, SHARE)
def test_arrays_are_the_same_as_one_by_one(values: list[float], gain: float, offset: float) -> None:
    for meter in (BENCH, HAND):
        whole = np.array(values)
        shown = meter.shows("dc_voltage", whole, gain=gain, offset=offset)
        assert shown.tolist() == [meter.shows("dc_voltage", v, gain=gain, offset=offset) for v in values]
        assert meter.error("dc_voltage", whole).tolist() == [meter.error("dc_voltage", v) for v in values]


@given(st.floats(0, 59), st.floats(0, 59))
def test_error_grows_with_the_reading(one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert BENCH.error("dc_voltage", low) <= BENCH.error("dc_voltage", high) + 1e-12


def test_shipped_meters_load_and_the_hand_meter_is_coarser() -> None:
    assert set(meter_names()) >= {"bench", "hand"}
    for volts in (0.05, 0.5, 4.9, 12.6):
        assert HAND.expanded_uncertainty("dc_voltage", volts) > BENCH.expanded_uncertainty("dc_voltage", volts)


def test_bad_meters_are_refused_with_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(MeterError, match="bench, hand"):
        load_meter("none-such")
    with pytest.raises(MeterError, match="cannot be read"):
        load_meter(tmp_path / "gone.yaml")
    for text, word in (
        ("- 1", "needs name and ranges"),
        ("name: x\nranges: {volts: []}", "dc_voltage"),
        ("name: x\nranges: {dc_voltage: [{full_scale: 60, resolution: 0.01, percent: 1, counts: 1}, "
         "{full_scale: 6, resolution: 0.01, percent: 1, counts: 1}]}", "lowest to the highest"),
        ("name: x\nranges: {dc_voltage: [{full_scale: 6, resolution: 0.01, percent: 1, counts: 1, unit: ohm}]}", "ohm"),
        ("name: x\nranges: {dc_voltage: [{full_scale: 6, resolution: 0, percent: 1, counts: 1}]}", "resolution"),
        ("name: [", "not a meter"),
    ):  # fmt: skip
        path = tmp_path / "meter.yaml"
        path.write_text(text, encoding="utf-8")
        with pytest.raises(MeterError, match=word):
            load_meter(path)


def test_an_engine_s_speed_is_read_in_tens() -> None:
    """The data display's: a meter file need not name it."""
    assert BENCH.shows("engine_speed", 1403.0) == 1400.0
    assert (BENCH.face("engine_speed", 1400.0).unit, BENCH.face("engine_speed", 1400.0).decimals) == ("rpm", 0)


def test_a_quantity_without_a_range_is_said() -> None:
    volts_only = Meter(name="x", ranges={"dc_voltage": BENCH.ranges["dc_voltage"]})
    assert not volts_only.measures("resistance")
    assert volts_only.shows("pressure", 98.53) == 98.5  # the data display is read along with any meter
    with pytest.raises(MeterError, match="no range for ohms"):
        volts_only.error("resistance", 5)
