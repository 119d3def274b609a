"""Words that mean the same are one answer."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from speech.grammar import vocabulary
from speech.meaning import by_meaning, meaning_of
from speech.ports import KINDS, ListeningKind


@pytest.mark.parametrize(
    ("kind", "one", "other"),
    [
        ("reading", "four point oh volts", "four point zero volt"),
        ("reading", "two point two k", "two k two"),
        ("reading", "open", "oh el"),
        ("codes", "p oh one oh seven", "p zero one zero seven"),
        ("digits", "nine oh", "niner zero"),
        ("commands", "yes", "affirm"),
        ("reading", "say again", "repeat"),
    ],
)
def test_the_same_meaning(kind: ListeningKind, one: str, other: str) -> None:
    assert meaning_of(one, kind) == meaning_of(other, kind)


@pytest.mark.parametrize(
    ("kind", "one", "other"),
    [
        ("reading", "four point zero volts", "four volts"),  # zeros that were said count
        ("reading", "four volts", "four amps"),
        ("reading", "four volts", "correction four volts"),
        ("reading", "four volts", "<unk>"),
        ("reading", "four", ""),
        ("commands", "yes", "no"),
        ("digits", "nine oh", "nine"),
        ("choice", "light", "idle"),
        ("codes", "none", "p zero one zero seven"),
    ],
)
def test_another_meaning(kind: ListeningKind, one: str, other: str) -> None:
    assert meaning_of(one, kind) != meaning_of(other, kind)


def test_the_meaning_with_the_most_certainty_wins_in_its_likeliest_words() -> None:
    scored = [("four nine", 0.4), ("four oh", 0.35), ("four zero", 0.25)]
    assert [words for words, _ in by_meaning(scored, "digits")] == ["four oh", "four nine"]


@given(st.sampled_from(KINDS), st.data())
def test_certainty_is_neither_lost_nor_made(kind: ListeningKind, data: st.DataObject) -> None:
    texts = st.lists(st.sampled_from(vocabulary(kind)), max_size=5).map(" ".join)
    scored = data.draw(st.lists(st.tuples(texts, st.floats(0, 1)), max_size=6))
    merged = by_meaning(scored, kind)
    assert sum(share for _, share in merged) == pytest.approx(sum(share for _, share in scored))
    assert len({meaning_of(words, kind) for words, _ in merged}) == len(merged)
