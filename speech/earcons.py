"""Small tones that differ in rhythm and pitch, not only in loudness."""

from types import MappingProxyType
from typing import Literal

import numpy as np

from speech.sound import Sound, from_floats

RATE_HZ = 22050
Earcon = Literal["listening", "in", "out", "doubtful", "stopped"]

_NOTES: dict[Earcon, tuple[tuple[float, float], ...]] = {
    "listening": ((880.0, 0.06),),
    "in": ((660.0, 0.07), (990.0, 0.12)),
    "out": ((440.0, 0.16), (0.0, 0.05), (330.0, 0.22)),
    "doubtful": ((587.0, 0.07), (0.0, 0.05), (587.0, 0.07), (0.0, 0.05), (587.0, 0.07)),
    "stopped": ((392.0, 0.1), (294.0, 0.1), (196.0, 0.2)),
}
"""Frequency [Hz] and length [s] of each note; frequency 0 is a rest."""


def tone(frequency_hz: float, duration_s: float, *, level: float = 0.25) -> np.ndarray:
    """Floats of one note with soft edges; a second harmonic makes it heard beside an engine."""
    at_s = np.arange(round(duration_s * RATE_HZ)) / RATE_HZ
    if frequency_hz == 0:
        return np.zeros(len(at_s))
    edge = np.minimum(1.0, np.minimum(at_s, at_s[::-1]) / 0.008)
    wave = np.sin(2 * np.pi * frequency_hz * at_s) + 0.3 * np.sin(4 * np.pi * frequency_hz * at_s)
    return level * edge * wave


EARCONS: MappingProxyType[Earcon, Sound] = MappingProxyType(
    {name: from_floats(np.concatenate([tone(*note) for note in notes]), RATE_HZ) for name, notes in _NOTES.items()}
)
