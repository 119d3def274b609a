"""A model folder's network back in PyTorch, to train it on: am/final.mdl as `kaldi_files` writes it.

Batch normalisations are plain shifts in the file, as they were folded away; `renew_norms` makes norms of them again. The
second output half way up the net, which serves training alone, is not in the file and begins anew.
"""

from pathlib import Path

import numpy as np
import torch

from speech.fitting.model_file import affine_parts
from speech.lexicon import PHONES
from speech.training.network import Block, Net


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
    parts = affine_parts((model / "am/final.mdl").read_bytes())
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


@torch.no_grad()
def renew_norms(net: Net, features: torch.Tensor) -> None:
    """Gives every batch normalisation the mean and spread of what reaches it, and gain and shift that change nothing.

    net: from `net_of`, whose norms are plain shifts. features: a batch (rows, frames, 40). Afterwards the net hears that
    batch as before, whether its norms are in use or learn.
    """

    def renewed(norm: torch.nn.Module, given: tuple[torch.Tensor]) -> None:
        assert isinstance(norm, torch.nn.BatchNorm1d) and norm.running_mean is not None and norm.running_var is not None
        mean, spread = given[0].mean(0), given[0].var(0, unbiased=False)
        norm.bias.add_(mean)
        norm.weight.copy_((spread + norm.eps).sqrt())
        norm.running_mean.copy_(mean)
        norm.running_var.copy_(spread)

    norms = [part for part in net.modules() if isinstance(part, torch.nn.BatchNorm1d)]
    hooks = [norm.register_forward_pre_hook(renewed) for norm in norms]
    net(features)
    for hook in hooks:
        hook.remove()
