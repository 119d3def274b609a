"""An exercise: what is hidden is what reads, what is chosen costs its minutes, and the score says what happened."""

import math
from collections.abc import Sequence
from typing import Any, cast

import pytest

from flows.site import Site
from flows.source import load_sheet, shipped_flows
from runner.errors import StopTest
from runner.job import Job
from runner.jobs import load_job
from runner.practice.exercise import OVER_RANGE, Exercise, PracticeError, begin, offered
from runner.practice.scoring import Best, BestOrder, debrief, plain, score, verdict
from runner.practice.terminal import Trainer, said
from speech.fakes import QuietVoice, ScriptedEars

SIGNAL, GROUND, UNIT = "coolant_plug.coolant-signal", "coolant_plug.coolant-ground", "unit.coolant-signal"
BOTH_OFF = {"coolant_plug": "out", "control_unit_plug": "out"}


@pytest.fixture(scope="module")
def job() -> Job:
    return load_job("coolant-temperature", machine="th2", meter="bench", site=Site())


@pytest.fixture
def exercise(job: Job) -> Exercise:
    return begin(job, seed=3, fault="coolant-signal-open")


class Known:
    """A best order that is known at once."""

    def __init__(self, best: Best | None = None, **classes: frozenset[str]) -> None:
        self.best, self.classes = best, {name.replace("_", "-"): same for name, same in classes.items()}

    def result(self, *, wait_s: float = 0.0) -> Best | None:
        return self.best


def known(best: Best | None = None) -> BestOrder:
    same = frozenset({"coolant-signal-open"})
    return cast(BestOrder, Known(best, coolant_signal_open=same))


def with_cautions(exercise: Exercise) -> int:
    """Number of the first check that has cautions of its own."""
    return next(choice.number for choice in exercise.choices if choice.step.cautions and choice.step.measure)


def number_of(exercise: Exercise, name: str) -> int:
    return next(choice.number for choice in exercise.choices if choice.step.name == name)


def ohms_along_the_signal_wire(exercise: Exercise) -> int:
    """Number of the check that measures it end to end, whatever the flow calls it."""
    ends = {"coolant_plug.coolant-signal", "unit.coolant-signal"}
    for choice in exercise.choices:
        m = choice.step.measure
        if m and m.quantity == "resistance" and {str(m.red), str(m.black)} == ends:
            return choice.number
    raise AssertionError("no check measures the signal wire end to end")


# -- what is hidden ------------------------------------------------------------------------------------------------


def test_the_hidden_fault_is_what_the_meter_sees_and_its_codes_are_told(exercise: Exercise) -> None:
    assert exercise.codes == ("P0118",)  # an open thermistor line is pulled up: high
    exercise.probe(SIGNAL, UNIT, "resistance", BOTH_OFF)
    assert exercise.make().shown == "OL"
    exercise.probe(UNIT, "battery.negative", "dc_voltage", {"key": "on", "coolant_plug": "out"})
    made = exercise.make()
    assert made.value == pytest.approx(5.0, abs=0.15)  # the pull-up's five volts, 2 % of them either way, and the meter


def test_the_same_seed_hides_the_same_fault_and_others_are_hidden_by_lot(job: Job) -> None:
    assert begin(job, seed=7).hidden == begin(job, seed=7).hidden
    assert len({begin(job, seed=seed).hidden for seed in range(12)}) > 4


def test_a_fault_there_is_not_is_refused_in_a_sentence(job: Job) -> None:
    with pytest.raises(PracticeError, match="coolant-signal-open"):
        begin(job, seed=1, fault="flux-capacitor")


@pytest.mark.parametrize("flow", shipped_flows())
def test_every_flow_offers_checks_of_its_own_each_once(flow: str) -> None:
    choices = offered(load_job(flow, machine="th2", meter="bench", site=Site()))
    assert len(choices) >= 5
    assert [choice.number for choice in choices] == list(range(1, len(choices) + 1))
    details = [(choice.detail, choice.words if choice.detail == "look" else "") for choice in choices]
    assert len(set(details)) == len(details)


# -- choosing and making -------------------------------------------------------------------------------------------


def test_each_check_is_charged_for_its_way_plugs_and_probes_once(exercise: Exercise) -> None:
    costs, places = load_sheet("th2").costs, load_sheet("th2").places
    exercise.probe(SIGNAL, UNIT, "resistance", BOTH_OFF)
    first = exercise.make()
    ways = places["coolant_plug"].access_minutes + places["unit"].access_minutes
    assert first.minutes == pytest.approx(costs.talk + costs.dial + 2 * costs.plug + 2 * costs.probe + ways, abs=0.15)
    exercise.probe(SIGNAL, UNIT, "resistance", BOTH_OFF)
    assert exercise.make().minutes == pytest.approx(costs.talk)
    assert exercise.minutes == pytest.approx(sum(done.minutes for done in exercise.done))


def test_suspects_thin_out_and_what_was_told_is_counted_in_bits(exercise: Exercise) -> None:
    exercise.probe(SIGNAL, UNIT, "resistance", BOTH_OFF)
    one = exercise.make()
    assert one.before > one.after and one.bits > 1
    exercise.probe(SIGNAL, UNIT, "resistance", BOTH_OFF)
    again = exercise.make()
    assert again.before == again.after == one.after and again.bits < 0.05


@pytest.mark.parametrize(
    ("predicted", "close"), [(5.0, True), (4.6, True), (4.0, False), (OVER_RANGE, False), (None, None)]
)
def test_a_prediction_within_a_tenth_counts(exercise: Exercise, predicted: float | None, close: bool | None) -> None:
    exercise.probe(UNIT, "battery.negative", "dc_voltage", {"key": "on", "coolant_plug": "out"})
    assert exercise.make(predicted=predicted).close is close


def test_over_range_can_be_predicted(exercise: Exercise) -> None:
    exercise.probe(SIGNAL, UNIT, "resistance", BOTH_OFF)
    made = exercise.make(predicted=OVER_RANGE)
    assert made.close is True and made.value == math.inf


def test_ohms_on_a_live_circuit_are_refused_and_counted(exercise: Exercise) -> None:
    with pytest.raises(PracticeError, match="Key off first"):
        exercise.probe(SIGNAL, GROUND, "resistance", {"key": "on"})
    assert len(exercise.refused) == 1 and exercise.pending is None and not exercise.done


@pytest.mark.parametrize(
    ("red", "black", "quantity"),
    [
        (SIGNAL, SIGNAL, "dc_voltage"),
        (SIGNAL, "", "dc_voltage"),
        ("display.coolant", SIGNAL, "dc_voltage"),
        ("../../etc/passwd", SIGNAL, "dc_voltage"),
        (SIGNAL, GROUND, "frequency"),
    ],
)
def test_probes_go_to_two_points_of_metal(exercise: Exercise, red: str, black: str, quantity: str) -> None:
    with pytest.raises(PracticeError):
        exercise.probe(red, black, quantity, {})
    assert exercise.pending is None


def test_ohms_through_the_control_unit_are_refused_until_its_plug_is_off(exercise: Exercise) -> None:
    with pytest.raises(PracticeError, match="through the control unit"):
        exercise.probe(SIGNAL, "engine.block", "resistance", {"coolant_plug": "out"})
    exercise.probe(SIGNAL, "engine.block", "resistance", BOTH_OFF)
    assert exercise.pending is not None and len(exercise.refused) == 1


def test_a_sensor_by_itself_may_be_measured_with_the_control_unit_plugged_in(job: Job) -> None:
    other = begin(load_job("crank-speed", machine="th2", meter="bench", site=Site()), seed=1)
    pins = "crank_sensor.crank-signal", "crank_sensor.crank-ground"
    other.probe(*pins, "resistance", {"crank_plug": "out"})
    assert other.pending is not None
    with pytest.raises(PracticeError, match="through the control unit"):
        other.probe(*pins, "resistance", {})


def test_a_state_there_is_not_is_left_alone(exercise: Exercise) -> None:
    step = exercise.probe(SIGNAL, GROUND, "dc_voltage", {"key": "on", "coolant_plug": "melted", "nonsense": "yes"})
    assert step.measure is not None
    assert step.measure.state["key"] == "on" and "melted" not in step.measure.state.values()
    assert "nonsense" not in step.measure.state


def test_cautions_are_due_once_before_the_check_that_has_them(exercise: Exercise) -> None:
    number = number_of(exercise, "look-plug")
    exercise.choose(number)
    due = exercise.cautions_due()
    assert "moving_parts" in due
    made = exercise.make()
    assert made.due == due and not made.respected
    exercise.choose(number)
    assert exercise.cautions_due() == ()
    assert exercise.make().respected


def test_a_probing_of_ones_own_has_the_cautions_of_the_like() -> None:
    exercise = begin(load_job("charging", machine="th2", meter="bench", site=Site()), seed=1)
    step = exercise.probe("battery.positive", "engine.block", "dc_voltage", {"key": "off", "engine": "fast"})
    assert step.measure is not None and (step.measure.state["key"], step.measure.state["engine"]) == ("on", "fast")
    assert "moving_parts" in exercise.cautions_due()
    assert exercise.make(minded=True).respected


def test_nothing_can_be_made_before_it_is_chosen(exercise: Exercise) -> None:
    with pytest.raises(PracticeError, match="Choose one first"):
        exercise.make()
    with pytest.raises(PracticeError, match="Choose 1 to"):
        exercise.choose(999)


# -- score ---------------------------------------------------------------------------------------------------------


def test_the_score_counts_right_minutes_cautions_and_predictions(exercise: Exercise) -> None:
    exercise.probe(SIGNAL, UNIT, "resistance", BOTH_OFF)
    exercise.make(predicted=OVER_RANGE, minded=True)
    exercise.choose(number_of(exercise, "look-plug"))
    exercise.make(predicted=2.0)
    exercise.name("coolant-signal-open")
    result = score(exercise, known(Best(2.0, 3.0, False, "resistance a b")))
    assert result.right and verdict(result) == "Right. The fault was coolant signal open."
    assert (result.cautions_kept, result.cautions_due) == (1, 2)
    assert (result.close, result.predicted) == (1, 2)
    assert result.minutes == pytest.approx(exercise.minutes)
    lines = debrief(result)
    assert any("2.0 to 3.0 minutes" in line for line in lines)
    assert any("Signal" in line or "plug" in line for line in lines if line.startswith("Most was told by"))
    assert all(len(line.split()) <= 40 for line in lines)


def test_another_name_is_wrong_and_the_fault_is_told(exercise: Exercise) -> None:
    exercise.name("thermistor-short")
    result = score(exercise, known())
    assert not result.right
    assert verdict(result) == "Wrong. You named thermistor short. The fault was coolant signal open."
    assert any("not worked out" in line for line in debrief(result))


def test_what_no_check_can_tell_apart_is_right_as_well(exercise: Exercise) -> None:
    exercise.name("thermistor-open")
    twins = frozenset({"coolant-signal-open", "thermistor-open"})
    result = score(exercise, cast(BestOrder, Known(None, coolant_signal_open=twins)))
    assert result.right and "no check can tell thermistor open from it" in verdict(result)


def test_the_best_order_needs_no_more_than_a_plain_good_one(exercise: Exercise) -> None:
    """With this code two readings at the open plug part every fault the codes leave: nobody needs an hour.

    Its first check is none that a caution forbids.
    """
    best = BestOrder(exercise).result()
    assert best is not None and 0.3 < best.lower_minutes <= best.found_minutes < 20
    assert best.first and ("ohms" not in best.first or "control unit plug out" in best.first)


@pytest.mark.parametrize(
    ("name", "words"),
    [
        (
            f"resistance {SIGNAL} {UNIT} [coolant_plug out]",
            "ohms, coolant signal at coolant sensor plug to coolant signal at control unit plug, coolant plug out",
        ),
        ("temperature display.coolant  [key on]", "temperature, coolant temperature on the data display, key on"),
        ("look at coolant_plug", "look at coolant plug"),
    ],
)
def test_a_check_of_the_search_is_put_in_words(name: str, words: str) -> None:
    assert plain(name, load_sheet("th2")) == words


# -- in the terminal ------------------------------------------------------------------------------------------------


def trained(exercise: Exercise, *script: str) -> tuple[list[str], Any, list[tuple[str, Sequence[tuple[str, str]]]]]:
    voice, shown = QuietVoice(), []
    ears = ScriptedEars(*script)
    trainer = Trainer(exercise, ears, voice, show=lambda heading, lines: shown.append((heading, lines)), best=known())
    return voice.said, trainer.run(), shown


def test_an_exercise_by_voice(exercise: Exercise) -> None:
    check = ohms_along_the_signal_wire(exercise)
    digits = " ".join({"0": "zero", "1": "one", "2": "two", "3": "three"}[d] for d in str(check))
    faults = ("none", *sorted(exercise.circuit.faults()))
    spoken = {
        0: "zero",
        1: "one",
        2: "two",
        3: "three",
        4: "four",
        5: "five",
        6: "six",
        7: "seven",
        8: "eight",
        9: "nine",
    }
    name = " ".join(spoken[int(d)] for d in str(faults.index("coolant-signal-open")))
    told, result, shown = trained(exercise, digits, "stand by", "over range", "enough", name)
    assert result.right and result.close == result.predicted == 1 and result.cautions_kept == 1
    assert "It reads over range. Near enough." in told
    assert any(line.startswith("Caution. Ohms only") for line in told)
    assert [heading for heading, _ in shown] == ["Checks", "Faults"]


def test_what_is_not_understood_is_asked_again_and_nobody_there_ends_it(exercise: Exercise) -> None:
    with pytest.raises(StopTest, match="nobody answered"):
        trained(exercise, "", "", "", "")
    with pytest.raises(StopTest, match="stop test"):
        trained(exercise, "nine nine nine", "stop test")


def test_a_caution_missed_is_told_after_the_reading_was_asked(exercise: Exercise) -> None:
    exercise.choose(ohms_along_the_signal_wire(exercise))
    trainer = Trainer(exercise, ScriptedEars("cannot"), voice := QuietVoice(), show=lambda *_: None, best=known())
    predicted, minded = trainer._predict()
    trainer._tell(exercise.make(predicted=predicted, minded=minded))
    assert any(line.startswith("A caution came first: Ohms only") for line in voice.said)


@pytest.mark.parametrize(
    ("shown", "words"), [("OL", "over range"), ("3.091\u202fV", "3.091 volts"), ("2.20\u202fkΩ", "2.20 kilohms")]
)
def test_a_reading_is_said_with_its_unit(shown: str, words: str) -> None:
    assert said(shown) == words
