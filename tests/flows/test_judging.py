"""Judging: outcomes by guard band, bouncing and over range, and what a meter that cannot decide says."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from flows.judging import OUTCOMES, Reading, decides, judge, judge_many
from flows.meter import Meter, MeterRange, load_meter
from flows.windows import Window

BENCH, HAND = load_meter("bench"), load_meter("hand")
FIVE = Window(4.9, 5.1, "V", "test")
HALF_PERCENT = Meter(
    name="half percent",
    ranges={"dc_voltage": (MeterRange(full_scale=6, resolution=0.001, percent=0.5, counts=2),)},
)


def volts(value: float, window: Window = FIVE, meter: Meter = BENCH) -> str:
    return judge(Reading("dc_voltage", value), window, meter).outcome


@pytest.mark.parametrize(
    ("value", "outcome"),
    [(4.868, "low"), (4.870, "doubtful"), (4.900, "doubtful"), (4.930, "doubtful"), (4.932, "in"), (5.000, "in"),
     (5.068, "in"), (5.070, "doubtful"), (5.100, "doubtful"), (5.130, "doubtful"), (5.133, "high")],
)  # fmt: skip
def test_worked_decision_of_a_five_volt_reference(value: float, outcome: str) -> None:
    """check-values 6.3: pass 4.9312 to 5.0688, fail below 4.8688 or above 5.1312 (0.5 percent and 2 mV, w = U)."""
    assert volts(value, meter=HALF_PERCENT) == outcome


def test_probability_is_that_of_jcgm_106() -> None:
    """check-values 6.3, at u 0.015591; ours takes u at the reading itself, so it differs in the third digit."""
    for value, probability in (
        (4.900, 0.5),
        (4.925, 0.9456),
        (4.950, 0.9993),
        (5.000, 1.0),
        (5.080, 0.9002),
        (5.100, 0.5),
    ):
        assert judge(Reading("dc_voltage", value), FIVE, HALF_PERCENT).probability == pytest.approx(
            probability, abs=4e-3
        )


def test_ground_drop_on_two_ranges() -> None:
    """check-values 6.3: 0.5 percent and 3 counts, limit 0.1000 V: pass to 0.09907 on 0.1 mV digits, 0.0959 on 1 mV."""
    window = Window(-0.1, 0.1, "V", "test")
    for digit, last_pass in ((0.0001, 0.0990), (0.001, 0.0959)):
        spec = MeterRange(full_scale=0.6, resolution=digit, percent=0.5, counts=3)
        meter = Meter(name="x", ranges={"dc_voltage": (spec,)})
        assert volts(last_pass, window, meter) == "in"
        assert volts(last_pass + 0.0002, window, meter) == "doubtful"


def test_bouncing_is_unsteady_unless_both_ends_agree() -> None:
    def bounce(low: float, high: float) -> str:
        return judge(Reading("dc_voltage", low, high), FIVE, BENCH).outcome

    assert bounce(4.98, 5.02) == "in"
    assert bounce(5.02, 4.98) == "in"
    assert bounce(4.5, 4.6) == "low"
    assert bounce(4.5, 5.0) == "unsteady"
    assert bounce(4.91, 5.0) == "unsteady"  # doubtful at one end
    assert bounce(4.5, 5.5) == "unsteady"


def test_over_range() -> None:
    over_v, over_ohm = Reading("dc_voltage", None, over_range=True), Reading("resistance", None, over_range=True)
    high = judge(over_v, FIVE, BENCH)
    assert (high.outcome, high.sentence) == ("high", "Over range: more than this meter can show. Check its range.")
    assert judge(over_ohm, Window(None, 1.0, "ohm", "test"), BENCH).outcome == "open_line"
    assert judge(over_ohm, Window(1e6, None, "ohm", "test"), BENCH).outcome == "in"
    assert judge(over_v, Window(9.6, None, "V", "test"), BENCH).outcome == "doubtful"
    assert judge(Reading("resistance", float("inf")), Window(None, 1.0, "ohm", "test"), BENCH).outcome == "open_line"


def test_supply_at_the_plug_on_a_ten_millivolt_digit_cannot_be_decided() -> None:
    """Common practice, no source: supply at the plug 4.9 to 5.0 V. U is 0.0523 V (check-values 6.2), 2 U is above 0.1 V."""
    window = Window(4.9, 5.0, "V", "common practice")
    for value in np.arange(4.80, 5.11, 0.01):
        assert volts(float(value), window, HAND) != "in"
    middle = judge(Reading("dc_voltage", 4.95), window, HAND)
    assert middle.outcome == "doubtful" and middle.probability > 0.9
    assert middle.sentence == (
        "This meter cannot decide: the window is 100, it needs 104 millivolts. Measure the drop itself on a lower range."
    )
    assert volts(4.95, window, BENCH) == "in"  # the bench meter's 1 mV digit decides
    assert decides("dc_voltage", window, BENCH) and not decides("dc_voltage", window, HAND)
    assert decides("dc_voltage", Window(4.9, None, "V", "test"), HAND)
    ohms = judge(Reading("resistance", 1.0), Window(0.9, 1.1, "ohm", "test"), BENCH)
    assert ohms.outcome == "doubtful" and ohms.sentence.endswith("Use a finer meter.")


def test_a_limit_on_the_display_itself_has_no_guard_band() -> None:
    shorted = Window(None, 0.5, "ohm", "test", simple=True)
    for value, outcome, near in ((0.2, "in", False), (0.5, "in", True), (0.6, "high", False)):
        judged = judge(Reading("resistance", value), shorted, BENCH)
        assert (judged.outcome, judged.near_limit, judged.guard) == (outcome, near, 0.0)


def test_near_a_limit() -> None:
    assert not judge(Reading("dc_voltage", 5.0), FIVE, BENCH).near_limit
    assert judge(Reading("dc_voltage", 4.925), FIVE, BENCH).near_limit
    assert judge(Reading("dc_voltage", 4.875), FIVE, BENCH).near_limit
    assert not judge(Reading("dc_voltage", 4.0), FIVE, BENCH).near_limit


def test_a_coarsely_said_value_is_doubtful_sooner() -> None:
    window = Window(4.7, 5.1, "V", "test")
    assert volts(4.73, window) == "in"
    assert judge(Reading("dc_voltage", 4.73, said_digit=0.1), window, BENCH).outcome == "doubtful"


def test_readings_without_sense_are_refused() -> None:
    with pytest.raises(ValueError, match="dc_voltage"):
        Reading("volts", 1.0)
    with pytest.raises(ValueError, match="over_range"):
        Reading("dc_voltage", None)


LIMIT = st.one_of(st.none(), st.floats(-20, 20).map(lambda x: round(x, 3)))
CALLED = st.floats(-59, 59).map(lambda x: round(x, 3))


@st.composite
def windows(draw: st.DrawFn) -> Window:
    low, high = draw(LIMIT), draw(LIMIT)
    if low is not None and high is not None and low > high:
        low, high = high, low
    return Window(low, high, "V", "test", simple=draw(st.booleans()))


@given(windows(), st.lists(st.one_of(CALLED, st.just(np.inf)), min_size=1, max_size=30), st.sampled_from([BENCH, HAND]))
def test_arrays_judge_like_scalars(window: Window, values: list[float], meter: Meter) -> None:
    values = [v if v == np.inf or abs(v) < 19 else v / 4 for v in values]
    codes = judge_many("dc_voltage", values, low=window.low, high=window.high, meter=meter, simple=window.simple)
    one_by_one = [judge(Reading("dc_voltage", v), window, meter).outcome for v in values]
    assert [OUTCOMES[code] for code in codes] == one_by_one


@given(windows(), st.lists(CALLED, min_size=2, max_size=30))
def test_outcomes_rise_with_the_reading(window: Window, values: list[float]) -> None:
    """On one range, so that U does not jump: low, doubtful, in, doubtful, high, never back."""
    same_range = sorted(6 + abs(v) for v in values if abs(v) < 50)
    order = {"low": 0, "doubtful": 1, "in": 1, "high": 2}
    ranks = [order[volts(v, window)] for v in same_range]
    assert all(a <= b for a, b in pairwise(ranks))


@given(windows(), CALLED, st.floats(1, 5))
def test_a_worse_meter_never_passes_what_a_better_one_does_not(window: Window, value: float, worse: float) -> None:
    spec = BENCH.range_for("dc_voltage", 5.0)
    coarse = spec.model_copy(update={"percent": spec.percent * worse, "full_scale": 60.0})
    fine = Meter(name="fine", ranges={"dc_voltage": (spec.model_copy(update={"full_scale": 60.0}),)})
    other = Meter(name="coarse", ranges={"dc_voltage": (coarse,)})
    for outcome in ("in", "low", "high"):
        if volts(value, window, other) == outcome:
            assert volts(value, window, fine) == outcome


@given(windows(), CALLED, st.floats(-1, 1), st.floats(-1, 1))
def test_no_reading_within_the_meter_s_specification_is_judged_wrongly(
    window: Window, true: float, gain: float, offset: float
) -> None:
    """U is a little more than the whole error, so `in`, `low` and `high` are never wrong by the meter's fault."""
    if window.simple:
        return
    shown = BENCH.shows("dc_voltage", true, gain=gain, offset=offset)
    outcome = volts(shown, window)
    low = -np.inf if window.low is None else window.low
    high = np.inf if window.high is None else window.high
    if outcome == "in":
        assert low <= true <= high
    if outcome == "low":
        assert true < low
    if outcome == "high":
        assert true > high


@given(windows(), CALLED, st.one_of(st.none(), CALLED))
def test_what_is_said_is_short_and_speakable(window: Window, value: float, other: float | None) -> None:
    ends = (value, None) if other is None else tuple(sorted((value, other)))
    judged = judge(Reading("dc_voltage", ends[0], ends[1]), window, BENCH)
    assert len(judged.sentence.split()) <= 20
    assert not set(judged.sentence) & set("-+±%Ω°µ/<>=")
    assert judged.outcome in OUTCOMES and 0 <= judged.probability <= 1


def test_bounds_may_differ_from_draw_to_draw() -> None:
    codes = judge_many("dc_voltage", [4.0, 4.0, 4.0], low=[3.9, 4.5, np.nan], high=[4.1, 5.0, 3.0], meter=BENCH)
    assert [OUTCOMES[c] for c in codes] == ["in", "low", "high"]
    many = judge_many("resistance", [np.inf, 0.3], low=None, high=[5.0, 5.0], meter=BENCH)
    assert [OUTCOMES[c] for c in many] == ["open_line", "in"]
