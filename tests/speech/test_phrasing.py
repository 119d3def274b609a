"""Text for the voice: no symbol left, values digit by digit."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from speech.numbers import Spoken, parse_reading, speak_value
from speech.phrasing import speak_code, speak_colour, speak_pin, speakable, talk_s, words_in


@pytest.mark.parametrize(
    ("text", "spoken"),
    [
        ("4.96 V", "four point nine six volts"),
        ("-0.02 V", "minus zero point zero two volts"),
        ("−0.02 V", "minus zero point zero two volts"),
        ("±3 kPa", "plus or minus three kilopascals"),
        ("4.88-5.10 V", "four point eight eight to five point one zero volts"),
        ("4.88…5.10 V", "four point eight eight to five point one zero volts"),
        ("at most 50 mV", "at most five zero millivolts"),
        ("≤ 0.5 Ω", "at most zero point five ohms"),
        ("12 V", "twelve volts"),
        ("1 V", "one volt"),
        ("15 °C", "one five degrees celsius"),
        ("0.3 % + 2 counts", "zero point three percent plus two counts"),
        ("P0107 and P0108", "P zero one zero seven and P zero one zero eight"),
        ("the TH-2", "the T H two"),
        ("wait 30 s", "wait thirty seconds"),
        ("1 s", "one second"),
        ("step 3 of 12", "step three of twelve"),
        ("Call the volts — now", "Call the volts, now"),
        ("Signal (pin 2).", "Signal, pin two."),
        ("Key on. Call the volts.", "Key on. Call the volts."),
        ("can't see", "can't see"),
    ],
)
def test_symbols_become_words(text: str, spoken: str) -> None:
    assert speakable(text) == spoken


@given(st.text(max_size=60))
def test_no_symbol_is_left(text: str) -> None:
    spoken = speakable(text)
    assert not set(spoken) & set('±≤≥<>=×·+&→/%Ω°@#µ()[]{}_*|\\"`~^$')
    assert not any("0" <= letter <= "9" for letter in spoken)


@given(st.integers(0, 3), st.integers(-99_999, 99_999), st.sampled_from(["V", "mV", "kPa", "ohm", "psi"]))
def test_a_written_value_is_spoken_as_the_number_room_speaks_it(decimals: int, figures: int, unit: str) -> None:
    text = f"{figures / 10**decimals:.{decimals}f}"
    words = speakable(f"Signal {text} {unit}.").removeprefix("Signal ").removesuffix(".")
    assert words == speak_value(float(text), unit, decimals=decimals) or float(text) == 0
    spoken = parse_reading(words)
    assert isinstance(spoken, Spoken)
    assert spoken.value == float(text)


def test_speaking_twice_changes_nothing() -> None:
    once = speakable("Limits 4.88-5.10 V (P0107), ±3 kPa; pin A3.")
    assert speakable(once) == once


def test_codes_pins_and_colours() -> None:
    assert speak_code("P0107") == "P zero one zero seven"
    assert speak_pin("A3") == "pin A three"
    assert speak_pin("12") == "pin twelve"
    assert speak_colour("red/white") == "red with white"


def test_words_and_talking_time() -> None:
    assert words_in("Call the volts: 5.1 V.") == ["call", "the", "volts", "five", "point", "one", "volts"]
    assert 1.0 < talk_s("Put the red probe on pin two.") < 4.0
    assert talk_s("Call the volts.", 120) > talk_s("Call the volts.", 200)
    assert talk_s("") == 0
