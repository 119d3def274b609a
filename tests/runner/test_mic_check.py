"""The microphone check, over recordings of a voice counting: what it measures and what it says to do."""

from collections.abc import Iterator

import numpy as np
import pytest

from runner.talk.mic_check import MicCheck, check_microphone, count_aloud, in_order
from speech.fakes import QuietVoice
from speech.ports import DeviceLost
from speech.pyttsx3_voice import Synthesiser
from speech.recogniser import Recogniser
from speech.sound import Sound, resample, scaled
from speech.sound_devices import Block
from speech.vosk_ears import VoskEars


class Counting:
    """A microphone that hears steady noise, and from the second flush on somebody counting into it."""

    def __init__(self, sounds: list[Sound], *, noise: float, lost: bool = False) -> None:
        self.rate_hz = 16000
        self._rng = np.random.default_rng(1)
        self._sounds, self._noise, self._lost = sounds, noise, lost
        self._now = np.zeros(0, np.int16)
        self._flushes, self.at_s = 0, 0.0

    def read(self, *, timeout_s: float = 0.1) -> Block | DeviceLost:
        if self._lost:
            return DeviceLost("headset", "it was pulled out")
        part, self._now = self._now[:320], self._now[320:]
        samples = self._rng.normal(0.0, self._noise, 320)
        samples[: len(part)] += part
        self.at_s += 0.02
        return Block(np.clip(samples, -32768, 32767).astype(np.int16), self.at_s)

    def flush(self) -> None:
        self._flushes += 1
        if self._flushes > 1 and self._sounds:
            self._now = np.concatenate([np.zeros(8000, np.int16), self._sounds.pop(0).samples])

    def close(self) -> None: ...


@pytest.fixture(scope="module")
def counting() -> list[Sound]:
    with Synthesiser("en-us") as voice:
        return [resample(voice.synthesise(text), 16000) for text in count_aloud()]


@pytest.fixture(scope="module")
def recogniser() -> Iterator[Recogniser]:
    yield Recogniser(kinds=("reading",))


def check(recogniser: Recogniser, sounds: list[Sound], *, gain_db: float = 0.0, noise: float = 8.0) -> MicCheck:
    source = Counting([scaled(sound, gain_db) for sound in sounds], noise=noise)
    return check_microphone(source, VoskEars(recogniser, source), QuietVoice(), clock=lambda: source.at_s)


def test_a_good_microphone_is_called_good(recogniser: Recogniser, counting: list[Sound]) -> None:
    found = check(recogniser, counting, gain_db=-6.0)
    assert found.right >= 9
    assert found.over_noise_db > 20
    # the noise is known: 20 log10(8 / 32768), and the quiet fifth of frames lies a little lower
    assert found.noise_dbfs == pytest.approx(-72.2, abs=1.5)
    assert found.good and found.seconds < 40


@pytest.mark.parametrize(
    ("gain_db", "noise", "word"), [(30.0, 8.0, "overdriven"), (-36.0, 1.0, "faintly"), (-20.0, 1000.0, "noise")]
)
def test_what_is_wrong_is_said_with_what_to_do(
    recogniser: Recogniser, counting: list[Sound], gain_db: float, noise: float, word: str
) -> None:
    found = check(recogniser, counting[:3], gain_db=gain_db, noise=noise)
    assert word in found.verdict
    assert not found.good


def test_a_muted_microphone_is_told_from_a_silent_person(recogniser: Recogniser) -> None:
    assert "Unmute" in check(recogniser, [], noise=0.0).verdict
    assert "no call-out" in check(recogniser, [], noise=30.0).verdict


def test_a_microphone_pulled_out_ends_in_a_sentence(recogniser: Recogniser) -> None:
    source = Counting([], noise=1.0, lost=True)
    with pytest.raises(Exception, match="pulled out; plug it in"):
        check_microphone(source, VoskEars(recogniser, source), QuietVoice())


def test_counting_is_scored_by_what_is_there_in_order() -> None:
    assert in_order([float(n) for n in range(1, 11)]) == 10
    assert in_order([2.0, 1.0, 3.0, 4.0]) == 3
    assert in_order([]) == 0
    assert in_order([5.5, 11.0, None]) == 0
