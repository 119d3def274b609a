"""Somebody has to call readings again and again where it is quiet enough: a voice that the ears do not know.

Such a person is told so between two checks, and offered at the end of the job that the ears are fitted to them; a fit
under which it happens is taken out of use at once, for it may be somebody else's.
"""

from collections import deque
from collections.abc import Mapping
from math import inf, isfinite
from typing import TYPE_CHECKING, Any

from runner.errors import RunError
from runner.record.session import Event
from runner.talk import wording
from runner.talk.fitted import FittedEars, initials_in
from runner.talk.loudness import NOISY_DB
from runner.talk.mic_check import Speaker
from speech.commands import parse_command
from speech.levels import over_noise_db
from speech.ports import Ears, Heard, SpeechError
from speech.typed import TypedEars

if TYPE_CHECKING:
    from runner.record.logbook import Logbook

READINGS, CALLS = 6, 13
"""So many call-outs for so many readings in a row are often. Of 200 simulated jobs of twelve readings, one voice each, none
comes there with voices like those in training at 20, 10 and 5 dB; with two engines never heard 41 % do at 20 dB and 60 % at
10 dB (`python -m runner.safety.repeating`; at 5 dB it is the noise that is told of)."""
ASKED_TWICE = 2
PATIENCE_S = 8.0


class Repeats:
    """Counts the call-outs that readings take."""

    def __init__(self) -> None:
        self._begin()

    def _begin(self) -> None:
        self._taken: deque[int] = deque(maxlen=READINGS)  # call-outs of the last readings
        self._calls, self._noisy = 0, False

    def watch(self, event: Event) -> None:
        """Take in an event of the session's logbook."""
        kind = event["type"]
        if kind == "ears" or initials_in(event) is not None:
            self._begin()
        elif kind in ("heard", "unheard") and event.get("listening") == "reading":
            self._called(event)
        elif kind in ("measured", "branched", "went_back"):
            if kind != "went_back" and self._calls and not self._noisy:  # given up counts as much as taken
                self._taken.append(self._calls)
            self._calls, self._noisy = 0, False

    def _called(self, event: Event) -> None:
        words = str(event.get("words", ""))
        if event.get("why") == "silence" or event.get("source", "voice") != "voice" or parse_command(words):
            return
        self._calls += 1
        self._noisy |= _over_db(event) < NOISY_DB

    @property
    def call_outs(self) -> int:
        """Of the last readings."""
        return sum(self._taken)

    @property
    def often(self) -> bool:
        """Whether the last readings took more call-outs than somebody should have to make."""
        return len(self._taken) == READINGS and self.call_outs >= CALLS


def _over_db(event: Mapping[str, Any]) -> float:
    level, noise = event.get("level_dbfs"), event.get("noise_dbfs")
    known = all(isinstance(one, int | float) and isfinite(one) for one in (level, noise))
    return over_noise_db(float(level), float(noise)) if known else inf  # type: ignore[arg-type]


class FitOffer:
    """What is done about it in a live session."""

    def __init__(self, fitted: FittedEars) -> None:
        self._fitted = fitted
        self._repeats = Repeats()
        self._offered = False

    def watch(self, event: Event) -> None:
        """Take in an event of the session's logbook."""
        self._repeats.watch(event)
        if initials_in(event) is not None:
            self._offered = False  # that was somebody else
        if event["type"] == "stopped" and event.get("why") == wording.NOT_UNDERSTOOD:
            self._offered = True

    def aside(self, logbook: "Logbook") -> str:
        """What to say before the next check, "" for nothing; it is put on the record, once for each ears."""
        if not self._repeats.often or self._fitted.at is None:
            return ""
        facts = {"readings": READINGS, "call_outs": self._repeats.call_outs, "fitted_to": self._fitted.told}
        if self._fitted.told:
            logbook.write("repeating", **facts)
            self._fitted.set_aside()
            return wording.FIT_SET_ASIDE
        if self._offered:
            return ""
        self._offered = True
        logbook.write("repeating", **facts)
        return wording.REPEATING if self._fitted.who else wording.REPEATING_UNKNOWN

    def at_the_end(self, ears: Ears, voice: Speaker) -> None:
        """Once the session is closed and sealed: ask whether to fit now, and do it."""
        at, who = self._fitted.at, self._fitted.who
        if not self._offered or at is None or not who or isinstance(ears, TypedEars) or not _agreed(ears, voice):
            return
        from runner.talk.at_microphone import fit_and_keep  # its arithmetic would keep the first word waiting

        self._fitted.as_made()
        try:
            fit_and_keep(ears, voice, *at, who)
        except (SpeechError, RunError) as error:
            voice.say(f"Not fitted: {error}")


def _agreed(ears: Ears, voice: Speaker) -> bool:
    """A yes; silence and whatever else is none."""
    for _ in range(ASKED_TWICE):
        voice.say(wording.FIT_NOW)
        result = ears.listen("yes_no", timeout_s=PATIENCE_S)
        command = parse_command(result.words) if isinstance(result, Heard) else None
        if command in ("yes", "no"):
            return command == "yes"
    return False
