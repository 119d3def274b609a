"""The tool's ears as on the job: open all the while in a room where others talk or a radio plays, on live sound.

What a call-out is has to be told from what is around it before, during and after it; a single clip does not ask that.
"""

from collections.abc import Callable
from functools import cache
from random import Random

import numpy as np

from runner.rehearsal.technician import Technician
from speech import chatter
from speech.ports import DeviceLost, Listened, ListeningKind
from speech.pyttsx3_voice import Synthesiser
from speech.recogniser import RATE_HZ, Recogniser
from speech.sound import resample
from speech.sound_devices import Block
from speech.surroundings import music, small_loudspeaker, spoken_level
from speech.vosk_ears import VoskEars

BESIDE = ("talk", "radio")
BESIDE_DB = 20.0
"""How much fainter than the voice it is, when nothing else is asked for."""
TALKERS = ("en-us-nyc", "en-029", "en-gb-x-gbclan")
SENTENCES = 12
"""Of each talker, said again and again."""
CALLED_DBFS = -20.0
HISS = 10.0
"""Of a microphone where nothing is to be heard, in steps of the converter."""
BLOCK_S = 0.02
PATIENCE_S = 8.0
"""How long the tool waits for somebody who has nothing to say."""


def _talking(voice: str, seed: int) -> np.ndarray:
    """One voice that hardly stops, at level 1."""
    rng, parts = Random(seed), []
    with Synthesiser(voice) as talker:
        for _ in range(SENTENCES):
            said = resample(talker.synthesise(chatter.talk(rng)), RATE_HZ).samples.astype(np.float64)
            parts += [said / spoken_level(said), np.zeros(int(rng.uniform(0.1, 0.6) * RATE_HZ))]
    return np.concatenate(parts)


@cache
def around(kind: str) -> np.ndarray:
    """Half a minute of what is to be heard beside the caller, at level 1 while somebody speaks: three people, or a radio."""
    if kind == "talk":
        each = [_talking(voice, number) for number, voice in enumerate(TALKERS)]
        longest = max(len(one) for one in each)
        mixed = np.sum([np.resize(one, longest) for one in each], 0)
    else:
        talk = _talking(TALKERS[0], 7)
        mixed = small_loudspeaker(talk + music(len(talk), np.random.default_rng(7)))
    return mixed / spoken_level(mixed)


class Room:
    """A microphone near a caller, in a room; as fast as it is read."""

    def __init__(self, kind: str, *, under_db: float, seed: int) -> None:
        """under_db: how much fainter than the caller the rest is."""
        self.rate_hz, self.at_s = RATE_HZ, 0.0
        self._level = 32768 * 10 ** ((CALLED_DBFS - under_db) / 20)
        self._around = around(kind)
        self._rng = np.random.default_rng(seed)
        self._place = int(self._rng.integers(len(self._around)))
        self._call = np.zeros(0)

    def call(self, sound: np.ndarray) -> None:
        """Somebody will call this out in a while (int16, 16 kHz)."""
        lead = np.zeros(int(self._rng.uniform(0.6, 5.0) * RATE_HZ))
        loud = 32768 * 10 ** (CALLED_DBFS / 20) / max(1.0, spoken_level(sound))
        self._call = np.concatenate([lead, sound * loud])

    def silent(self) -> None:
        """Whoever was about to call stops: the tool speaks."""
        self._call = np.zeros(0)

    def flush(self) -> None:
        """The room goes on while the tool speaks."""
        self._place += int(self._rng.uniform(1.0, 4.0) * RATE_HZ)

    def read(self, *, timeout_s: float) -> Block | DeviceLost | None:
        size = round(BLOCK_S * RATE_HZ)
        part, self._call = self._call[:size], self._call[size:]
        rest = np.take(self._around, np.arange(self._place, self._place + size), mode="wrap")
        samples = self._level * rest + self._rng.normal(0.0, HISS, size)
        samples[: len(part)] += part
        self._place += size
        self.at_s += BLOCK_S
        return Block(np.clip(np.round(samples), -32768, 32767).astype(np.int16), self.at_s)

    def close(self) -> None: ...


class OpenEars:
    """Ears on a technician who calls out in a room."""

    def __init__(
        self,
        recogniser: Recogniser,
        synthesiser: Synthesiser,
        technician: Technician,
        *,
        room: Room,
        heard: Callable[[str, Listened], None],
    ) -> None:
        """heard: told of each call-out's words and what was made of them; of words "" when nobody called."""
        self._synthesiser, self._technician, self._room, self._heard = synthesiser, technician, room, heard
        self._ears = VoskEars(recogniser, room, clock=lambda: room.at_s)
        self.call_outs = 0

    def listen(self, kind: ListeningKind, *, timeout_s: float) -> Listened:
        words = self._technician.reply()
        if words is not None:
            self.call_outs += 1
            self._room.call(resample(self._synthesiser.synthesise(words), RATE_HZ).samples)
        result = self._ears.listen(kind, timeout_s=timeout_s if words else min(timeout_s, PATIENCE_S))
        self._room.silent()
        self._heard(words or "", result)
        return result

    def close(self) -> None:
        self._ears.close()
        self._synthesiser.close()
