"""Commands: one name each, and words that must never be taken for one."""

import pytest

from speech.commands import COMMANDS, EVERYWHERE, NAMES, parse_command
from speech.numbers import NumberProblem, parse_reading

WANTED = {
    *("say_again", "why", "limits", "help", "pause", "resume", "yes", "no", "wrong", "correction", "disregard"),
    *("back", "cannot", "cant_see", "fine", "bad", "set", "slower", "faster", "louder", "quieter", "note"),
    *("enough", "stop", "steady", "moved", "clear", "cold", "warm", "suspects", "left", "hand_over"),
}


def test_every_name_the_program_knows_can_be_said() -> None:
    assert set(NAMES) == WANTED


@pytest.mark.parametrize(
    ("words", "name"),
    [
        ("say again", "say_again"),
        ("repeat", "say_again"),
        ("stand by", "pause"),
        ("go ahead", "resume"),
        ("affirm", "yes"),
        ("okay", "yes"),
        ("no", "no"),
        ("can't see", "cant_see"),
        ("cannot see it", "cant_see"),
        ("cannot", "cannot"),
        ("stop test", "stop"),
        ("stop test stop test", "stop"),
        ("um yes", "yes"),
        ("correction four point two volts", "correction"),
        ("done", "set"),
        ("SAY AGAIN", "say_again"),
    ],
)
def test_phrases_have_one_meaning(words: str, name: str) -> None:
    assert parse_command(words) == name


@pytest.mark.parametrize("words", ["negative", "negative point oh two", "four volts", "", "stop", "say", "see"])
def test_other_words_are_no_command(words: str) -> None:
    assert parse_command(words) is None


def test_no_command_is_also_a_reading() -> None:
    for phrase in COMMANDS:
        assert isinstance(parse_reading(phrase), NumberProblem), phrase


def test_what_is_legal_everywhere_is_among_the_commands() -> None:
    assert set(EVERYWHERE.items()) <= set(COMMANDS.items())
