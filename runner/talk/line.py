"""The line to the technician: say and listen, with every word on the record and a keyboard to fall back on."""

import time
from collections.abc import Callable, Iterable
from typing import Any

from runner.errors import StopTest
from runner.record.logbook import Logbook
from runner.talk.machine import DialogueMachine
from runner.talk.people import Manner
from speech.ports import DeviceLost, Ears, Heard, ListeningKind, Rejected, Silence, Sounding, Voice
from speech.sound import Sound

Fallback = Callable[[], tuple[Ears, Voice]]
Listened = Heard | Silence | Rejected
Keep = Callable[[Sound], dict[str, Any]]

DEVICE_GONE = "The {device} is gone. Nothing is lost. Wait."
GO_ON = "Go on where you were."


class Line:
    """One voice and one pair of ears, half duplex: the ears open after the last sample has played.

    fallback makes the ears and voice that take over when a device is lost (the same once they are back, or a keyboard);
    None means the session stops there, and so does a keyboard that is lost.
    """

    def __init__(
        self,
        ears: Ears,
        voice: Voice,
        logbook: Logbook,
        *,
        fallback: Fallback | None = None,
        manner: Manner | None = None,
        on_manner: Callable[[Manner], None] = lambda manner: None,
    ) -> None:
        """manner: how the voice was made to speak. on_manner: told when the technician asks for another."""
        self._ears = ears
        self._voice = voice
        self._logbook = logbook
        self._fallback = fallback
        self.manner = manner or Manner()
        self._on_manner = on_manner
        self.phase = DialogueMachine()
        self.keep: Keep | None = None  # stores the sound of what is heard, once the technician has agreed to it

    def say(self, text: str) -> None:
        """Speak a sentence, once it is on the record."""
        self._speak("said", text, "speak")

    def read_back(self, text: str, *, earcon: str = "") -> None:
        """Say back what was heard, once it is on the record; then a small tone that says how it was judged."""
        self._speak("read_back", text, "read_back")
        if earcon and isinstance(self._voice, Sounding):
            self._voice.sound(earcon)  # a loudspeaker that is lost here is found out at the next sentence

    def prepare(self, texts: Iterable[str]) -> None:
        """What may be said next: a voice that can, makes it while nobody waits."""
        if isinstance(self._voice, Sounding):
            self._voice.prepare(texts)

    def listen(self, kind: ListeningKind, *, timeout_s: float) -> Listened:
        """Next utterance; a lost device is replaced here and listening goes on."""
        while True:
            self.phase.now("confirm" if self.phase.state == "reading_back" else "listen")
            opened_s = time.monotonic()
            result = self._ears.listen(kind, timeout_s=timeout_s)
            if not isinstance(result, DeviceLost):
                self._put_down(kind, result, listened_s=round(time.monotonic() - opened_s, 2))
                return result
            self._replace(result)

    def speak_as(self, manner: Manner) -> None:
        """Rate, volume and wording from the next sentence on."""
        self.manner = manner
        self._voice.set_rate(manner.rate_wpm)
        self._voice.set_volume(manner.volume)

    def ask_of_manner(self, *, rate_wpm: int = 0, volume: float = 0.0) -> None:
        """The technician wants it slower or faster, louder or quieter; it is remembered."""
        self.speak_as(self.manner.changed(rate_wpm=rate_wpm, volume=volume))
        self._on_manner(self.manner)

    @property
    def devices(self) -> tuple[Ears, Voice]:
        """The ears and voice in use now, for what is no part of the session."""
        return self._ears, self._voice

    def close(self) -> None:
        """Let go of both devices."""
        self._ears.close()
        self._voice.close()

    def _speak(self, event: str, text: str, trigger: str) -> None:
        self._logbook.write(event, text=text)
        self.phase.now(trigger)
        result = self._voice.say(text)
        if isinstance(result, DeviceLost):
            self._replace(result)
            self._voice.say(text)

    def _put_down(self, kind: str, result: Listened, *, listened_s: float) -> None:
        more: dict[str, Any] = {"listened_s": listened_s, **self.sound_of(result)}
        if isinstance(result, Heard):
            self._logbook.write(
                "heard",
                listening=kind,
                words=result.words,
                confidence=round(result.confidence, 4),
                alternatives=[[a.words, round(a.confidence, 4)] for a in result.alternatives],
                level_dbfs=_number(result.level_dbfs),
                noise_dbfs=_number(result.noise_dbfs),
                source=result.source,
                **more,
            )
        elif isinstance(result, Silence):
            self._logbook.write("unheard", listening=kind, why="silence", words="", **more)
        else:
            self._logbook.write("unheard", listening=kind, why="not of this kind", words=result.words, **more)

    def sound_of(self, result: Listened) -> dict[str, Any]:
        """The sound of what was heard, kept, as its event names it; nothing when it is not to be kept."""
        sound = getattr(result, "sound", None)
        return {"sound": self.keep(sound)} if self.keep is not None and sound is not None else {}

    def _replace(self, lost: DeviceLost) -> None:
        """Say what is gone, wherever it can still be heard, and go on with what the fallback gives."""
        self._logbook.write("device_lost", device=lost.device, reason=lost.reason)
        if self._fallback is None or lost.device == "keyboard":
            raise StopTest(f"{lost.device} lost: {lost.reason}")
        gone = DEVICE_GONE.format(device=lost.device)
        self._voice.say(gone)  # the loudspeaker may be the one that still works
        self._ears.close()
        self._voice.close()
        self._ears, self._voice = self._fallback()
        self.speak_as(self.manner)
        for text in (gone, GO_ON):  # once more: nobody may have heard it the first time
            self._logbook.write("said", text=text)
            self._voice.say(text)


def _number(value: float) -> float | None:
    return round(value, 2) if value == value and abs(value) != float("inf") else None
