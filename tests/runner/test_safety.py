"""Silent wrongs are counted as such, each rule catches what it is for, and the bounds are exact."""

import numpy as np
import pytest

from flows.meter import load_meter
from runner.safety.confusions import LEVELS_DB, Case, Confusions, load
from runner.safety.simulation import clopper_pearson, one_reading, settings, simulate, truth
from runner.talk.taking import RULES, _as_shown

RIGHT = "five point zero zero three volts"
CASE = Case(RIGHT, "dc_voltage", 4.9, 5.1, "V", False, (), 5.0)


def confusions(*heard: str | None, confidence: float = 0.99, case: Case = CASE) -> Confusions:
    """A set of one case in which the takes are heard like this."""
    takes = [[words, confidence, []] for words in heard]
    calls = {level: ((0, level, "v", 2.0, takes),) for level in LEVELS_DB}
    answers = {(w, level): ([w, 1.0],) for w in ("wrong", "affirm") for level in LEVELS_DB}
    return Confusions((case,), calls, answers)


def run(data: Confusions, name: str, *, notices: float = 0.0):
    rng = np.random.default_rng(1)
    return one_reading(data, rules=settings()[name], notices=notices, level=10, meter=load_meter("bench"), rng=rng)


def test_what_is_heard_right_is_recorded_after_one_call() -> None:
    one = run(confusions(RIGHT), "defaults")
    assert (one.recorded, one.wrong, one.calls) == (True, False, 1)


@pytest.mark.parametrize(("name", "wrong"), [("implicit only", True), ("+ all digits shown", False)])
def test_a_lost_digit_is_a_silent_wrong_unless_the_digits_are_counted(name: str, wrong: bool) -> None:
    data = confusions("five point zero three volts", RIGHT, RIGHT, RIGHT)
    ones = [
        one_reading(
            data, rules=settings()[name], notices=0.0, level=10, meter=load_meter("bench"), rng=np.random.default_rng(s)
        )
        for s in range(12)
    ]
    assert any(one.wrong for one in ones) is wrong


def test_a_listener_who_notices_everything_lets_no_wrong_one_pass() -> None:
    data = confusions("five point zero one three volts", RIGHT, RIGHT, RIGHT)
    assert not run(data, "implicit only", notices=1.0).wrong


def test_a_unit_that_is_wrong_is_a_wrong_reading() -> None:
    case = Case("five zero zero three millivolts", "dc_voltage", None, None, "V", False, (), 5.0)
    assert run(confusions("five zero zero three volts", case=case), "implicit only").calls >= 1
    assert truth(case).reading.value == pytest.approx(5.003)


def test_bounds_by_hand() -> None:
    # none in n: 1 - (alpha/2) ** (1/n); one in ten: tables of the binomial
    assert clopper_pearson(0, 10)[1] == pytest.approx(1 - 0.025**0.1, abs=1e-6)
    assert clopper_pearson(1, 10) == (pytest.approx(0.00253, abs=1e-5), pytest.approx(0.44502, abs=1e-5))
    assert clopper_pearson(0, 40000)[1] < 1e-4


def test_the_committed_set_is_whole_and_a_small_run_of_it_works() -> None:
    data = load()
    assert all(data.calls[level] for level in LEVELS_DB)
    assert sum(len(call[4]) for calls in data.calls.values() for call in calls) >= 4000
    meter = load_meter("bench")
    assert all(_as_shown(truth(case).reading, meter) for case in data.cases), "values are drawn as the meter shows them"
    row = simulate(data, name="defaults", rules=RULES, notices=0.6, call_outs=300, seed=1)
    assert row.call_outs >= 300
    assert row.share < 0.06
