"""The network of the reading model in plain numpy: what it makes of sound, and how its biases would have to move.

An input convolution five wide, two blocks at every 10 ms frame, then eight at every third. Four of these look only
back, so that an answer need not wait for them: far enough to know the noise and the talk behind a call-out from it.
speech.training.network is the same net to be trained whole.
"""

from collections.abc import Mapping, Sequence
from copy import copy
from dataclasses import dataclass

import numpy as np

INPUT = 40
CHANNELS, INSIDE = 320, 640
STEP = 3
"""Frames of input to one of output."""

FAST = ((-1, 0, 1), (-1, 0, 1))
SLOW = (
    (-3, 0, 3), (-3, 0, 3), (-24, -12, 0), (-3, 0, 3), (-12, -6, 0), (-48, -24, 0), (-3, 0, 3), (-12, -6, 0)
)  # fmt: skip
FIRST = (-2, -1, 0, 1, 2)
LEFT = -sum(offsets[0] for offsets in (FIRST, *FAST, *SLOW))
RIGHT = sum(offsets[-1] for offsets in (FIRST, *FAST, *SLOW))
"""Frames of 10 ms before and after the one that is judged."""

Parts = Mapping[str, tuple[np.ndarray, np.ndarray]]
"""Matrix and bias of every affine part by its name, as speech.fitting.model_file reads them."""


@dataclass(frozen=True)
class _Block:
    """x + B relu(W spread(x) + bias) + shift."""

    name: str  # of the part that holds W and the bias
    offsets: tuple[int, ...]
    wide: np.ndarray
    back: np.ndarray
    shift: np.ndarray


class Network:
    """Forward, and backward as far as the biases of the blocks."""

    def __init__(self, parts: Parts) -> None:
        """Raises ValueError when the parts are not those of this network."""
        try:
            made = [
                _Block(
                    f"block{i}-wide-affine",
                    offsets if i < len(FAST) else tuple(o // STEP for o in offsets),
                    _single(parts[f"block{i}-wide-affine"][0]),
                    *(_single(part) for part in parts[f"block{i}-affine"]),
                )
                for i, offsets in enumerate((*FAST, *SLOW))
            ]
            (first, shift), (last, end) = parts["first"], parts["last"]
        except KeyError as absent:
            raise ValueError(f"no part {absent} in it; not a network of ours") from None
        if first.shape[1] != INPUT * len(FIRST) or any(b.wide.shape[1] != len(b.back) * len(b.offsets) for b in made):
            raise ValueError("its matrices are of other sizes; not a network of ours")
        self.fast, self.slow = made[: len(FAST)], made[len(FAST) :]
        self._first, self._shift, self._last, self._end = (_single(part) for part in (first, shift, last, end))
        self.biases = {block.name: np.array(parts[block.name][1], np.float32) for block in made}
        """By part; those of the slow blocks may be moved."""

    @property
    def moving(self) -> dict[str, np.ndarray]:
        """The biases that may be moved, by part."""
        return {block.name: self.biases[block.name] for block in self.slow}

    def copy(self) -> "Network":
        """The same matrices with biases of its own."""
        other = copy(self)
        other.biases = dict(self.biases)
        return other

    def before(self, features: np.ndarray) -> np.ndarray:
        """What goes into the slow blocks (frames / 3, channels) of features (frames, 40); its biases are left alone."""
        ends = np.repeat(features[:1], LEFT, 0), np.repeat(features[-1:], RIGHT + 2, 0)
        x = spread(np.concatenate((ends[0], features, ends[1])).astype(np.float32), FIRST) @ self._first.T + self._shift
        for block in self.fast:
            x = self._through(block, x)[0]
        return x[::STEP]

    def after(self, x: np.ndarray, frames: int) -> tuple[np.ndarray, list[np.ndarray]]:
        """Log probabilities (frames, phones) of what `before` gave, and the blocks' insides for `moves`."""
        insides = []
        for block in self.slow:
            x, inside = self._through(block, x)
            insides.append(inside)
        scores = x[:frames] @ self._last.T + self._end
        top = scores.max(1, keepdims=True)
        return scores - top - np.log(np.exp(scores - top).sum(1, keepdims=True)), insides

    def moves(self, slope: np.ndarray, insides: Sequence[np.ndarray]) -> dict[str, np.ndarray]:
        """Slope of a loss along every bias of the slow blocks, from its slope along the scores (frames, phones)."""
        found = {}
        along = np.zeros((len(insides[-1]), self._last.shape[1]), np.float32)
        along[: len(slope)] = slope @ self._last
        for block, inside in zip(reversed(self.slow), reversed(insides), strict=True):
            inner = (along @ block.back) * (inside > 0)
            found[block.name] = inner.sum(0)
            first, last = block.offsets[0], block.offsets[-1]
            size, width = len(along), len(block.back)
            through = np.zeros((size + last - first, width), np.float32)
            through[-first : -first + size] = along
            taken = inner @ block.wide
            for k, offset in enumerate(block.offsets):
                through[offset - first : offset - first + size] += taken[:, k * width : (k + 1) * width]
            along = through
        return found

    def _through(self, block: _Block, x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        inside = np.maximum(spread(x, block.offsets) @ block.wide.T + self.biases[block.name], 0)
        first = -block.offsets[0]
        return x[first : first + len(inside)] + inside @ block.back.T + block.shift, inside


def _single(numbers: np.ndarray) -> np.ndarray:
    return np.array(numbers, np.float32)


def spread(x: np.ndarray, offsets: Sequence[int]) -> np.ndarray:
    """Rows at the offsets side by side; the ends that lack some are dropped."""
    size = len(x) - offsets[-1] + offsets[0]
    return np.concatenate([x[o - offsets[0] : o - offsets[0] + size] for o in offsets], 1)
