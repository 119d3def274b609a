"""Ears and a voice for tests: a script instead of a microphone, a memory instead of a loudspeaker."""

from collections.abc import Callable

import numpy as np

from speech.ports import DeviceLost, Heard, Listened, ListeningKind, Said, Silence
from speech.sound import Sound
from speech.sound_devices import Block


class ScriptedEars:
    """Ears that hear a written script; an empty string in it is silence, a ready-made result is given as it is."""

    def __init__(self, *script: "str | Listened", confidence: float = 1.0) -> None:
        self._script = list(script)
        self._confidence = confidence
        self.listened: list[str] = []
        self.closed = False

    def listen(self, kind: ListeningKind, *, timeout_s: float) -> Listened:
        assert not self.closed, f"listening for {kind} after close"
        assert self._script, f"script ran out while listening for {kind}"
        self.listened.append(kind)
        item = self._script.pop(0)
        if not isinstance(item, str):
            return item
        return Heard(item, confidence=self._confidence) if item else Silence(timeout_s)

    @property
    def left(self) -> "tuple[str | Listened, ...]":
        """What nobody has listened to yet."""
        return tuple(self._script)

    def close(self) -> None:
        self.closed = True


class QuietVoice:
    """A voice that remembers what it was told to say; `lost_at` makes the loudspeaker vanish at that sentence.

    heard_by: told every sentence as well.
    """

    def __init__(self, *, lost_at: int | None = None, heard_by: Callable[[str], object] | None = None) -> None:
        self._heard_by = heard_by
        self.said: list[str] = []
        self.rate_wpm = 165
        self.volume = 1.0
        self.closed = False
        self._lost_at = lost_at

    def say(self, text: str) -> Said | DeviceLost:
        assert not self.closed, f"asked to say {text!r} after close"
        if self._lost_at is not None and len(self.said) >= self._lost_at:
            return DeviceLost("loudspeaker", "the script took it away")
        self.said.append(text)
        if self._heard_by:
            self._heard_by(text)
        return Said(60.0 * len(text.split()) / self.rate_wpm)

    def set_rate(self, wpm: int) -> None:
        self.rate_wpm = wpm

    def set_volume(self, volume: float) -> None:
        self.volume = volume

    def close(self) -> None:
        self.closed = True


class SoundSource:
    """A microphone that hears recordings, one for each listening, then hiss; as fast as it is read."""

    def __init__(self, *sounds: Sound, lead_s: float = 0.3, lost_after: int | None = None) -> None:
        """lost_after: the device vanishes after so many blocks."""
        self.rate_hz = sounds[0].rate_hz if sounds else 16000
        self.name = "recording"
        self._sounds = list(sounds)
        self._lead_s = lead_s
        self._left = lost_after
        self._rng = np.random.default_rng(0)
        self._now = np.zeros(0, np.int16)
        self.read_s = 0.0
        self.closed = False

    def read(self, *, timeout_s: float = 0.1) -> Block | DeviceLost:
        if self._left is not None:
            self._left -= 1
            if self._left < 0:
                return DeviceLost(self.name, "the recording took it away")
        size = round(0.02 * self.rate_hz)
        taken, self._now = self._now[:size], self._now[size:]
        hiss = self._rng.integers(-3, 4, size).astype(np.int16)
        hiss[: len(taken)] = np.clip(hiss[: len(taken)].astype(np.int32) + taken, -32768, 32767)
        self.read_s += 0.02
        return Block(hiss, self.read_s)

    def flush(self) -> None:
        """A new listening: the next recording begins after a short pause."""
        sound = self._sounds.pop(0).samples if self._sounds else np.zeros(0, np.int16)
        self._now = np.concatenate([np.zeros(round(self._lead_s * self.rate_hz), np.int16), sound])

    def close(self) -> None:
        self.closed = True


class QuietPlayer:
    """A loudspeaker that only remembers; `lost` makes it a device that has vanished."""

    def __init__(self, *, lost: bool = False) -> None:
        self.played: list[Sound] = []
        self.closed = self.stopped = False
        self._lost = lost

    def play(self, sound: Sound) -> DeviceLost | None:
        if self._lost:
            return DeviceLost("loudspeaker", "it was made to vanish")
        self.played.append(sound)
        return None

    def stop(self) -> None:
        self.stopped = True

    def close(self) -> None:
        self.closed = True
