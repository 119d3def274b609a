"""The network: dilated convolutions with residual blocks, looking 160 ms ahead and 400 ms back.

An input convolution five wide, two blocks at every 10 ms frame, then six at every third; the last two
look only back, so that an answer need not wait for them.
"""

import torch
from torch import nn

INPUT = 40
CHANNELS, INSIDE = 320, 448
STEP = 3
"""Frames of input to one of output."""

FAST = ((-1, 0, 1), (-1, 0, 1))
SLOW = ((-3, 0, 3), (-3, 0, 3), (-3, 0, 3), (-3, 0, 3), (-12, -6, 0), (-12, -6, 0))
FIRST = (-2, -1, 0, 1, 2)
LEFT = -sum(offsets[0] for offsets in (FIRST, *FAST, *SLOW))
RIGHT = sum(offsets[-1] for offsets in (FIRST, *FAST, *SLOW))
"""Frames of 10 ms before and after the one that is judged."""


class Block(nn.Module):
    """x + V relu(norm(W x)), W over the frames at the given offsets; x is (batch, frames, channels).

    The frames are laid side by side for one matrix product: far quicker than a dilated convolution here.
    """

    def __init__(self, offsets: tuple[int, ...], *, dropout: float) -> None:
        super().__init__()
        self.offsets = offsets
        self.wide = nn.Linear(CHANNELS * len(offsets), INSIDE, bias=False)
        self.norm = nn.BatchNorm1d(INSIDE)
        self.dropout = nn.Dropout(dropout)
        self.back = nn.Linear(INSIDE, CHANNELS)

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        y = self.wide(spread(x, self.offsets))
        y = torch.relu(self.norm(y.flatten(0, 1))).view(y.shape)
        y = self.back(self.dropout(y))
        first = -self.offsets[0]
        return x[:, first : first + y.shape[1]] + y


def spread(x: torch.Tensor, offsets: tuple[int, ...]) -> torch.Tensor:
    """Frames at the offsets side by side; the ends that lack some are dropped."""
    size = x.shape[1] - offsets[-1] + offsets[0]
    return torch.cat([x[:, o - offsets[0] : o - offsets[0] + size] for o in offsets], 2)


class Net(nn.Module):
    """Log probabilities (batch, frames / 3, phones) of features (batch, frames, 40)."""

    def __init__(self, outputs: int, *, dropout: float = 0.1) -> None:
        super().__init__()
        self.mean: torch.Tensor
        self.scale: torch.Tensor
        self.register_buffer("mean", torch.zeros(INPUT))
        self.register_buffer("scale", torch.ones(INPUT))
        self.first = nn.Linear(INPUT * len(FIRST), CHANNELS)
        self.fast = nn.Sequential(*(Block(offsets, dropout=dropout) for offsets in FAST))
        slow = (tuple(o // STEP for o in offsets) for offsets in SLOW)
        self.slow = nn.Sequential(*(Block(offsets, dropout=dropout) for offsets in slow))
        self.last = nn.Linear(CHANNELS, outputs)

    def forward(self, features: torch.Tensor) -> torch.Tensor:
        x = (features - self.mean) * self.scale
        # the ends are repeated, as the recogniser does; LEFT less what the fast part used is a multiple of 3
        x = torch.cat((x[:, :1].expand(-1, LEFT, -1), x, x[:, -1:].expand(-1, RIGHT + 2, -1)), 1)
        x = self.fast(self.first(spread(x, FIRST)))[:, ::STEP]
        frames = -(-features.shape[1] // STEP)
        return self.last(self.slow(x))[:, :frames].float().log_softmax(-1)
