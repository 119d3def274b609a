"""Words to readings and back: what people say, what must be asked, and values that survive the way there and back."""

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from num2words import num2words

from speech.cardinals import TEENS, TENS, parse_whole, spell_cardinal, spell_digits
from speech.grammar import grammar_for, vocabulary
from speech.numbers import NumberProblem, Spoken, parse_reading, speak_value, with_unit
from speech.sentences import Walker
from speech.units import UNITS, UnitClashError, convert

VALUES = [
    ("four point nine six volts", 4.96, "V", 2),
    ("four point nine six", 4.96, None, 2),
    ("four decimal niner six volts", 4.96, "V", 2),
    ("four point nine zero volts", 4.9, "V", 2),
    ("oh point oh five volts", 0.05, "V", 2),
    ("point oh five volts", 0.05, "V", 2),
    ("five point zero zero volts", 5.0, "V", 2),
    ("minus zero point zero two volts", -0.02, "V", 2),
    ("negative point oh two", -0.02, None, 2),
    ("minus twelve millivolts", -12, "mV", 0),
    ("volts four point nine six", 4.96, "V", 2),
    ("twelve point six volts", 12.6, "V", 1),
    ("twelve point sixty five volts", 12.65, "V", 2),
    ("four point ninety eight volts", 4.98, "V", 2),
    ("twelve volts", 12, "V", 0),
    ("two hundred and fifty millivolts", 250, "mV", 0),
    ("two hundred fifty millivolts", 250, "mV", 0),
    ("one twenty millivolts", 120, "mV", 0),
    ("four ninety eight millivolts", 498, "mV", 0),
    ("three five zero millivolts", 350, "mV", 0),
    ("one thousand two hundred ohms", 1200, "ohm", 0),
    ("twelve hundred ohms", 1200, "ohm", 0),
    ("a hundred ohms", 100, "ohm", 0),
    ("ten thousand ohms", 10_000, "ohm", 0),
    ("two two zero zero ohms", 2200, "ohm", 0),
    ("half a volt", 0.5, "V", 1),
    ("half volt", 0.5, "V", 1),
    ("a half volt", 0.5, "V", 1),
    ("three quarters of a volt", 0.75, "V", 2),
    ("a quarter of a volt", 0.25, "V", 2),
    ("twelve and a half volts", 12.5, "V", 1),
    ("twelve and a half", 12.5, None, 1),
    ("two and three quarters volts", 2.75, "V", 2),
    ("two k two", 2.2, "kohm", 1),
    ("two k two ohms", 2.2, "kohm", 1),
    ("four k oh seven", 4.07, "kohm", 2),
    ("ten k", 10, "kohm", 0),
    ("ten k ohms", 10, "kohm", 0),
    ("two point two k", 2.2, "kohm", 1),
    ("two point two kilo ohms", 2.2, "kohm", 1),
    ("one meg", 1, "Mohm", 0),
    ("one meg five", 1.5, "Mohm", 1),
    ("one oh one point three kilopascals", 101.3, "kPa", 1),
    ("one oh one kilopascals", 101, "kPa", 0),
    ("ninety eight point six k p a", 98.6, "kPa", 1),
    ("fourteen point seven psi", 14.7, "psi", 1),
    ("twenty nine point nine inches of mercury", 29.9, "inHg", 1),
    ("one point zero one bar", 1.01, "bar", 2),
    ("twenty one degrees", 21, "degC", 0),
    ("minus five degrees celsius", -5, "degC", 0),
    ("seventy degrees fahrenheit", 70, "degF", 0),
    ("one twenty hertz", 120, "Hz", 0),
    ("one point two kilohertz", 1.2, "kHz", 1),
    ("eight hundred rpm", 800, "rpm", 0),
    ("three thousand two hundred rpm", 3200, "rpm", 0),
    ("one four five zero rpm", 1450, "rpm", 0),
    ("eighty percent", 80, "percent", 0),
    ("one hundred twenty amps", 120, "A", 0),
    ("zero point three amps", 0.3, "A", 1),
    ("forty milliamps", 40, "mA", 0),
    ("zero", 0, None, 0),
    ("zero volts", 0, "V", 0),
    ("um four point two volts", 4.2, "V", 1),
    ("it is four point two volts", 4.2, "V", 1),
    ("i read four point two volts", 4.2, "V", 1),
    ("double two zero ohms", 220, "ohm", 0),
    ("zero four point nine volts", 4.9, "V", 1),
]


@pytest.mark.parametrize(("words", "value", "unit", "digits"), VALUES)
def test_what_people_say_is_the_value_they_mean(words: str, value: float, unit: str | None, digits: int) -> None:
    spoken = parse_reading(words)
    assert isinstance(spoken, Spoken), spoken
    assert (spoken.kind, spoken.value, spoken.unit, spoken.digits) == ("value", value, unit, digits)


PROBLEMS = [
    ("four point point six", "I heard two points. Give me the digits."),
    ("four point nine point six volts", "I heard two points. Give me the digits."),
    ("four point", "I heard nothing after the point. Give me the digits."),
    ("four nine six volts", "Say it again with the point."),
    ("four nine volts", "Say it again with the point."),
    ("four ninety eight volts", "Say it again with the point."),
    ("twelve six volts", "Say it again with the point."),
    ("twelve sixty five volts", "Say it again with the point."),
    ("twelve fifty ohms", "Say it again with the point."),
    ("one four seven psi", "Say it again with the point."),
    ("four seven kilohms", "Say it again with the point."),
    ("zero five volts", "Say it again with the point."),
    ("oh five", "Say it again with the point."),
    ("about five", "Give me the digits."),
    ("roughly four point two volts", "Give me the digits."),
    ("volts", "Give me the digits."),
    ("", "Give me the digits."),
    ("okay", "Give me the digits."),
    ("five okay", "Give me the digits."),
    ("four k seven volts", "Give me the digits."),
    ("two point two k two", "Give me the digits."),
    ("two k two k", "Give me the digits."),
    ("four volts nine six", "Say the digits first, then the unit."),
    ("volts four point two ohms", "I heard two units. Give me the digits and one unit."),
    ("one two three four five six seven eight millivolts", "That is too many digits. Give me the digits again."),
    ("hundred", "Give me the digits."),
    ("two hundred hundred", "Give me the digits."),
    ("minus minus four", "Give me the digits."),
    ("bouncing four point two volts", "Give me the lowest and the highest, each with its digits."),
    ("bouncing four two to four six volts", "Say it again with the point."),
    ("bouncing about four to five", "Give me the digits."),
]


@pytest.mark.parametrize(("words", "ask"), PROBLEMS)
def test_what_is_not_certain_is_asked_for(words: str, ask: str) -> None:
    problem = parse_reading(words)
    assert isinstance(problem, NumberProblem), problem
    assert problem.ask == ask


@pytest.mark.parametrize("words", ["oh el", "open", "open line", "overload", "over range", "oh el kilohms", "infinite"])
def test_over_range_has_no_value(words: str) -> None:
    spoken = parse_reading(words)
    assert isinstance(spoken, Spoken)
    assert (spoken.kind, spoken.value) == ("over_range", None)


@pytest.mark.parametrize("words", ["dead", "nothing"])
def test_dead_is_a_word_for_zero_and_says_so(words: str) -> None:
    spoken = parse_reading(words)
    assert isinstance(spoken, Spoken)
    assert (spoken.kind, spoken.value) == ("zero_word", 0.0)


@pytest.mark.parametrize(
    ("words", "low", "high", "unit"),
    [
        ("bouncing four point two to four point six volts", 4.2, 4.6, "V"),
        ("bouncing four point six to four point two volts", 4.2, 4.6, "V"),
        ("jumping between four and five volts", 4, 5, "V"),
        ("bouncing one two to one four millivolts", 12, 14, "mV"),
        ("bouncing one two two one four millivolts", 12, 14, "mV"),  # "two" heard for "to"
        ("bouncing four point two two four point six volts", 4.2, 4.6, "V"),
        ("drifting from minus point oh two to point oh two volts", -0.02, 0.02, "V"),
        ("bouncing between two hundred and two hundred and fifty millivolts", 200, 250, "mV"),
        ("bouncing four point two volts to four point six volts", 4.2, 4.6, "V"),
        ("four point two to four point six volts", 4.2, 4.6, "V"),
        ("bouncing two k two to two k four", 2.2, 2.4, "kohm"),
    ],
)
def test_a_bouncing_reading_has_two_ends(words: str, low: float, high: float, unit: str) -> None:
    spoken = parse_reading(words)
    assert isinstance(spoken, Spoken), spoken
    assert (spoken.kind, spoken.value, spoken.high, spoken.unit) == ("range", low, high, unit)


def test_correction_leaves_only_the_last_value() -> None:
    spoken = parse_reading("four point correction four point six correction four point nine volts")
    assert isinstance(spoken, Spoken)
    assert (spoken.value, spoken.correction) == (4.9, True)
    broken = parse_reading("four point six volts correction four point point nine")
    assert isinstance(broken, NumberProblem)
    assert broken.correction


def test_the_expected_unit_says_where_a_point_matters_but_is_not_taken_as_said() -> None:
    assert parse_reading("four ninety eight", expected_unit="V") == NumberProblem(
        "no point", "Say it again with the point."
    )
    spoken = parse_reading("four ninety eight", expected_unit="mV")
    assert isinstance(spoken, Spoken)
    assert (spoken.value, spoken.unit) == (498, None)
    plain = parse_reading("four ninety eight")
    assert isinstance(plain, Spoken)
    assert isinstance(with_unit(plain, "V"), NumberProblem)
    assert with_unit(plain, "mV").unit == "mV"  # type: ignore[union-attr]


def test_bare_degrees_are_those_that_were_asked_for() -> None:
    units = [parse_reading("seventy degrees", expected_unit=unit) for unit in (None, "degC", "degF")]
    assert [spoken.unit for spoken in units if isinstance(spoken, Spoken)] == ["degC", "degC", "degF"]


@given(
    st.sampled_from(sorted(UNITS)),
    st.integers(0, 4),
    st.integers(-999_999, 999_999),
)
def test_a_spoken_value_parses_back(unit: str, decimals: int, figures: int) -> None:
    value = figures / 10**decimals
    spoken = parse_reading(speak_value(value, unit, decimals=decimals))
    assert isinstance(spoken, Spoken), spoken
    assert spoken.value == pytest.approx(value, abs=1e-9)
    assert (spoken.unit, spoken.digits) == (unit, decimals)


@given(st.sampled_from(sorted(UNITS)), st.integers(0, 3), st.integers(-99_999, 99_999))
def test_a_spoken_value_can_be_heard(unit: str, decimals: int, figures: int) -> None:
    words = speak_value(figures / 10**decimals, unit, decimals=decimals)
    if "." not in words and len(str(abs(figures))) - decimals <= 3:
        assert WALKER.accepts(words), words


WALKER = Walker(grammar_for("reading"))
WORDS = st.lists(st.sampled_from(vocabulary("reading")), max_size=14)


@given(WORDS, st.sampled_from([None, *UNITS]))
def test_no_words_crash_the_parser(words: list[str], unit: str | None) -> None:
    result = parse_reading(" ".join(words), expected_unit=unit)
    assert isinstance(result, Spoken | NumberProblem)
    if isinstance(result, Spoken) and result.value is not None:
        assert math.isfinite(result.value)


@given(st.text(max_size=40))
def test_no_text_crashes_the_parser(text: str) -> None:
    assert isinstance(parse_reading(text), Spoken | NumberProblem)


def test_every_sentence_of_the_grammar_has_a_meaning_or_a_question() -> None:
    rng = random.Random(7)
    for _ in range(3000):
        words = " ".join(WALKER.sample(rng))
        result = parse_reading(words)
        assert isinstance(result, Spoken) or result.ask.endswith(".")


@pytest.mark.parametrize("words", [words for words, *_ in VALUES if "double" not in words and "kilo ohms" not in words])
def test_what_can_be_parsed_can_be_heard(words: str) -> None:
    assert WALKER.accepts(words), words


@given(st.integers(0, 999_999))
def test_cardinals_agree_with_num2words(number: int) -> None:
    book = num2words(number).replace("-", " ").replace(",", "")
    whole = parse_whole(book.split())
    assert whole is not None
    assert whole.value == number
    assert whole.shape == "cardinal"
    assert parse_whole(spell_cardinal(number).split()) == whole
    assert spell_cardinal(number) == book.replace(" and ", " ")


@given(st.decimals(min_value=0, max_value=999, places=3))
def test_points_agree_with_num2words(number: object) -> None:
    # num2words leaves zeros at the end out
    book = num2words(float(str(number))).replace("-", " ").replace(",", "")
    spoken = parse_reading(book)
    assert isinstance(spoken, Spoken), book
    assert spoken.value == float(str(number))


def test_teens_and_tens_are_never_mixed_up() -> None:
    for words, value in [*TEENS.items(), *TENS.items()]:
        spoken = parse_reading(f"{words} millivolts")
        assert isinstance(spoken, Spoken)
        assert spoken.value == value


@pytest.mark.parametrize(
    ("value", "unit", "decimals", "words"),
    [
        (4.96, "V", 2, "four point nine six volts"),
        (-0.02, "V", 2, "minus zero point zero two volts"),
        (-0.001, "V", 2, "zero point zero zero volts"),
        (1, "V", 0, "one volt"),
        (1.0, "V", 1, "one point zero volts"),
        (350, "mV", 0, "three five zero millivolts"),
        (12, "V", 0, "twelve volts"),
        (101.3, "kPa", 1, "one zero one point three kilopascals"),
        (1, "inHg", 0, "one inch of mercury"),
        (4.2, None, 1, "four point two"),
    ],
)
def test_values_are_spoken_digit_by_digit(value: float, unit: str | None, decimals: int, words: str) -> None:
    assert speak_value(value, unit, decimals=decimals) == words


@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_what_has_no_digits_is_not_spoken(value: float) -> None:
    with pytest.raises(ValueError, match="cannot be spoken"):
        speak_value(value, "V", decimals=2)


def test_spelled_digits() -> None:
    assert spell_digits("-10.5") == "minus one zero point five"


@pytest.mark.parametrize(
    ("value", "unit", "to", "expected"),
    [
        (350, "mV", "V", 0.350),
        (2.2, "kohm", "ohm", 2200),
        (14.7, "psi", "kPa", 101.3529),  # 14.7 * 6.894757
        (1, "bar", "kPa", 100),
        (212, "degF", "degC", 100),
        (-40, "degC", "degF", -40),
        (30, "inHg", "kPa", 101.59167),
        (1500, "Hz", "kHz", 1.5),
        (4.96, "V", "V", 4.96),
    ],
)
def test_units_of_one_quantity_convert(value: float, unit: str, to: str, expected: float) -> None:
    assert convert(value, unit, to) == pytest.approx(expected, rel=1e-6)


def test_another_quantity_is_refused_with_what_to_do() -> None:
    with pytest.raises(UnitClashError, match=r"I heard amps, and this is read in volts\. Call it in volts\."):
        convert(4, "A", "V")
