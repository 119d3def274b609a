"""Training sentences: all in words that have phones, and every way of calling a reading out among them."""

from random import Random

import pytest

from speech import chatter
from speech.lexicon import missing, words
from speech.training import texts

KNOWN = sorted(words())


def many(count: int = 4000, seed: int = 5) -> list[list[str]]:
    rng = Random(seed)
    return [texts.sentence(rng, KNOWN) for _ in range(count)]


SENTENCES = many()
SAID = {" ".join(sentence) for sentence in SENTENCES}


def test_every_word_has_phones() -> None:
    assert missing(word for sentence in SENTENCES for word in sentence) == []


def test_every_command_has_phones() -> None:
    assert missing(word for phrase in texts.COMMANDS for word in phrase.split()) == []


def test_the_same_seed_says_the_same() -> None:
    assert many(50, seed=9) == many(50, seed=9)
    assert many(50, seed=9) != many(50, seed=10)


def test_every_word_of_the_lexicon_is_trained_on() -> None:
    said = {word for sentence in [*SENTENCES, *many(4000, seed=6)] for word in sentence}
    assert sorted(set(KNOWN) - said) == []


@pytest.mark.parametrize(
    "form",
    [
        "oh el",
        "open",
        "dead",
        "nothing",
        "bouncing",
        "correction",
        "a half",
        "k",
        "minus",
        "negative",
        "hundred",
        "niner",
    ],
)
def test_every_way_of_calling_out_is_there(form: str) -> None:
    assert any(f" {form} " in f" {said} " for said in SAID)


@pytest.mark.parametrize(
    ("number", "words_wanted"),
    [
        (0, "zero"),
        (7, "seven"),
        (13, "thirteen"),
        (40, "forty"),
        (98, "ninety eight"),
        (500, "five hundred"),
        (2000, "two thousand"),
        (60000, "sixty thousand"),
    ],
)
def test_whole_numbers_as_people_say_them(number: int, words_wanted: str) -> None:
    assert texts.natural(number, Random(1)) == words_wanted.split()


def test_and_in_a_hundred_may_be_said_or_left_out() -> None:
    ways = {" ".join(texts.natural(250, Random(seed))) for seed in range(20)}
    assert ways == {"two hundred and fifty", "two hundred fifty"}


def test_digits_are_as_many_as_wanted() -> None:
    rng = Random(3)
    for length in range(1, 9):
        said = texts.digits(length, rng)
        assert len(said) == length
        assert set(said) <= {*texts.DIGITS, "oh", "niner"}


def test_a_plain_reading_ends_in_a_unit() -> None:
    rng = Random(4)
    for _ in range(200):
        said = texts.plain_reading(rng)
        assert said[-1] in {unit for group in texts.UNITS.values() for phrase in group for unit in phrase.split()}
        assert said.count("point") <= 1


def test_other_talk_is_of_many_sentences() -> None:
    rng = Random(6)
    assert len({chatter.talk(rng) for _ in range(300)}) > 200
