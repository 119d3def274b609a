"""Ears open while the tool speaks: its own leaking voice is no command, a person's "enough" is."""

import threading
import time
from collections.abc import Iterator

import numpy as np
import pytest

from speech.fakes import ScriptedEars
from speech.headset import Headset
from speech.playing_voice import PlayingVoice
from speech.ports import DeviceLost, Heard
from speech.pyttsx3_voice import Synthesiser
from speech.recogniser import Recogniser
from speech.sound import Sound, resample
from speech.sound_devices import Block

PROMPT = "Red to sensor plug, wire side, latch up, second from left, white with green. Key on. Call the volts."
RATE_HZ = 16000
LEAK_DB = -20.0


class LeakyHeadset:
    """A player whose sound comes back into its own microphone, 20 dB down, with whatever a person calls into it."""

    rate_hz = RATE_HZ

    def __init__(self) -> None:
        self.called: Sound | None = None  # said half a second into the next prompt
        self.played_share = 0.0
        self._mix = np.zeros(0)
        self._at = 0
        self._stop = threading.Event()
        self._rng = np.random.default_rng(2)

    def play(self, sound: Sound) -> None:
        self._stop.clear()
        mix = sound.samples * 10 ** (LEAK_DB / 20)
        if self.called is not None:
            start = RATE_HZ // 2
            mix[start : start + len(self.called.samples)] += self.called.samples[: len(mix) - start]
            self.called = None
        self._at, self._mix = 0, mix
        while self._at < len(mix) and not self._stop.is_set():
            time.sleep(0.001)
        self.played_share = min(1.0, self._at / len(mix))
        self._mix = np.zeros(0)

    def stop(self) -> None:
        self._stop.set()

    def read(self, *, timeout_s: float = 0.1) -> Block | DeviceLost | None:
        if self._at >= len(self._mix):
            time.sleep(0.001)
            return None
        part = self._mix[self._at : self._at + 320]
        self._at += 320
        return Block((part + self._rng.normal(0, 3.0, len(part))).astype(np.int16), 0.0)

    def flush(self) -> None: ...

    def close(self) -> None: ...


@pytest.fixture(scope="module")
def recogniser() -> Iterator[Recogniser]:
    yield Recogniser(kinds=("commands",))


@pytest.fixture(scope="module")
def person() -> Iterator[Synthesiser]:
    with Synthesiser("en-gb") as made:
        yield made


@pytest.fixture
def headset(recogniser: Recogniser) -> Iterator[tuple[Headset, LeakyHeadset]]:
    device = LeakyHeadset()
    made = Headset(PlayingVoice(device, Synthesiser("en-us")), ScriptedEars("set"), device, recogniser)
    made.say("Ready.")  # the first sentence teaches it the leak
    yield made, device
    made.close()


def test_the_tools_own_voice_cuts_nothing_short(headset) -> None:
    made, device = headset
    for text in (PROMPT, "Answer with the word I asked for. Or say: why, cannot, enough.", "Say stop test, or go on."):
        made.say(text)
        assert (made.cut, device.played_share) == ("", 1.0)


@pytest.mark.parametrize(("words", "cut"), [("enough", "enough"), ("stop test", "stop")])
def test_a_person_cuts_a_prompt_short(headset, person: Synthesiser, words: str, cut: str) -> None:
    made, device = headset
    device.called = resample(person.synthesise(words), RATE_HZ)
    made.say(PROMPT)
    assert made.cut == cut
    assert device.played_share < 0.6
    heard = made.listen("commands", timeout_s=1.0)
    assert isinstance(heard, Heard)
    assert heard.words == ("stop test" if cut == "stop" else "set"), "a stop is handed on, enough only opens the ears"


def test_other_words_of_a_person_cut_nothing(headset, person: Synthesiser) -> None:
    made, device = headset
    device.called = resample(person.synthesise("five point one volts"), RATE_HZ)
    made.say(PROMPT)
    assert (made.cut, device.played_share) == ("", 1.0)
    device.called = resample(person.synthesise("enough"), RATE_HZ)
    made.say(PROMPT)
    assert made.cut == "enough", "talk into one prompt does not raise the gate for the next"
