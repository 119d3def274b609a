"""Another sample rate for sound that comes in block by block, without a seam between blocks."""

from fractions import Fraction
from math import ceil

import numpy as np

ZEROS = 12


class StreamResampler:
    """Windowed sinc over the blocks; what it still needs from the next block is kept."""

    def __init__(self, from_hz: int, to_hz: int) -> None:
        ratio = Fraction(to_hz, from_hz)
        self._up, self._down = ratio.numerator, ratio.denominator
        cut = min(1.0, self._up / self._down) * 0.95
        self._half = ceil(ZEROS / cut)
        taps = np.arange(-self._half + 1, self._half + 1, dtype=np.float64)
        self._kernels = np.stack([_kernel(taps - phase / self._up, cut, self._half) for phase in range(self._up)])
        self._kept = np.zeros(self._half, np.float32)
        self._done = 0  # samples given out
        self._dropped = -self._half  # where `_kept` begins, in samples that came in

    def feed(self, samples: np.ndarray) -> np.ndarray:
        """The samples that can be made of all that has come in so far, int16."""
        if self._up == self._down:
            return samples
        self._kept = np.concatenate([self._kept, samples.astype(np.float32)])
        known = self._dropped + len(self._kept)
        ready = max(0, ((known - self._half) * self._up - 1) // self._down + 1)
        numbers = np.arange(self._done, ready)
        if len(numbers) == 0:
            return np.zeros(0, np.int16)
        starts = numbers * self._down // self._up - self._dropped - self._half + 1
        windows = np.lib.stride_tricks.sliding_window_view(self._kept, 2 * self._half)[starts]
        made = np.einsum("ij,ij->i", windows, self._kernels[numbers * self._down % self._up])
        self._done = ready
        keep_from = ready * self._down // self._up - self._half - self._dropped
        if keep_from > 0:
            self._kept, self._dropped = self._kept[keep_from:], self._dropped + keep_from
        return np.clip(np.rint(made), -32768, 32767).astype(np.int16)


def _kernel(distance: np.ndarray, cut: float, half: int) -> np.ndarray:
    kernel = cut * np.sinc(cut * distance) * (0.5 + 0.5 * np.cos(np.pi * np.clip(distance / half, -1, 1)))
    return (kernel / kernel.sum()).astype(np.float32)
