"""Uncertainty, conformance and guard bands against JCGM 100, JCGM 106 and ILAC-G8 (check-values 6.1 to 6.3)."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm, uniform
from uncertainties import ufloat

from flows.physics.decision import (
    acceptance_limits,
    combined_u,
    conformance_probability,
    expanded_u,
    four_way,
    lost_share,
    normal_cdf,
    one_sided_risk,
    rectangular_share,
    rectangular_u,
    resolution_u,
    specific_risk,
)
from flows.physics.meters import accuracy_half_width

# check-values 6.2: reading, percent, counts, digit, a, u (a/sqrt 3), u with resolution, U (k = 2).
METERS = [
    (32.00, 2.5, 3, 0.01, 0.83, 0.4792, 0.4792, 0.958),
    (0.09, 2.5, 3, 0.01, 0.03225, 0.01862, 0.01884, 0.0377),
    (5.000, 0.5, 2, 0.001, 0.0270, 0.015588, 0.015591, 0.0312),
    (5.00, 0.5, 2, 0.01, 0.0450, 0.02598, 0.02614, 0.0523),
    (12.65, 0.5, 2, 0.01, 0.08325, 0.04806, 0.04815, 0.0963),
    (0.1000, 0.5, 3, 0.0001, 0.0008, 0.000462, 0.000463, 0.00093),
    (0.100, 0.5, 3, 0.001, 0.0035, 0.002021, 0.002041, 0.0041),
    (60.0, 0.9, 2, 0.1, 0.74, 0.4272, 0.4282, 0.856),
    (0.5, 0.9, 2, 0.1, 0.2045, 0.1181, 0.1215, 0.243),
    (2252, 0.9, 2, 1, 22.27, 12.856, 12.860, 25.7),
]
# check-values 6.3: 5 V reference, limits 4.900 to 5.100, u 0.015591: reading, conformance probability.
REFERENCE = [
    (4.869, 0.0234),
    (4.900, 0.5000),
    (4.925, 0.9456),
    (4.931, 0.9766),
    (4.950, 0.9993),
    (5.000, 1.0000),
    (5.080, 0.9002),
    (5.100, 0.5000),
    (5.131, 0.0234),
]


@pytest.mark.parametrize(("reading", "percent", "counts", "digit", "a", "u", "u_c", "big_u"), METERS)
def test_meter_examples(
    reading: float, percent: float, counts: float, digit: float, a: float, u: float, u_c: float, big_u: float
) -> None:
    half_width = accuracy_half_width(reading, percent=percent, counts=counts, resolution=digit)
    assert half_width == pytest.approx(a, rel=2e-4)  # the table is rounded
    assert rectangular_u(half_width) == pytest.approx(u, rel=6e-4)
    combined = combined_u(rectangular_u(half_width), resolution_u(digit))
    assert combined == pytest.approx(u_c, rel=6e-4)
    assert expanded_u(combined) == pytest.approx(big_u, rel=6e-3)


def test_jcgm_106_worked_examples() -> None:
    """check-values 6.1: limit at most -5.40 V, y -5.47, u 0.05: 0.9192; at least 490, y 509.7, u 8.6: 0.9890."""
    assert conformance_probability(-5.47, 0.05, low=None, high=-5.40) == pytest.approx(0.9192, abs=6e-5)
    assert conformance_probability(509.7, 8.6, low=490, high=None) == pytest.approx(0.9890, abs=6e-5)


@pytest.mark.parametrize(("volts", "probability"), REFERENCE)
def test_reference_conformance(volts: float, probability: float) -> None:
    assert conformance_probability(volts, 0.015591, low=4.9, high=5.1) == pytest.approx(probability, abs=1e-4)


def test_reference_guard_band() -> None:
    """check-values 6.3: U 0.03118: pass 4.9312 to 5.0688, fail below 4.8688 or above 5.1312."""
    assert acceptance_limits(4.9, 5.1, expanded=0.03118) == (pytest.approx(4.93118), pytest.approx(5.06882))
    for volts, verdict in (
        (4.9313, "pass"),
        (4.9311, "conditional pass"),
        (4.8999, "conditional fail"),
        (4.8688, "fail"),
        (5.1311, "conditional fail"),
        (5.1313, "fail"),
    ):
        assert four_way(volts, low=4.9, high=5.1, expanded=0.03118) == verdict


def test_ground_drop_risks() -> None:
    """check-values 6.3: limit 0.1000 V, u 0.000463; and a rectangular error of 0.8 mV at 0.0995 V."""
    for volts, risk in ((0.0985, 0.0006), (0.0990, 0.0154), (0.0995, 0.140), (0.1000, 0.500), (0.1005, 0.860)):
        assert specific_risk(volts, 0.000463, low=None, high=0.1) == pytest.approx(risk, abs=6e-4)
    assert 1 - rectangular_share(0.0995, 0.0008, low=None, high=0.1) == pytest.approx(0.1875)
    assert acceptance_limits(None, 0.1, expanded=0.0041)[1] == pytest.approx(0.0959)


def test_z_values() -> None:
    """check-values 6.1: z for a risk."""
    for risk, z in (
        (0.20, 0.8416),
        (0.10, 1.2816),
        (0.05, 1.6449),
        (0.025, 1.9600),
        (0.02, 2.0537),
        (0.01, 2.3263),
        (0.001, 3.0902),
    ):
        assert normal_cdf(-z) == pytest.approx(risk, rel=1e-3)


@given(st.floats(-8, 8))
def test_normal_distribution_against_scipy(z: float) -> None:
    assert normal_cdf(z) == pytest.approx(norm.cdf(z), rel=1e-9, abs=1e-15)


@given(st.floats(-10, 10), st.floats(1e-3, 3), st.floats(-10, 10), st.floats(0, 10))
def test_conformance_against_scipy(value: float, u: float, low: float, width: float) -> None:
    """The true value given the reading: normal about it (JCGM 106), or evenly within a half-width."""
    high = low + width
    at = norm(loc=value, scale=u)
    p = conformance_probability(value, u, low=low, high=high)
    assert p == pytest.approx(at.cdf(high) - at.cdf(low), abs=1e-12)
    assert specific_risk(value, u, low=low, high=high) == pytest.approx(1 - p)
    even = uniform(loc=value - u, scale=2 * u)
    share = rectangular_share(value, u, low=low, high=high)
    assert share == pytest.approx(even.cdf(high) - even.cdf(low), abs=1e-9)


@given(st.floats(0.001, 5), st.floats(0.0001, 1))
def test_standard_uncertainties_against_scipy_and_uncertainties(half_width: float, digit: float) -> None:
    assert rectangular_u(half_width) == pytest.approx(uniform(loc=-half_width, scale=2 * half_width).std())
    assert resolution_u(digit) == pytest.approx(uniform(scale=digit).std())
    both = ufloat(0, rectangular_u(half_width)) + ufloat(0, resolution_u(digit))
    assert combined_u(rectangular_u(half_width), resolution_u(digit)) == pytest.approx(both.std_dev)


def test_the_last_digit_counted_twice_costs_little() -> None:
    """check-values 6.2 says under 3 percent of u in every row of its table."""
    for reading, percent, counts, digit, *_ in METERS:
        u = rectangular_u(accuracy_half_width(reading, percent=percent, counts=counts, resolution=digit))
        assert combined_u(u, resolution_u(digit)) / u - 1 < 0.03


def test_one_sided_factors_and_lost_share() -> None:
    """check-values 6.1 and 6.3: r = 1 is 2.28 or 2.50 percent, r = 0.83 is 4.85; 4:1 loses 25 percent."""
    assert one_sided_risk(1.0) == pytest.approx(0.0228, abs=6e-5)
    assert one_sided_risk(1.0, k=1.96) == pytest.approx(0.0250, abs=6e-5)
    assert one_sided_risk(0.83) == pytest.approx(0.0485, abs=6e-5)
    assert [lost_share(t, 1.0) for t in (4, 3, 2, 1)] == [0.25, pytest.approx(1 / 3), 0.5, 1.0]


@given(st.floats(-10, 10), st.floats(1e-3, 3), st.floats(-10, 10), st.floats(0, 10))
def test_a_probability_is_one(value: float, u: float, low: float, width: float) -> None:
    p = conformance_probability(value, u, low=low, high=low + width)
    assert 0 <= p <= 1
    assert p <= conformance_probability(value, u, low=low, high=None) + 1e-12


@given(st.lists(st.floats(0, 5), min_size=2, max_size=6).map(sorted))
def test_a_wider_guard_band_accepts_less(guards: list[float]) -> None:
    pairs = [acceptance_limits(-1.0, 1.0, expanded=g) for g in guards]
    for (low, high), (next_low, next_high) in pairwise(pairs):
        assert low is not None and next_low is not None and high is not None and next_high is not None
        assert next_low >= low and next_high <= high


@pytest.mark.parametrize(
    "call",
    [
        lambda: rectangular_u(-1),
        lambda: conformance_probability(0, 0, low=0, high=1),
        lambda: rectangular_share(0, 0, low=0, high=1),
        lambda: lost_share(0, 1),
        lambda: accuracy_half_width(1, percent=-1, counts=0, resolution=0),
    ],
)
def test_nonsense_is_refused(call) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(ValueError, match="must be"):
        call()
