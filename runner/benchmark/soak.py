"""Hours of running in minutes: the real voice calls out, the real ears hear it, on sound that is not waited for.

Every ten minutes of sound: how long after a call-out its result comes (in sound), what it costs (processor time
over sound) and how much memory the process holds. None of them may grow.
"""

import gc
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from speech.fakes import QuietPlayer
from speech.playing_voice import PlayingVoice
from speech.ports import DeviceLost, Heard
from speech.pyttsx3_voice import Synthesiser
from speech.recogniser import Recogniser
from speech.sound import Sound, resample
from speech.sound_devices import Block
from speech.vosk_ears import VoskEars

TEXTS = ("five point one volts", "four point nine six volts", "three five zero millivolts", "twelve point six volts")
RATE_HZ = 48000  # of the microphone
BLOCK_S = 0.02
NOISE = 20.0  # steps of the converter, root mean square: -64 dBFS
PART_S = 600.0


class Workshop:
    """A microphone that hears steady noise and, a while after each opening, a call-out; as fast as it is read."""

    def __init__(self, sounds: list[Sound], *, rate_hz: int = RATE_HZ) -> None:
        self.rate_hz, self.at_s = rate_hz, 0.0
        self._sounds, self._turn = sounds, 0
        self._rng = np.random.default_rng(4)
        self._now = np.zeros(0, np.int16)
        self.called_until_s = 0.0

    def flush(self) -> None:
        lead = np.zeros(round(self._rng.uniform(0.5, 12.0) * self.rate_hz), np.int16)  # the person measures
        sound = self._sounds[self._turn % len(self._sounds)]
        self._turn += 1
        self._now = np.concatenate([lead, sound.samples])
        self.called_until_s = self.at_s + len(self._now) / self.rate_hz

    def read(self, *, timeout_s: float) -> Block | DeviceLost | None:
        size = round(BLOCK_S * self.rate_hz)
        part, self._now = self._now[:size], self._now[size:]
        samples = self._rng.normal(0.0, NOISE, size)
        samples[: len(part)] += part
        self.at_s += BLOCK_S
        return Block(np.clip(samples, -32768, 32767).astype(np.int16), self.at_s)

    def close(self) -> None: ...


@dataclass(frozen=True)
class Part:
    """Ten minutes of sound."""

    hours: float  # at its end
    calls: int
    right: int
    delay_ms: float  # from the end of a call-out to its result, mean, in sound
    slowest_ms: float
    cost: float  # processor time over sound
    memory_mb: float


def memory_mb() -> float:
    """What this process holds now [MB]."""
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    return pages * 4096 / 1e6


def parts(hours: float) -> Iterator[Part]:
    with Synthesiser("en-us", cache=None) as caller:
        sounds = [caller.synthesise(text) for text in TEXTS]
    source = Workshop([resample(sound, RATE_HZ) for sound in sounds])
    voice = PlayingVoice(_NoPlayer(), Synthesiser("en-us", cache=None))
    ears = VoskEars(Recogniser(kinds=("reading", "commands")), source, clock=lambda: source.at_s)
    turn = 0
    try:
        while source.at_s < hours * 3600:
            began_s, began_cpu, delays, right = source.at_s, time.process_time(), list[float](), 0
            while source.at_s < began_s + PART_S:
                heard = ears.listen("reading", timeout_s=20.0)
                delays.append(1000 * (source.at_s - source.called_until_s))
                right += isinstance(heard, Heard) and heard.words == TEXTS[turn % len(TEXTS)]
                turn += 1
                voice.say(f"I heard call {turn}: {getattr(heard, 'words', 'nothing')}.")
            gc.collect()
            cost = (time.process_time() - began_cpu) / (source.at_s - began_s)
            yield Part(source.at_s / 3600, len(delays), right, float(np.mean(delays)), max(delays), cost, memory_mb())
    finally:
        ears.close()
        voice.close()


class _NoPlayer(QuietPlayer):
    """A loudspeaker that remembers nothing, or the soak would measure its memory."""

    def play(self, sound: Sound) -> DeviceLost | None:
        return None


def hours(count: float) -> Iterator[str]:
    """The soak, a line every ten minutes of sound."""
    for part in parts(count):
        yield (
            f"soak {part.hours:.2f} h: {part.right} of {part.calls} right, result {part.delay_ms:.0f} ms after the call-out "
            f"(slowest {part.slowest_ms:.0f}), {part.cost:.3f} of real time, {part.memory_mb:.0f} MB"
        )
