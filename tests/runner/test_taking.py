"""When a called-out value is taken, when it must be called again, and when two calls agree."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from flows.judging import Judgement, Reading
from flows.meter import load_meter
from runner.talk.taking import NotTaken, agrees, said_as_number, shown_in_full, take, why_again
from speech.numbers import Spoken

METER = load_meter("bench")
IN = Judgement("in", 0.02, False, 0.99, "In limits.")


def volts(value: float, **more) -> Spoken:
    return Spoken("value", value, None, "V", digits=3, **more)


def test_a_reading_comes_out_in_base_units_with_the_digit_that_was_said() -> None:
    taken = take(Spoken("value", 350.0, None, "mV", digits=1), quantity="dc_voltage", words="", confidence=1.0)
    assert taken.reading.value == pytest.approx(0.35)
    assert taken.reading.said_digit == pytest.approx(0.0001)


@pytest.mark.parametrize("value", [75.0, -75.0])
def test_a_value_no_meter_shows_here_is_not_taken(value: float) -> None:
    with pytest.raises(NotTaken, match="No meter shows that"):
        take(volts(value), quantity="dc_voltage", words="", confidence=1.0)


def test_a_gauge_below_nothing_is_taken() -> None:
    """What a data display works out for a gauge sensor whose five volts sag; refusing it asks for ever."""
    spoken = Spoken("value", -20.7, None, "kPa", digits=1)
    assert take(spoken, quantity="pressure", words="", confidence=1.0).reading.value == pytest.approx(-20.7)
    with pytest.raises(NotTaken):  # there is no pressure under a vacuum
        take(Spoken("value", -120.0, None, "kPa"), quantity="pressure", words="", confidence=1.0)


@pytest.mark.parametrize(("rpm", "in_full"), [(3000.0, True), (850.0, True), (3005.0, False)])
def test_a_display_of_tens_shows_noughts_in_its_last_place(rpm: float, in_full: bool) -> None:
    taken = take(Spoken("value", rpm, None, "rpm"), quantity="engine_speed", words="", confidence=1.0)
    assert shown_in_full(taken.reading, METER) is in_full


def test_ohms_below_nothing_are_not_taken() -> None:
    with pytest.raises(NotTaken):
        take(Spoken("value", -3.0, None, "ohm"), quantity="resistance", words="", confidence=1.0)


@pytest.mark.parametrize(
    ("spoken", "judgement", "grave", "confidence", "reason"),
    [
        (volts(5.0), IN, False, 1.0, None),
        (volts(5.0), IN, True, 1.0, "grave"),
        (volts(5.0), IN, False, 0.3, "poorly_heard"),
        (volts(5.0), Judgement("in", 0.02, True, 0.98, ""), False, 1.0, "near_limit"),
        (volts(5.0), Judgement("low", 0.02, False, 0.0, ""), False, 1.0, None),
        (volts(5.0), Judgement("doubtful", 0.02, True, 0.5, ""), False, 1.0, "doubtful"),
        (Spoken("value", 5.0, None, None), IN, False, 1.0, "unit"),
        (Spoken("zero_word", 0.0), IN, False, 1.0, "zero"),
        (Spoken("over_range"), Judgement("high", 0.0, False, 0.0, ""), False, 1.0, "over_range"),
        (Spoken("range", 4.2, 4.6, "V"), Judgement("unsteady", 0.0, True, 0.5, ""), False, 1.0, "unsteady"),
        (volts(0.003), Judgement("low", 0.002, False, 0.0, ""), True, 1.0, "zero"),
    ],
)
def test_the_reason_to_call_again(spoken, judgement, grave, confidence, reason) -> None:
    taken = take(spoken, quantity="dc_voltage", words="", confidence=confidence)
    assert why_again(taken, judgement, grave=grave, meter=METER) == reason


def test_two_calls_agree_within_a_few_counts_and_no_more() -> None:
    # bench meter, 6 V range: 1 mV digit, five counts or one in two hundred (25 mV at 5 V); by hand
    first = Reading("dc_voltage", 5.000)
    assert agrees(first, Reading("dc_voltage", 5.024), METER)
    assert not agrees(first, Reading("dc_voltage", 5.030), METER)
    assert not agrees(first, Reading("dc_voltage", None, over_range=True), METER)
    assert agrees(Reading("resistance", None, over_range=True), Reading("resistance", None, over_range=True), METER)


@given(st.floats(0.5, 59.0), st.sampled_from([10.0, 0.1, -1.0]))
def test_a_lost_point_or_sign_never_agrees(value: float, factor: float) -> None:
    other = value * factor
    assert not agrees(Reading("dc_voltage", value), Reading("dc_voltage", other), METER)


def test_what_no_fault_explains_is_called_again_and_the_sentence_says_so() -> None:
    taken = take(volts(5.0), quantity="dc_voltage", words="", confidence=1.0)
    assert why_again(taken, IN, grave=False, meter=METER) is None
    assert why_again(taken, IN, grave=False, meter=METER, explained=False) == "fits_nothing"
    assert why_again(taken, IN, grave=True, meter=METER, explained=False) == "fits_nothing", "before that it decides"


@pytest.mark.parametrize(
    ("words", "number"),
    [
        ("one two point five five volts", False),
        ("minus one three four point nine millivolts", False),
        ("twelve point five five volts", True),
        ("two hundred fifty ohms", True),
        ("five point zero one volts", False),
        ("open", False),
    ],
)
def test_whether_a_value_was_called_as_a_number(words: str, number: bool) -> None:
    assert said_as_number(words) is number


def test_a_teen_is_called_again_since_it_sounds_like_a_ten() -> None:
    def called(words: str) -> str | None:
        taken = take(volts(5.0), quantity="dc_voltage", words=words, confidence=1.0)
        return why_again(taken, IN, grave=False, meter=METER)

    for alike in ("thirteen", "thirty", "fourteen", "forty", "nineteen", "ninety", "three hundred forty"):
        assert called(f"{alike} point seven volts") == "teens", alike
    for alone in ("ten", "eleven", "twelve", "twenty", "one nine", "two hundred"):
        assert called(f"{alone} point seven volts") is None, alone
