"""A voice on a loudspeaker: synthesised ahead or on demand, earcons between the sentences, never louder than a cap."""

import threading
from collections import OrderedDict
from collections.abc import Iterable
from contextlib import suppress
from typing import Protocol, cast

from speech.earcons import EARCONS, Earcon
from speech.ports import DeviceLost, Said, SpeechError
from speech.pyttsx3_voice import Synthesiser
from speech.sound import Sound, resample, scaled

SLOWEST_WPM, FASTEST_WPM = 100, 260
READY = 64  # sentences kept at the player's rate


class Player(Protocol):
    """Something that plays a sound to its end."""

    def play(self, sound: Sound) -> DeviceLost | None: ...

    def stop(self) -> None: ...

    def close(self) -> None: ...


class PlayingVoice:
    """Says sentences through a player; rate and volume hold from the next sentence on."""

    def __init__(self, player: Player, synthesiser: Synthesiser | None = None, *, cap_db: float = 0.0) -> None:
        """cap_db: how far under full scale everything stays, whatever volume is asked for; see speech.levels.headset_cap_db."""
        self._player = player
        self._synthesiser = synthesiser or Synthesiser()
        self._volume = 1.0
        self._cap_db = min(0.0, cap_db)
        self._ready: OrderedDict[tuple[int, str], Sound] = OrderedDict()
        self._wanted: list[str] = []
        self._change = threading.Condition()
        self._closed = False
        self._worker: threading.Thread | None = None

    def say(self, text: str) -> Said | DeviceLost:
        return self._play(self._made(text))

    def sound(self, earcon: str) -> Said | DeviceLost:
        """Play one of the small tones of speech.earcons."""
        return self._play(EARCONS[cast(Earcon, earcon)])

    def prepare(self, texts: Iterable[str]) -> None:
        """Have these made in the background, instead of what was to be prepared before."""
        with self._change:
            self._wanted = list(texts)
            self._change.notify()
            if self._worker is None and self._wanted:
                self._worker = threading.Thread(target=self._prepare, name="speak-ahead", daemon=True)
                self._worker.start()

    def _prepare(self) -> None:
        while True:
            with self._change:
                while not (self._wanted or self._closed):
                    self._change.wait()
                if self._closed:
                    return
                text = self._wanted.pop(0)
            with suppress(SpeechError):  # said aloud, it will be told then
                self._made(text)

    def _made(self, text: str) -> Sound:
        """The sentence at the player's rate, from memory when it was said or prepared lately."""
        synthesiser = self._synthesiser
        key = (synthesiser.rate_wpm, text)
        with self._change:
            if key in self._ready:
                self._ready.move_to_end(key)
                return self._ready[key]
        sound = synthesiser.synthesise(text)
        sound = resample(sound, getattr(self._player, "rate_hz", sound.rate_hz))
        with self._change:
            self._ready[key] = sound
            while len(self._ready) > READY:
                self._ready.popitem(last=False)
        return sound

    def sound_of(self, text: str) -> Sound:
        """The sentence as it would be played now."""
        return self._loud(self._made(text))

    def _loud(self, sound: Sound) -> Sound:
        # the ear hears decibels: half the volume is 20 dB less
        gain_db = 40.0 * (self._volume - 1.0) + self._cap_db
        return scaled(sound, gain_db) if gain_db else sound

    def _play(self, sound: Sound) -> Said | DeviceLost:
        lost = self._player.play(self._loud(sound))
        return lost or Said(sound.duration_s)

    def stop(self) -> None:
        """Cut short what is being said."""
        self._player.stop()

    def set_rate(self, wpm: int) -> None:
        wpm = min(FASTEST_WPM, max(SLOWEST_WPM, wpm))
        if wpm != self._synthesiser.rate_wpm:
            self._synthesiser = self._synthesiser.at_rate(wpm)

    def set_volume(self, volume: float) -> None:
        self._volume = min(1.0, max(0.0, volume))

    def close(self) -> None:
        with self._change:
            self._closed = True
            self._change.notify()
        if self._worker is not None:
            self._worker.join(2.0)
        self._synthesiser.close()
        self._player.close()
