"""How loud speech and the noise under it are, and whether somebody speaks now."""

from collections import deque
from math import inf, isnan, nan

import numpy as np

from speech.sound import Sound, frame_levels_dbfs

FRAME_S = 0.01
SPEECH_OVER_NOISE_DB = 9.0
QUIETEST_SPEECH_DBFS = -55.0
CLIPPED = 32700
LOUDEST_DBA = 80.0
CLIPPED_SHARE = 0.001
LONGEST_S = 15.0  # of an utterance, for its level
FIRST_WORD_DB, LAST_WORD_DB = 8.0, 12.0
"""How much fainter than the caller's loud frames a first and a last word may be; voices fall towards the end."""
LEAD_FRAMES, TAIL_FRAMES = 25, 30
FAINTER_DB, MUMBLED_DB = 14.0, 9.0
"""A voice so far under the caller's is not the caller's: 9 dB when nothing it said was taken anyway, so that little is lost."""
UNHEARD_DB = 30.0
"""Nothing so far under the caller is heard as words."""


def speech_levels(sound: Sound) -> tuple[float, float]:
    """Level of the loud frames and of the quiet ones [dBFS]; minus infinity for no samples."""
    levels = frame_levels_dbfs(sound)
    if len(levels) == 0:
        return -inf, -inf
    return _loud_dbfs(levels), float(np.percentile(levels, 10))


def callers_part(levels: np.ndarray) -> slice:
    """The 10 ms frames from a little before the first that is about as loud as the caller to a little after the last.

    levels: of all frames [dBFS]. What is fainter before and after is talk across the shop, a radio: 44 of 96 call-outs were
    heard as another value with a second of three people talking before them, 20 dB fainter, and 1 without that second
    (development voices; see the model's card). 8 dB and 0.25 s were chosen there. All frames when nothing else was to be heard in the rest.
    """
    everything = slice(0, len(levels))
    if len(levels) < 3:
        return everything
    power = np.convolve(10 ** (levels / 10), np.ones(3) / 3, "same")
    smooth = 10 * np.log10(np.maximum(power, 1e-12))
    caller = float(np.percentile(smooth, 95))
    first = int(np.argmax(smooth > caller - FIRST_WORD_DB)) - LEAD_FRAMES
    last = len(levels) - int(np.argmax(smooth[::-1] > caller - LAST_WORD_DB)) + TAIL_FRAMES
    part = slice(max(0, first), min(len(levels), last))
    rest = np.concatenate((smooth[: part.start], smooth[part.stop :]))
    return part if len(rest) and rest.max() > caller - UNHEARD_DB else everything


def over_noise_db(level_dbfs: float, noise_dbfs: float) -> float:
    """How far speech stands over the noise under it [dB], from the level of both together and that of the noise; nan when
    either is not known.

    >>> round(over_noise_db(-20.0, -40.0), 2), over_noise_db(-40.0, -40.0)
    (19.96, -20.0)
    """
    if isnan(level_dbfs) or isnan(noise_dbfs):
        return nan
    if noise_dbfs == -inf or level_dbfs == -inf:
        return inf if level_dbfs > -inf else -inf
    speech_power = 10 ** ((level_dbfs - noise_dbfs) / 10) - 1
    return float(10 * np.log10(max(0.01, speech_power)))


def clipped_share(sound: Sound) -> float:
    """Share of samples at full scale; above CLIPPED_SHARE the microphone is too loud."""
    if len(sound.samples) == 0:
        return 0.0
    return float(np.mean(np.abs(sound.samples.astype(np.int32)) >= CLIPPED))


def cap_db(full_dba: float | None) -> float:
    """How far under full volume a headset has to stay so that its speech is at most 80 dB(A) at the ear [dB, at most 0].

    full_dba: what a sound level meter shows at the earpiece while the tool speaks at full volume [dB(A)]; None when
    nobody has measured it, which caps nothing.
    Source: lower exposure action value of Directive 2003/10/EC, 80 dB(A) over eight hours (from memory), kept at any time.

    >>> cap_db(92.0), cap_db(75.0), cap_db(None)
    (-12.0, 0.0, 0.0)
    """
    return 0.0 if full_dba is None else min(0.0, LOUDEST_DBA - full_dba)


class Caller:
    """How loud the one who calls has been of late, to tell talk across the shop from a call-out."""

    def __init__(self, checked_dbfs: float | None = None) -> None:
        """checked_dbfs: level of a check of the microphone."""
        known = [] if checked_dbfs is None else [checked_dbfs, checked_dbfs]
        self._past: deque[float] = deque(known, maxlen=5)

    def learn(self, level_dbfs: float) -> None:
        """A call-out was surely heard at this level."""
        self._past.append(level_dbfs)

    def forget(self) -> None:
        """Perhaps the caller has gone further off."""
        self._past.clear()

    def is_not(self, level_dbfs: float, *, understood: bool = True) -> bool:
        """Whether a voice is too faint to be the caller's, who turns a head or speaks low within FAINTER_DB.

        >>> caller = Caller()
        >>> caller.learn(-20.0), caller.learn(-24.0), caller.is_not(-40.0), caller.is_not(-30.0)
        (None, None, True, False)
        """
        known_dbfs = self.level_dbfs
        return known_dbfs is not None and level_dbfs < known_dbfs - (FAINTER_DB if understood else MUMBLED_DB)

    @property
    def level_dbfs(self) -> float | None:
        """Middle one of the last levels, None before there are two."""
        return float(np.median(self._past)) if len(self._past) >= 2 else None


class LevelMeter:
    """Follows the noise under what comes in, over the last four seconds, and tells speech from it."""

    def __init__(self, rate_hz: int) -> None:
        self._size = max(1, round(FRAME_S * rate_hz))
        self._rest = np.zeros(0, np.int16)
        self._past: deque[float] = deque(maxlen=round(4.0 / FRAME_S))
        self._since: deque[float] = deque(maxlen=round(LONGEST_S / FRAME_S))
        self._samples = self._clipped = 0
        self.peak_dbfs = -inf

    @property
    def noise_dbfs(self) -> float:
        """Level that four fifths of the last frames are above."""
        return float(np.percentile(self._past, 20)) if len(self._past) >= 10 else -80.0

    @property
    def speech_dbfs(self) -> float:
        """Level of the loud frames since the last `fresh`: of speech and noise together, when somebody spoke."""
        return _loud_dbfs(np.array(self._since)) if self._since else -inf

    @property
    def clipped(self) -> bool:
        """Whether the microphone was driven to full scale more than now and then since the last `fresh`."""
        return self._samples > 0 and self._clipped / self._samples > CLIPPED_SHARE

    def fresh(self) -> None:
        """A new utterance: the noise is remembered, the rest is not."""
        self._rest = self._rest[:0]
        self._since.clear()
        self._samples = self._clipped = 0
        self.peak_dbfs = -inf

    def add(self, samples: np.ndarray) -> list[bool]:
        """For each whole 10 ms frame, whether it is loud enough to be speech."""
        rate_hz = round(self._size / FRAME_S)
        self._samples += len(samples)
        self._clipped += int(np.count_nonzero(np.abs(samples.astype(np.int32)) >= CLIPPED))
        joined = np.concatenate([self._rest, samples])
        count = len(joined) // self._size * self._size
        self._rest = joined[count:]
        levels = [float(level) for level in frame_levels_dbfs(Sound(joined[:count], rate_hz))] if count else []
        self._past.extend(levels)
        self._since.extend(levels)
        self.peak_dbfs = max([self.peak_dbfs, *levels])
        threshold = max(self.noise_dbfs + SPEECH_OVER_NOISE_DB, QUIETEST_SPEECH_DBFS)
        return [level > threshold for level in levels]


def _loud_dbfs(levels: np.ndarray) -> float:
    """Mean power of the frames within 15 dB of the loudest [dBFS]."""
    loud = levels[levels > levels.max() - 15]
    return float(10 * np.log10(np.mean(10 ** (loud / 10))))
