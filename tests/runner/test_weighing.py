"""What a call-out may have been: rivals, what the meter cannot show, and what was called wrong."""

import pytest

from flows.meter import load_meter
from runner.talk.taking import RULES, NotTaken
from runner.talk.weighing import key, possible, together
from speech.ports import Alternative, Heard

METER = load_meter("bench")


def heard(words: str, confidence: float, **rivals: float) -> Heard:
    others = tuple(Alternative(text.replace("_", " "), share) for text, share in rivals.items())
    return Heard(words, confidence, others)


def readings(one: Heard):
    return possible(one, quantity="dc_voltage", meter=METER, rules=RULES)


def test_a_unit_heard_as_one_more_digit_is_no_rival() -> None:
    call = readings(heard("four point nine nine one four", 0.5, four_point_nine_nine_one_volts=0.4))
    assert [taken.reading.value for taken in call] == [4.991]
    # of what cannot be a reading six tenths stay doubt: 0.4 / (0.4 + 0.6 * 0.6)
    assert call[0].confidence == pytest.approx(0.4 / 0.76)


def test_the_same_value_said_two_ways_is_one_reading() -> None:
    call = readings(heard("five volts", 0.6, five_point_zero_volts=0.4))
    assert len(call) == 1
    assert call[0].confidence == pytest.approx(1.0)


def test_words_that_can_be_nothing_here_are_refused_with_a_reason() -> None:
    with pytest.raises(NotTaken, match="more digits"):
        readings(heard("four point nine nine one four volts", 1.0))


def test_the_rival_wins_when_the_likeliest_was_called_wrong() -> None:
    call = readings(heard("one five point one zero volts", 0.6, one_nine_point_one_zero_volts=0.4))
    shares = together([call], struck={key(call[0])})
    assert next(iter(shares)) == key(call[1])


def test_what_is_typed_has_no_rivals() -> None:
    typed = Heard("five volts", 1.0, (Alternative("nine volts", 0.5),), source="keyboard")
    (taken,) = readings(typed)
    assert taken.typed and taken.confidence == 1.0
