"""A model folder's network back in PyTorch, to train it on: am/final.mdl as `kaldi_files` writes it.

What was folded away stays so: batch normalisations are plain shifts and are best left fixed, and the second output half
way up the net, which serves training alone, is not in the file.
"""

import struct
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import torch

from speech.lexicon import PHONES
from speech.training.network import Block, Net

_COMPONENT, _LINEAR, _BIAS = b"<ComponentName> ", b" <FixedAffineComponent> <LinearParams> CM ", b"<BiasParams> FV "
STEPS = (0, 64, 192, 255)
"""Of a byte, at the four marks of a column."""


def affine_parts(data: bytes) -> dict[str, tuple[np.ndarray, np.ndarray]]:
    """Matrix and bias of every affine part by its name. Raises ValueError for a file of other parts."""
    found = {}
    at = data.find(_LINEAR)
    while at >= 0:
        name = data[data.rindex(_COMPONENT, 0, at) + len(_COMPONENT) : at].decode("ascii")
        at += len(_LINEAR)
        low, span, rows, columns = struct.unpack_from("<ffii", data, at)
        at += 16
        marks = low + span * np.frombuffer(data, "<u2", 4 * columns, at).reshape(columns, 4).astype(np.float64) / 65535
        at += 8 * columns
        steps = np.frombuffer(data, np.uint8, rows * columns, at).reshape(columns, rows)
        at += rows * columns
        matrix = np.stack([np.interp(column, STEPS, own) for column, own in zip(steps, marks, strict=True)], 1)
        if not data.startswith(_BIAS, at):
            raise ValueError(f"{name}: no {_BIAS.decode()}behind its matrix; not a network of ours")
        (size,) = struct.unpack_from("<i", data, at + len(_BIAS) + 1)
        found[name] = (matrix, np.frombuffer(data, "<f4", size, at + len(_BIAS) + 5))
        at = data.find(_LINEAR, at)
    if not found:
        raise ValueError("no affine part in it; not a network of ours")
    return found


def _set(linear: torch.nn.Linear, part: tuple[np.ndarray, np.ndarray]) -> None:
    matrix, bias = (torch.from_numpy(np.array(one, np.float32)) for one in part)
    if matrix.shape != linear.weight.shape:
        raise ValueError(f"a matrix of {tuple(matrix.shape)}, not {tuple(linear.weight.shape)}: another network")
    linear.weight.copy_(matrix)
    if linear.bias is not None:
        linear.bias.copy_(bias)


@torch.no_grad()
def net_of(model: Path, *, dropout: float = 0.0) -> Net:
    """The network of a model folder, in use for listening. Raises ValueError for one of another shape."""
    parts: Mapping[str, tuple[np.ndarray, np.ndarray]] = affine_parts((model / "am/final.mdl").read_bytes())
    net = Net(len(PHONES), inside=len(parts["block0-wide-affine"][1]), dropout=dropout)
    _set(net.first, parts["first"])
    for number, block in enumerate([*net.fast, *net.slow]):
        assert isinstance(block, Block)
        norm, shift = block.norm, parts[f"block{number}-wide-affine"][1]
        assert norm.running_mean is not None and norm.running_var is not None
        _set(block.wide, parts[f"block{number}-wide-affine"])
        norm.running_mean.zero_()
        norm.running_var.fill_(1 - norm.eps)
        norm.bias.copy_(torch.from_numpy(np.array(shift)))
        _set(block.back, parts[f"block{number}-affine"])
    _set(net.last, parts["last"])
    return net.eval()
