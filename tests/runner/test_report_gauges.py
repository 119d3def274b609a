"""Gauges: everything stands where its number says, nothing leaves the drawing, far readings break the axis."""

from __future__ import annotations

import doctest
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.report import figures, gauges, story
from runner.report.gauges import LEFT, RIGHT, Shown, draw, nice_step


def shown(value: float | None, low: float | None = 4.9, high: float | None = 5.1, **more: Any) -> Shown:
    facts: dict[str, Any] = {
        "value_high": None,
        "over_range": value is None,
        "guard": 0.03,
        "unit": "V",
        "outcome": "in",
    }
    return Shown(value=value, low=low, high=high, **(facts | more))


def at(gauge: gauges.Gauge, text: str) -> float:
    return next(mark.x for mark in gauge.ticks if mark.text == text)


def test_reading_stands_between_its_ticks() -> None:
    gauge = draw(shown(4.95))
    assert gauge.window is not None
    assert at(gauge, "4.9") == pytest.approx(gauge.window.x, abs=0.02)
    assert gauge.x == pytest.approx((at(gauge, "4.9") + at(gauge, "5.0")) / 2, abs=0.02)
    assert [limit.text for limit in gauge.limits] == ["4.9", "5.1"] and gauge.beyond == ""


def test_doubtful_zone_lies_on_both_sides_of_each_limit() -> None:
    gauge = draw(shown(5.0))
    assert gauge.window is not None
    one, two = gauge.doubtful
    volts_per = 0.1 / (at(gauge, "5.0") - at(gauge, "4.9"))
    assert one.width * volts_per == pytest.approx(0.06, abs=0.001) == pytest.approx(two.width * volts_per, abs=0.001)
    assert one.x + one.width / 2 == pytest.approx(gauge.window.x, abs=0.02)


def test_window_narrower_than_the_meter_can_tell_is_doubtful_throughout() -> None:
    gauge = draw(shown(4.95, 4.9, 5.0, guard=0.06))
    assert len(gauge.doubtful) == 1 and gauge.window is not None
    assert gauge.doubtful[0].x < gauge.window.x
    assert gauge.doubtful[0].x + gauge.doubtful[0].width > gauge.window.x + gauge.window.width


def test_limits_on_the_display_itself_have_no_doubtful_zone() -> None:
    assert draw(shown(5.0, guard=0.0)).doubtful == ()


def test_reading_near_by_widens_the_axis() -> None:
    gauge = draw(shown(4.4, outcome="low"))
    assert gauge.beyond == "" and gauge.shape == "left"
    assert LEFT < gauge.x < gauge.window.x  # type: ignore[union-attr]


@pytest.mark.parametrize(("value", "side"), [(0.0, "left"), (-12.6, "left"), (12.6, "right"), (1e9, "right")])
def test_reading_far_away_breaks_the_axis(value: float, side: str) -> None:
    gauge = draw(shown(value, outcome="low" if side == "left" else "high"))
    assert gauge.beyond == side
    assert gauge.window is not None and gauge.window.width > 50  # not squeezed
    assert gauge.x == (LEFT + 5 if side == "left" else RIGHT - 5)


def test_over_range_is_a_ring_past_the_right_end() -> None:
    gauge = draw(shown(None, 1e5, None, unit="ohm", guard=0.0))
    assert (gauge.beyond, gauge.shape, gauge.unit) == ("right", "ring", "kΩ")
    assert gauge.window is not None and gauge.open_right and not gauge.open_left
    assert gauge.window.x + gauge.window.width == pytest.approx(gauge.axis.x + gauge.axis.width)
    assert gauge.words == "Over range; allowed from 100\u202fkΩ"


def test_one_sided_window_reaches_the_end_of_the_axis() -> None:
    gauge = draw(shown(0.021, None, 0.05, guard=0.004))
    assert gauge.window is not None and gauge.window.x == gauge.axis.x and gauge.open_left
    assert gauge.unit == "mV" and [limit.text for limit in gauge.limits] == ["50"]


def test_bouncing_reading_is_a_stretch() -> None:
    gauge = draw(shown(4.95, value_high=5.05, outcome="unsteady"))
    assert gauge.x_high is not None and gauge.x_high > gauge.x and gauge.shape == "span"


def test_limits_that_stand_close_are_written_apart() -> None:
    gauge = draw(shown(5.0, 4.99, 5.01, guard=0.05, outcome="doubtful"))
    assert [limit.anchor for limit in gauge.limits] == ["end", "start"]


def test_reading_that_is_not_judged_still_has_a_gauge() -> None:
    gauge = draw(shown(12.63, None, None, guard=0.0, outcome=""))
    assert gauge.window is None and gauge.limits == () and gauge.words.endswith("not judged")
    assert LEFT < gauge.x < RIGHT


NUMBERS = st.floats(-1e7, 1e7, allow_nan=False)
MAYBE = st.one_of(st.none(), NUMBERS)


@given(NUMBERS, MAYBE, MAYBE, MAYBE, st.floats(0, 1e5), st.sampled_from(["V", "ohm", "kPa", "A", "degC"]))
def test_nothing_leaves_the_drawing(
    value: float, value_high: float | None, low: float | None, high: float | None, guard: float, unit: str
) -> None:
    if low is not None and high is not None and low > high:
        low, high = high, low
    gauge = draw(
        Shown(
            value=value,
            value_high=value_high,
            over_range=False,
            low=low,
            high=high,
            guard=guard,
            unit=unit,
            outcome="in",
        )
    )
    places = [gauge.x, *(mark.x for mark in gauge.ticks), *gauge.minor, *(mark.x for mark in gauge.limits)]
    places += [stretch.x for stretch in gauge.doubtful] + [stretch.x + stretch.width - 2 for stretch in gauge.doubtful]
    assert all(LEFT - 0.01 <= place <= RIGHT + 0.01 for place in places)
    assert 1 <= len(gauge.ticks) <= 7 and len(gauge.minor) <= 40


@given(st.floats(1e-9, 1e9), st.integers(2, 9))
def test_ticks_are_round_and_not_too_many(span: float, most: int) -> None:
    step = nice_step(span, most=most)
    assert span / step <= most * (1 + 1e-6)
    assert f"{step:.3e}"[0] in "125"


@pytest.mark.parametrize("module", [figures, gauges, story])
def test_examples_in_the_modules_hold(module: Any) -> None:
    assert doctest.testmod(module).failed == 0
