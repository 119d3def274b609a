"""Two minutes in which the ears are fitted to one person: ten readings said after the tool, then the fit, kept if it helps."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from runner.errors import RunError
from runner.talk.mic_check import Speaker
from speech.fitting.fit import ASKED, STRANGE, Call, Fit, fit, network_of, strangeness
from speech.fitting.kept import NETWORK
from speech.ports import DeviceLost, Ears, Heard, Rejected, SpeechError
from speech.sound import resample

FEWEST = 6
"""Of the ten; with fewer nothing is fitted."""
PATIENCE_S = 6.0
RATE_HZ = 16000
INTRODUCTION = "Repeat after me: ten readings, as you call them at the car."
ONCE_MORE = "Once more: {}"
WAIT = "Thank you. Now wait: about two minutes."
FITTED = "Fitted to your voice."
NO_HELP = "That would not help. I hear you as before."
TOO_FEW = "I got {} of 10, too few. Go where it is quieter, and try again."


@dataclass(frozen=True)
class Fitting:
    """What came of it: the call-outs that were taken, and the fit when there were enough of them."""

    taken: int
    fit: Fit | None

    @property
    def verdict(self) -> str:
        """What to tell the person."""
        if self.fit is None:
            return TOO_FEW.format(self.taken)
        return FITTED if self.fit.helps else NO_HELP

    def facts(self) -> dict[str, Any]:
        """For the file of what is remembered."""
        assert self.fit is not None
        return {
            "date": datetime.now(UTC).date().isoformat(),
            "taken": self.taken,
            "loss_before": round(self.fit.before, 3),
            "loss_after": round(self.fit.after, 3),
        }


def fit_to_person(ears: Ears, voice: Speaker, model: Path, *, tick: Callable[[], object] = lambda: None) -> Fitting:
    """Ask for the call-outs and fit to them. model: the folder to fit. tick: called now and then while it computes.

    Raises SpeechError when the microphone is lost meanwhile, RunError for a network that is not ours.
    """
    try:
        network = network_of((model / NETWORK).read_bytes())
    except (OSError, ValueError) as error:
        raise RunError(f"{model / NETWORK}: {error}; only the reading model that ships can be fitted") from error
    voice.say(INTRODUCTION)
    calls = [call for words in ASKED if (call := _call_out(words, ears, voice, lambda c: strangeness(network, c)))]
    if len(calls) < FEWEST:
        return Fitting(len(calls), None)
    voice.say(WAIT)
    return Fitting(len(calls), fit(network, calls, tick=tick))


def _call_out(words: str, ears: Ears, voice: Speaker, strange: Callable[[Call], float]) -> Call | None:
    """The words as the person said them, asked for twice at most; None when that was something else."""
    for text in (words, ONCE_MORE.format(words)):
        voice.say(f"{text[:1].upper()}{text[1:]}.")
        result = ears.listen("reading", timeout_s=PATIENCE_S)
        if isinstance(result, DeviceLost):
            raise SpeechError(f"{result.device}: {result.reason}; plug it in and try again")
        if isinstance(result, Heard | Rejected) and result.sound is not None:
            call = Call(resample(result.sound, RATE_HZ).samples, tuple(words.split()))
            if strange(call) <= STRANGE:
                return call
    return None
