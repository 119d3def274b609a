"""How loud speech and the noise under it are, and whether somebody speaks now."""

from collections import deque
from math import inf

import numpy as np

from speech.sound import Sound, frame_levels_dbfs

FRAME_S = 0.01
SPEECH_OVER_NOISE_DB = 9.0
QUIETEST_SPEECH_DBFS = -55.0
CLIPPED = 32700


def speech_levels(sound: Sound) -> tuple[float, float]:
    """Level of the loud frames and of the quiet ones [dBFS]; minus infinity for no samples."""
    levels = frame_levels_dbfs(sound)
    if len(levels) == 0:
        return -inf, -inf
    loud = levels[levels > levels.max() - 15]
    return float(10 * np.log10(np.mean(10 ** (loud / 10)))), float(np.percentile(levels, 10))


def clipped_share(sound: Sound) -> float:
    """Share of samples at full scale; above 0.001 the microphone is too loud."""
    if len(sound.samples) == 0:
        return 0.0
    return float(np.mean(np.abs(sound.samples.astype(np.int32)) >= CLIPPED))


class LevelMeter:
    """Follows the noise under what comes in, over the last four seconds, and tells speech from it."""

    def __init__(self, rate_hz: int) -> None:
        self._size = max(1, round(FRAME_S * rate_hz))
        self._rest = np.zeros(0, np.int16)
        self._past: deque[float] = deque(maxlen=round(4.0 / FRAME_S))
        self.peak_dbfs = -inf

    @property
    def noise_dbfs(self) -> float:
        """Level that four fifths of the last frames are above."""
        return float(np.percentile(self._past, 20)) if len(self._past) >= 10 else -80.0

    def fresh(self) -> None:
        """A new utterance: the noise is remembered, the peak is not."""
        self._rest = self._rest[:0]
        self.peak_dbfs = -inf

    def add(self, samples: np.ndarray) -> list[bool]:
        """For each whole 10 ms frame, whether it is loud enough to be speech."""
        rate_hz = round(self._size / FRAME_S)
        joined = np.concatenate([self._rest, samples])
        count = len(joined) // self._size * self._size
        self._rest = joined[count:]
        levels = [float(level) for level in frame_levels_dbfs(Sound(joined[:count], rate_hz))] if count else []
        self._past.extend(levels)
        self.peak_dbfs = max([self.peak_dbfs, *levels])
        threshold = max(self.noise_dbfs + SPEECH_OVER_NOISE_DB, QUIETEST_SPEECH_DBFS)
        return [level > threshold for level in levels]
