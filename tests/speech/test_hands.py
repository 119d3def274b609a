"""The button and the keyboard: the same answers as by voice."""

import io
import os

import pytest
from hypothesis import given
from hypothesis import strategies as st

from speech.button import Button, RepeatingKey, TerminalButton
from speech.grammar import vocabulary
from speech.numbers import Spoken, parse_codes, parse_digits, parse_initials, parse_reading
from speech.ports import KINDS, DeviceLost, Heard, ListeningKind, Rejected, Silence
from speech.typed import PrintedVoice, StandardInput, TypedEars, words_of
from speech.units import UNITS


def taken(button: Button) -> list[str]:
    found = []
    while (press := button.take()) is not None:
        found.append(press)
    return found


@pytest.mark.parametrize(
    ("held_s", "means"),
    [(0.05, ["short"]), (0.49, ["short"]), (0.5, ["long"]), (1.4, ["long"]), (1.5, ["talk_start", "talk_end"])],
)
def test_how_long_it_is_held_is_what_it_means(held_s: float, means: list[str]) -> None:
    button = Button()
    button.press(10.0)
    button.release(10.0 + held_s)
    assert taken(button) == means


def test_talking_begins_while_it_is_held() -> None:
    button = Button()
    button.press(0.0)
    button.press(0.5)  # bounce
    button.hold(1.0)
    assert taken(button) == []
    button.hold(1.6)
    assert taken(button) == ["talk_start"]
    button.release(9.0)
    assert taken(button) == ["talk_end"]
    button.release(9.1)
    button.press(10.0)
    button.release(10.1)
    button.clear()
    assert taken(button) == []


def test_a_key_that_repeats_is_a_key_that_is_held() -> None:
    button = Button()
    key = RepeatingKey(button)
    key.key(0.0)
    key.tick(0.5)
    assert taken(button) == []  # it may still begin to repeat
    key.tick(0.7)
    assert taken(button) == ["short"]
    for at_s in (1.0, 1.5, 1.55, 1.6, 1.65):
        key.key(at_s)
        key.tick(at_s + 0.04)
    key.tick(1.9)
    assert taken(button) == ["long"]
    for number in range(60):
        key.key(3.0 + (0.5 if number else 0.0) + 0.03 * number)
    assert taken(button) == ["talk_start"]
    key.tick(9.0)
    assert taken(button) == ["talk_end"]


def test_any_key_of_a_terminal_is_the_button() -> None:
    read, write = os.pipe()
    button = Button()
    terminal = TerminalButton(button, handle=read)
    os.write(write, b"x")
    press, tries = None, 0
    while press is None and tries < 300:
        press, tries = button.take(), tries + 1
        terminal._ending.wait(0.01)
    assert press == "short"
    os.close(write)
    terminal.close()
    os.close(read)


@pytest.mark.parametrize(
    ("typed", "value", "unit", "digits"),
    [
        ("4.96 v", 4.96, "V", 2),
        ("4.96V", 4.96, "V", 2),
        ("4,96", 4.96, None, 2),
        ("-0.02 V", -0.02, "V", 2),
        (".5 v", 0.5, "V", 1),
        ("350 mV", 350, "mV", 0),
        ("2.2k", 2.2, "kohm", 1),
        ("10 Mohm", 10, "Mohm", 0),
        ("101.3 kPa", 101.3, "kPa", 1),
        ("15 C", 15, "degC", 0),
        ("12 V", 12, "V", 0),
        ("496 V", 496, "V", 0),
        ("correction 4.2 v", 4.2, "V", 1),
        ("four point nine six volts", 4.96, "V", 2),
    ],
)
def test_typed_readings(typed: str, value: float, unit: str | None, digits: int) -> None:
    spoken = parse_reading(words_of(typed, "reading"))
    assert isinstance(spoken, Spoken), words_of(typed, "reading")
    assert (spoken.value, spoken.unit, spoken.digits) == (value, unit, digits)


def test_typed_over_range_and_two_ends() -> None:
    over = parse_reading(words_of("OL", "reading"))
    assert isinstance(over, Spoken) and over.kind == "over_range"
    two = parse_reading(words_of("4.2-4.6 V", "reading"))
    assert isinstance(two, Spoken) and (two.value, two.high) == (4.2, 4.6)


@given(st.sampled_from(sorted(UNITS)), st.integers(0, 3), st.integers(-9999, 9999))
def test_any_typed_value_is_that_value(unit: str, decimals: int, figures: int) -> None:
    text = f"{figures / 10**decimals:.{decimals}f} {unit}"
    spoken = parse_reading(words_of(text, "reading"))
    assert isinstance(spoken, Spoken), text
    assert (spoken.value, spoken.unit) == (float(text.split()[0]), unit)


def test_typed_codes_digits_and_initials() -> None:
    assert parse_codes(words_of("P0107, P0108", "codes")) == ("P0107", "P0108")
    assert parse_codes(words_of("none", "codes")) == ()
    assert parse_digits(words_of("4092", "digits")) == "4092"
    assert parse_initials(words_of("J.M.", "initials")) == "JM"


@pytest.mark.parametrize(
    ("line", "kind", "result"),
    [
        ("y", "yes_no", Heard),
        ("yes", "commands", Heard),
        ("stop test", "digits", Heard),
        ("4.9.6", "reading", Heard),  # so that it can be asked about
        ("starting", "choice", Heard),
        ("3", "choice", Heard),
        ("", "reading", Silence),
        ("what a day", "reading", Rejected),
        ("4.96", "yes_no", Rejected),
        ("P01", "codes", Rejected),
    ],
)
def test_what_is_typed_is_heard_or_refused(line: str, kind: ListeningKind, result: type) -> None:
    heard = TypedEars(lambda _: line).listen(kind, timeout_s=1)
    assert isinstance(heard, result), heard
    if isinstance(heard, Heard):
        assert heard.source == "keyboard"


def test_the_end_of_the_input_is_a_lost_device() -> None:
    assert isinstance(TypedEars(lambda _: None).listen("reading", timeout_s=1), DeviceLost)
    lines = StandardInput(io.StringIO("4.96 v\n\nlast"))
    assert [lines(1) for _ in range(4)] == ["4.96 v", "", "last", None]


@given(st.text(max_size=30), st.sampled_from(KINDS))
def test_no_typing_crashes(line: str, kind: ListeningKind) -> None:
    assert TypedEars(lambda _: line).listen(kind, timeout_s=1) is not None


@given(st.lists(st.sampled_from(vocabulary("reading")), max_size=8))
def test_words_of_the_grammar_stay_as_they_are(words: list[str]) -> None:
    assert words_of(" ".join(words), "reading").split() == words or words[:1] == ["k"]


def test_a_printed_voice_prints() -> None:
    lines: list[str] = []
    voice = PrintedVoice(lines.append)
    voice.set_rate(200)
    voice.set_volume(1.0)
    assert voice.say("Key on.").duration_s == 0
    voice.close()
    assert lines == ["Key on."]
