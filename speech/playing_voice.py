"""A voice on a loudspeaker: synthesised ahead or on demand, earcons between the sentences."""

from collections.abc import Iterable
from typing import Protocol

from speech.earcons import EARCONS, Earcon
from speech.ports import DeviceLost, Said
from speech.pyttsx3_voice import Synthesiser
from speech.sound import Sound, scaled

SLOWEST_WPM, FASTEST_WPM = 100, 260


class Player(Protocol):
    """Something that plays a sound to its end."""

    def play(self, sound: Sound) -> DeviceLost | None: ...

    def stop(self) -> None: ...

    def close(self) -> None: ...


class PlayingVoice:
    """Says sentences through a player; rate and volume hold from the next sentence on."""

    def __init__(self, player: Player, synthesiser: Synthesiser | None = None) -> None:
        self._player = player
        self._synthesiser = synthesiser or Synthesiser()
        self._volume = 1.0

    def say(self, text: str) -> Said | DeviceLost:
        return self._play(self._synthesiser.synthesise(text))

    def sound(self, earcon: Earcon) -> Said | DeviceLost:
        """Play one of the small tones."""
        return self._play(EARCONS[earcon])

    def prepare(self, texts: Iterable[str]) -> None:
        """Synthesise what may be said next, so that it starts at once."""
        for text in texts:
            self._synthesiser.synthesise(text)

    def _play(self, sound: Sound) -> Said | DeviceLost:
        quieter_db = 40.0 * (self._volume - 1.0)  # the ear hears decibels: half the volume is 20 dB less
        lost = self._player.play(scaled(sound, quieter_db) if quieter_db else sound)
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
        self._synthesiser.close()
        self._player.close()
