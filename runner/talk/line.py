"""The line to the technician: say and listen, with every word on the record and a keyboard to fall back on."""

from collections.abc import Callable
from dataclasses import dataclass

from runner.errors import StopTest
from runner.record.logbook import Logbook
from runner.talk.machine import DialogueMachine
from speech.ports import DeviceLost, Ears, Heard, ListeningKind, Rejected, Silence, Voice

Fallback = Callable[[], tuple[Ears, Voice]]
Listened = Heard | Silence | Rejected

DEVICE_GONE = "The {device} is gone. Nothing is lost. Go on at the keyboard."


@dataclass
class Manner:
    """How the tool speaks now; "slower" and "louder" move it."""

    rate_wpm: int = 165
    volume: float = 1.0


class Line:
    """One voice and one pair of ears, half duplex: the ears open after the last sample has played.

    fallback makes the ears and voice that take over when a device is lost; None means the session stops there.
    """

    def __init__(self, ears: Ears, voice: Voice, logbook: Logbook, *, fallback: Fallback | None = None) -> None:
        self._ears = ears
        self._voice = voice
        self._logbook = logbook
        self._fallback = fallback
        self._manner = Manner()
        self.phase = DialogueMachine()

    def say(self, text: str) -> None:
        """Speak a sentence, once it is on the record."""
        self._speak("said", text, "speak")

    def read_back(self, text: str) -> None:
        """Say back what was heard, once it is on the record."""
        self._speak("read_back", text, "read_back")

    def listen(self, kind: ListeningKind, *, timeout_s: float) -> Listened:
        """Next utterance; a lost device is replaced here and listening goes on."""
        while True:
            self.phase.now("confirm" if self.phase.state == "reading_back" else "listen")
            result = self._ears.listen(kind, timeout_s=timeout_s)
            if not isinstance(result, DeviceLost):
                self._put_down(kind, result)
                return result
            self._replace(result)

    def slower_or_faster(self, step_wpm: int) -> None:
        """Change the rate, between 90 and 240 words a minute."""
        self._manner.rate_wpm = min(240, max(90, self._manner.rate_wpm + step_wpm))
        self._voice.set_rate(self._manner.rate_wpm)

    def louder_or_quieter(self, step: float) -> None:
        """Change the volume, between 0.2 and 1."""
        self._manner.volume = min(1.0, max(0.2, self._manner.volume + step))
        self._voice.set_volume(self._manner.volume)

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

    def _put_down(self, kind: str, result: Listened) -> None:
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
            )
        elif isinstance(result, Silence):
            self._logbook.write("unheard", listening=kind, why="silence", words="")
        else:
            self._logbook.write("unheard", listening=kind, why="not of this kind", words=result.words)

    def _replace(self, lost: DeviceLost) -> None:
        self._logbook.write("device_lost", device=lost.device, reason=lost.reason)
        if self._fallback is None:
            raise StopTest(f"{lost.device} lost: {lost.reason}")
        old_ears, old_voice = self._ears, self._voice
        self._ears, self._voice = self._fallback()
        self._fallback = None  # a keyboard that is lost too ends the session
        text = DEVICE_GONE.format(device=lost.device)
        # The loudspeaker may be the one that still works: say it there as well as in writing.
        old_voice.say(text)
        self._logbook.write("said", text=text)
        self._voice.say(text)
        old_ears.close()
        old_voice.close()


def _number(value: float) -> float | None:
    return round(value, 2) if value == value and abs(value) != float("inf") else None
