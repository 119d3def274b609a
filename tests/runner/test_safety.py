"""Silent wrongs are counted as such, each rule catches what it is for, and the bounds are exact."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from flows.meter import load_meter
from runner.safety.bounds import clopper_pearson, over_groups
from runner.safety.confusions import LEVELS_DB, Case, Confusions, Voices, load
from runner.safety.otherwise import Otherwise, as_a_number
from runner.safety.person import truth
from runner.safety.simulation import one_reading, settings, simulate
from runner.talk.taking import RULES, Rules, shown_in_full

RIGHT = "five point zero zero three volts"
CASE = Case(RIGHT, "dc_voltage", 4.9, 5.1, "V", False, True, (), 5.0)


def confusions(*heard: str | None, confidence: float = 0.99, over_db: float = 20.0, case: Case = CASE) -> Confusions:
    """A set of one case in which the takes are heard like this."""
    takes = [[words, confidence, [], over_db] for words in heard]
    calls = tuple((0, level, "v", 2.0, takes) for level in LEVELS_DB)
    answers = {(w, level): ([w, 1.0, [], over_db],) for w in ("wrong", "affirm") for level in LEVELS_DB}
    return Confusions((case,), calls, answers)


def run(data: Confusions, name: str, *, notices: float = 0.0):
    rng = np.random.default_rng(1)
    return one_reading(data, rules=settings()[name], notices=notices, level=10, meter=load_meter("bench"), rng=rng)


def test_what_is_heard_right_is_recorded_after_one_call() -> None:
    one = run(confusions(RIGHT), "defaults")
    assert (one.recorded, one.wrong, one.calls) == (True, False, 1)


def ones(data: Confusions, name: str, *, notices: float, count: int = 40):
    rng, meter = np.random.default_rng(3), load_meter("bench")
    return [
        one_reading(data, rules=settings()[name], notices=notices, level=10, meter=meter, rng=rng) for _ in range(count)
    ]


def test_a_poorly_heard_digit_is_a_silent_wrong_unless_its_rival_counts_as_doubt() -> None:
    take = ["five point zero zero one volts", 0.6, [[RIGHT, 0.4]], 20.0]
    data = confusions(RIGHT)
    data = Confusions(data.cases, tuple((*call[:4], [take] * 4) for call in data.calls), data.answers)
    assert all(one.wrong for one in ones(data, "implicit only", notices=0.0))
    defaults = ones(data, "defaults", notices=0.0)
    assert not any(one.wrong for one in defaults), "who agrees to both readings is not believed"
    assert all(one.asked >= 2 for one in defaults)
    assert all(not one.wrong and one.recorded for one in ones(data, "defaults", notices=1.0))


def test_in_too_much_noise_nothing_is_taken_by_voice() -> None:
    assert not run(confusions(RIGHT, over_db=3.0), "defaults").recorded
    assert run(confusions(RIGHT, over_db=3.0), "implicit only").recorded


def test_who_notices_but_is_not_heard_has_not_consented() -> None:
    # said at 6.5 dB over the noise, heard wrong once, and "wrong" not heard at all: called again until "affirm" is wanted
    data = confusions("five point zero one three volts", RIGHT, RIGHT, RIGHT, over_db=6.5)
    answers = {key: (["", 1.0, [], 6.5],) if key[0] == "wrong" else takes for key, takes in data.answers.items()}
    data = Confusions(data.cases, data.calls, answers)
    deaf = replace(RULES, consent_db=-99.0)
    rng, meter = np.random.default_rng(1), load_meter("bench")

    def wrongs(rules: Rules) -> int:
        many = (one_reading(data, rules=rules, notices=1.0, level=5, meter=meter, rng=rng) for _ in range(40))
        return sum(one.wrong for one in many)

    assert wrongs(deaf) > 3
    assert wrongs(RULES) == 0


def test_a_listener_who_notices_everything_lets_no_wrong_one_pass() -> None:
    data = confusions("five point zero one three volts", RIGHT, RIGHT, RIGHT)
    assert not run(data, "implicit only", notices=1.0).wrong


def test_a_unit_that_is_wrong_is_a_wrong_reading() -> None:
    case = Case("five zero zero three millivolts", "dc_voltage", None, None, "V", False, True, (), 5.0)
    assert run(confusions("five zero zero three volts", case=case), "implicit only").calls >= 1
    assert truth(case).reading.value == pytest.approx(5.003)


def test_a_reading_that_nothing_explains_is_called_again() -> None:
    case = replace(CASE, low=1.0, high=20.0)
    data = confusions("nine point zero zero volts", *[RIGHT] * 3, case=case)
    # 9 V on a five volt supply is explained by nothing; the takes come in an order drawn, so many are tried
    strange = Otherwise({}, {RIGHT: frozenset({(False, 9.0, None)})})
    rng, meter = np.random.default_rng(1), load_meter("bench")

    def wrongs(otherwise: Otherwise) -> int:
        made = [
            one_reading(data, rules=RULES, notices=0.0, level=10, meter=meter, rng=rng, otherwise=otherwise)
            for _ in range(60)
        ]
        return sum(one.wrong for one in made)

    assert wrongs(Otherwise({}, {})) > 5
    assert wrongs(strange) == 0


def test_what_was_called_as_a_number_is_called_digit_by_digit_the_second_time() -> None:
    said, misheard = "one two point five five volts", "fifteen point five five volts"
    case = replace(CASE, said=said, low=12.0, high=13.0, grave=("high",))
    otherwise = Otherwise({(said, level): ([misheard, 0.99, [], 20.0],) * 4 for level in LEVELS_DB}, {})
    rng, here = np.random.default_rng(1), {"level": 10, "meter": load_meter("bench"), "notices": 0.0}

    def called(rules: Rules):
        return one_reading(
            confusions(said, case=case), rules=rules, rng=rng, otherwise=otherwise, only="numbers", **here
        )

    assert called(replace(RULES, digits_again=False)).wrong, "one voice errs alike twice"
    assert not called(RULES).wrong


@pytest.mark.parametrize(
    ("said", "number"),
    [
        ("one two point five five volts", "twelve point five five volts"),
        ("minus one three four point nine millivolts", "minus one hundred thirty four point nine millivolts"),
        ("five two one zero ohms", "five thousand two hundred ten ohms"),
        ("five point zero zero three volts", "five point zero zero three volts"),
        ("open", "open"),
    ],
)
def test_digits_before_the_point_as_one_number(said: str, number: str) -> None:
    assert as_a_number(said) == number


def test_bounds_by_hand() -> None:
    # none in n: 1 - (alpha/2) ** (1/n); one in ten: tables of the binomial
    assert clopper_pearson(0, 10)[1] == pytest.approx(1 - 0.025**0.1, abs=1e-6)
    assert clopper_pearson(1, 10) == (pytest.approx(0.00253, abs=1e-5), pytest.approx(0.44502, abs=1e-5))
    assert clopper_pearson(0, 40000)[1] < 1e-4


def test_bounds_over_call_outs_are_wider_when_one_call_out_is_always_wrong() -> None:
    groups = [number // 100 for number in range(2000)]  # twenty call-outs, one of them wrong each time
    low, high = over_groups(groups, [group == 0 for group in groups])
    assert low == 0.0 and 0.1 < high < 0.25
    assert clopper_pearson(100, 2000)[1] < 0.062


def test_the_committed_set_is_whole_and_a_small_run_of_it_works() -> None:
    data = load()
    assert all(data.pools.values())
    assert sum(len(call[4]) for call in data.calls) >= 3500
    meter = load_meter("bench")
    assert all(shown_in_full(truth(case).reading, meter) for case in data.cases), "drawn as the meter shows them"
    row = simulate(data, name="defaults", rules=RULES, notices=0.6, call_outs=600, seed=1)
    assert row.call_outs >= 600
    assert row.share < 0.02


def test_recordings_of_other_call_outs_are_refused(tmp_path: Path) -> None:
    (tmp_path / "somebody").mkdir()
    (tmp_path / "list.tsv").write_text(f"0\t{CASE.said}\nwrong\twrong\n")
    voices = Voices(tmp_path)
    assert voices.names == ["somebody"]
    voices.check([CASE])
    with pytest.raises(ValueError, match="record anew"):
        voices.check([replace(CASE, said="one volt")])
    with pytest.raises(ValueError, match="line 2"):
        voices.check([CASE, CASE])
