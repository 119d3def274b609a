"""Twenty seconds with a microphone: the noise under it, the level of a voice, and ten call-outs; then what to do."""

import time
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from statistics import median
from typing import Any, Protocol

from runner.talk.loudness import FAINT_DBFS, MUTED_DBFS, NOISY_DB, WORDS
from runner.talk.taking import RULES
from speech.cardinals import spell_cardinal
from speech.levels import LevelMeter, over_noise_db
from speech.numbers import Spoken, parse_reading
from speech.ports import DeviceLost, Ears, Heard, Rejected, SpeechError
from speech.vosk_ears import AudioSource

QUIET_S = 1.5
"""Noise is listened to for so long before anything is said: nobody speaks to a tool that has not spoken."""
CALLS = 10
PATIENCE_S = 3.0
"""Silence after which the counting is taken to be over."""
LOUD_DBFS = -40.0
"""Noise above this hides a voice that is not at the microphone; common practice, no source."""
FAR_OVER_DB = 15.0
"""What stands so far over the noise is somebody, though nothing of it was understood."""
TOO_NOISY = "Too much noise: readings would not be taken. Stop the noise, or use a closer microphone."
ASK_COUNT = "Count in volts to ten, a breath after each."


@dataclass(frozen=True)
class MicCheck:
    """What was measured; levels in dBFS, `over_noise_db` is the voice over the noise [dB]."""

    noise_dbfs: float
    speech_dbfs: float
    over_noise_db: float
    clipped: bool
    heard: int  # call-outs that came through at all
    right: int  # of ten, in their order
    seconds: float

    @property
    def verdict(self) -> str:
        """What to do, or that it is good; the gravest first."""
        if self.heard == 0 and self.speech_dbfs < MUTED_DBFS:
            return WORDS["muted"]
        if self.heard == 0 and self.noise_dbfs > LOUD_DBFS:
            return TOO_NOISY
        if self.heard == 0 and self.noise_dbfs + FAR_OVER_DB < self.speech_dbfs < FAINT_DBFS:
            return WORDS["faint"]
        if self.heard == 0:
            return "I heard no call-out. Is this the right microphone? Try another with --device."
        if self.clipped:
            return WORDS["clipped"]
        if self.over_noise_db < RULES.quiet_db:
            return TOO_NOISY
        if self.speech_dbfs < FAINT_DBFS:
            return WORDS["faint"]
        if self.over_noise_db < NOISY_DB:
            return WORDS["noisy"]
        if self.right < CALLS - 1:
            return f"I heard {self.right} of {CALLS} right. Slower once more; or let me learn your voice, with --fit."
        return "Good. Nothing to change."

    @property
    def good(self) -> bool:
        """Whether a job can begin with this microphone as it is."""
        return self.verdict.startswith("Good")

    def facts(self) -> dict[str, Any]:
        """For the file of what is remembered."""
        return {**asdict(self), "verdict": self.verdict}


class Speaker(Protocol):
    """What the check speaks with."""

    def say(self, text: str) -> object: ...


def check_microphone(
    source: AudioSource, ears: Ears, voice: Speaker, *, clock: Callable[[], float] = time.monotonic
) -> MicCheck:
    """Run the check. source: what the ears listen to. Raises SpeechError when the device is lost meanwhile."""
    started_s = clock()
    noise = listen_to_noise(source)
    voice.say(ASK_COUNT)
    results: list[Heard | Rejected] = []
    loudest = noise.peak_dbfs
    while len(results) < CALLS:
        result = ears.listen("reading", timeout_s=PATIENCE_S)
        if isinstance(result, DeviceLost):
            raise SpeechError(f"{result.device}: {result.reason}; plug it in and check again")
        if not isinstance(result, Heard | Rejected):
            loudest = max(loudest, result.level_dbfs)
            break
        results.append(result)
    levels = [result.level_dbfs for result in results]
    speech = median(levels) if levels else loudest
    return MicCheck(
        noise_dbfs=round(noise.noise_dbfs, 1),
        speech_dbfs=round(speech, 1),
        over_noise_db=round(over_noise_db(speech, noise.noise_dbfs), 1) if levels else 0.0,
        clipped=any(result.clipped for result in results),
        heard=len(results),
        right=in_order([_volts(result.words) for result in results if isinstance(result, Heard)]),
        seconds=round(clock() - started_s, 1),
    )


def listen_to_noise(source: AudioSource, *, duration_s: float = QUIET_S) -> LevelMeter:
    """The levels of so many seconds of sound. Raises SpeechError when the device is lost or gives nothing."""
    source.flush()
    meter, taken = LevelMeter(source.rate_hz), 0
    misses = 0
    while taken < duration_s * source.rate_hz:
        block = source.read(timeout_s=0.1)
        if isinstance(block, DeviceLost):
            raise SpeechError(f"{block.device}: {block.reason}; plug it in and check again")
        misses = misses + 1 if block is None else 0
        if misses > 100:
            raise SpeechError("no sound comes from the microphone; is it the right one? See `leadsman devices`")
        if block is not None:
            meter.add(block.samples)
            taken += len(block.samples)
    return meter


def _volts(words: str) -> float | None:
    spoken = parse_reading(words, expected_unit="V")
    return spoken.value if isinstance(spoken, Spoken) and spoken.unit in (None, "V") else None


def in_order(values: Sequence[float | None]) -> int:
    """How many of one to ten are there in their order: what is left out or wrong costs one, not the rest.

    >>> in_order([1.0, 2.0, None, 4.0, 9.0, 6.0])
    4
    """
    best = [0] * (CALLS + 1)  # best[n]: longest run in order with none above n
    for value in values:
        if value is None or value != int(value) or not 1 <= value <= CALLS:
            continue
        reach = max(best[: int(value)]) + 1
        best[int(value)] = max(best[int(value)], reach)
    return max(best)


def count_aloud() -> list[str]:
    """The ten call-outs."""
    return [f"{spell_cardinal(n)} volt{'s' if n > 1 else ''}" for n in range(1, CALLS + 1)]
