"""The hearing report: what counts as right, what is counted, and the sounds it is measured with."""

from random import Random

import numpy as np
import pytest

from speech.grammar import grammar_for
from speech.sentences import Walker
from speech.training import noises, report, saying
from speech.training.report import Outcome


def outcome(
    said: str,
    heard: str,
    *,
    kind: str = "reading",
    who: str = "piper joe",
    confidence: float = 1.0,
    level_db: float | None = None,
) -> Outcome:
    return Outcome("ours", "test", "a set", kind, who, level_db, "engine", True, said, heard, confidence, 0.1, 2.0)  # fmt: skip


@pytest.mark.parametrize(
    ("said", "heard", "kind", "right"),
    [
        ("four point nine volts", "four point nine volts", "reading", True),
        ("four point niner volts", "four point nine volts", "reading", True),
        ("four point oh two", "four point zero two", "reading", True),
        ("four point nine volts", "four point nine ohms", "reading", False),
        ("four point five", "four point nine", "reading", False),
        ("four point five", "", "reading", False),
        ("repeat", "say again", "commands", True),
        ("affirm", "nope", "commands", False),
    ],
)
def test_right_is_the_same_thing_said(said: str, heard: str, kind: str, right: bool) -> None:
    assert outcome(said, heard, kind=kind).right is right


def test_a_command_out_of_a_cough_is_no_value() -> None:
    assert not outcome("", "say again").value
    assert not outcome("", "").value
    assert outcome("", "five volts").value


def test_calibration_error_of_a_hearer_that_is_too_sure() -> None:
    """Ten answers at 0.95, five of them right: 0.45 too sure."""
    answers = [outcome("five", "five" if i < 5 else "nine", confidence=0.95) for i in range(10)]
    assert report.calibration_error(answers) == pytest.approx(0.45)


def test_what_was_refused_does_not_count_in_calibration() -> None:
    assert report.calibration_error([outcome("five", "five"), outcome("five", "", confidence=0.0)]) == 0.0


def test_few_people_show_nothing_for_any_voice() -> None:
    few = [outcome("five", "five", who="person lucas"), outcome("five", "five", who="piper joe")]
    assert report.people_heard(few) == "1 people never trained on (German). Fewer than 20: not shown for any voice."


def test_the_worst_voice_is_named_with_its_distance() -> None:
    good = [outcome("five", "five", who="piper joe") for _ in range(3)]
    bad = [outcome("five", "nine", who="festival ked")]
    assert "festival ked 75.0" in report.against_targets(good + bad)


@pytest.mark.parametrize("name", sorted(saying.FORMS))
def test_each_form_can_be_heard(name: str) -> None:
    """Most sentences of a form are in the grammar; a form the grammar does not know would be no test of hearing."""
    accepts, rng = Walker(grammar_for("reading")).accepts, Random(3)
    said = [" ".join(saying.FORMS[name](rng)) for _ in range(40)]
    assert sum(map(accepts, said)) > 20, said[:3]


def test_noise_is_as_far_under_speech_as_asked() -> None:
    rng = np.random.default_rng(1)
    speech = np.round(3000 * rng.standard_normal(32000)).astype(np.int16)
    heard = noises.with_noise(speech, 10.0, "ventilation", np.random.default_rng(2)).astype(float)
    share = np.dot(heard, speech) / np.dot(speech, speech.astype(float))
    rest = heard - share * speech
    assert 20 * np.log10(share * speech.std() / rest.std()) == pytest.approx(10.0, abs=0.5)


@pytest.mark.parametrize("name", sorted(saying.EFFECTS))
def test_effects_change_sound_and_stay_within_range(name: str) -> None:
    speech = np.round(8000 * np.random.default_rng(4).standard_normal(16000)).clip(-30000, 30000).astype(np.int16)
    changed = saying.EFFECTS[name](speech)
    assert changed.dtype == np.int16 and np.abs(changed.astype(int)).max() <= 30000
    assert len(changed) != len(speech) or not np.array_equal(changed, speech)


def test_a_mask_takes_the_top() -> None:
    speech = np.round(3000 * np.random.default_rng(4).standard_normal(16000)).astype(np.int16)
    before, after = (np.abs(np.fft.rfft(one.astype(float))) for one in (speech, saying.through_a_mask(speech)))
    low, high = slice(300, 700), slice(4000, 7000)
    lost_db = 20 * np.log10((after[low].mean() / before[low].mean()) / (after[high].mean() / before[high].mean()))
    assert lost_db == pytest.approx(10, abs=1)
