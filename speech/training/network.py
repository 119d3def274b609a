"""The network, to be trained: dilated convolutions with residual blocks, looking 160 ms ahead and 1.12 s back.

Its shape is told in speech.fitting.network.
"""

import torch
from torch import nn

from speech.fitting.network import CHANNELS, FAST, FIRST, INPUT, INSIDE, LEFT, RIGHT, SLOW, STEP


class Block(nn.Module):
    """x + V relu(norm(W x)), W over the frames at the given offsets; x is (batch, frames, channels).

    The frames are laid side by side for one matrix product: far quicker than a dilated convolution here.
    """

    def __init__(self, offsets: tuple[int, ...], *, inside: int, dropout: float) -> None:
        super().__init__()
        self.offsets = offsets
        self.wide = nn.Linear(CHANNELS * len(offsets), inside, bias=False)
        self.norm = nn.BatchNorm1d(inside)
        self.dropout = nn.Dropout(dropout)
        self.back = nn.Linear(inside, CHANNELS)

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

    def __init__(self, outputs: int, *, inside: int = INSIDE, dropout: float = 0.1) -> None:
        super().__init__()
        self.mean: torch.Tensor
        self.scale: torch.Tensor
        self.register_buffer("mean", torch.zeros(INPUT))
        self.register_buffer("scale", torch.ones(INPUT))
        self.first = nn.Linear(INPUT * len(FIRST), CHANNELS)
        self.fast = nn.Sequential(*(Block(offsets, inside=inside, dropout=dropout) for offsets in FAST))
        slow = (tuple(o // STEP for o in offsets) for offsets in SLOW)
        self.slow = nn.Sequential(*(Block(offsets, inside=inside, dropout=dropout) for offsets in slow))
        self.last = nn.Linear(CHANNELS, outputs)
        self.early = nn.Linear(CHANNELS, outputs)  # for training alone: what is known half way

    def forward(self, features: torch.Tensor) -> torch.Tensor:
        return self.both(features)[0]

    def both(self, features: torch.Tensor) -> tuple[torch.Tensor, torch.Tensor]:
        """What is known at the end, and half way through the slow blocks."""
        x = (features - self.mean) * self.scale
        # the ends are repeated, as the recogniser does; LEFT less what the fast part used is a multiple of 3
        x = torch.cat((x[:, :1].expand(-1, LEFT, -1), x, x[:, -1:].expand(-1, RIGHT + 2, -1)), 1)
        x = self.fast(self.first(spread(x, FIRST)))[:, ::STEP]
        frames = -(-features.shape[1] // STEP)
        half = len(SLOW) // 2
        middle = self.slow[:half](x)
        before = -sum(offsets[0] for offsets in SLOW[half:]) // STEP
        early = self.early(middle[:, before : before + frames]).float().log_softmax(-1)
        return self.last(self.slow[half:](middle))[:, :frames].float().log_softmax(-1), early
