"""Says so when the microphone is muted, too loud, too faint or in too much noise; seldom, so that the work goes on."""

from collections.abc import Callable
from time import monotonic
from typing import Literal

from speech.levels import over_noise_db
from speech.ports import Heard, Rejected, Silence

Complaint = Literal["muted", "clipped", "faint", "noisy"]

MUTED_DBFS = -85.0
FAINT_DBFS = -45.0
NOISY_DB = 8.0
"""Below this over the noise a call-out is misheard too often; see DEVELOPERS.md, "Safety, measured"."""
EVERY_S = 120.0

WORDS: dict[Complaint, str] = {
    "muted": "I hear nothing at all from the microphone. Unmute it, or plug it in again.",
    "clipped": "The microphone is overdriven. Move it to the corner of your mouth.",
    "faint": "I hear you faintly. Move the microphone to the corner of your mouth.",
    "noisy": "It is loud here: wear hearing protection. Move the microphone closer, or turn away from the noise.",
}


def complaint_of(result: object) -> Complaint | None:
    """What is wrong with the sound of one listening, None when nothing is or nothing is known."""
    if isinstance(result, Silence):
        return "muted" if result.level_dbfs < MUTED_DBFS else None
    if not isinstance(result, Heard | Rejected) or getattr(result, "source", "voice") != "voice":
        return None
    if result.clipped:
        return "clipped"
    if result.level_dbfs < FAINT_DBFS:
        return "faint"
    return "noisy" if over_noise_db(result.level_dbfs, result.noise_dbfs) < NOISY_DB else None


class LevelWatch:
    """Turns results of listening into a sentence now and then."""

    def __init__(self, clock: Callable[[], float] = monotonic) -> None:
        self._clock = clock
        self._last: dict[Complaint, float] = {}

    def warning(self, result: object) -> str:
        """What to say about the sound of this result, "" for nothing; each complaint at most every two minutes."""
        complaint = complaint_of(result)
        if complaint is None:
            return ""
        now_s = self._clock()
        if now_s - self._last.get(complaint, -EVERY_S) < EVERY_S:
            return ""
        self._last[complaint] = now_s
        return WORDS[complaint]
