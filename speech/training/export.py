"""A trained network -> speech/model: batch normalisation and input scaling folded into the affine parts."""

from pathlib import Path

import numpy as np
import torch

from speech.fitting.network import FAST, FIRST, INPUT, LEFT, RIGHT, SLOW
from speech.lexicon import PHONES
from speech.training.kaldi_files import Affine, final_mdl
from speech.training.network import Block, Net

MFCC_CONF = """--use-energy=false
--num-mel-bins=40
--num-ceps=40
--low-freq=20
--high-freq=7600
--dither=0
"""
MODEL_CONF = """--min-active=200
--max-active=3000
--beam=14.0
--lattice-beam=6.0
--acoustic-scale=1.0
--frame-subsampling-factor=3
--endpoint.silence-phones=1
--endpoint.rule2.min-trailing-silence=0.5
--endpoint.rule3.min-trailing-silence=0.8
--endpoint.rule4.min-trailing-silence=2.0
"""


def _rows(linear: torch.nn.Linear) -> np.ndarray:
    return linear.weight.detach().double().cpu().numpy()


def _bias(linear: torch.nn.Linear) -> np.ndarray:
    return linear.bias.detach().double().cpu().numpy()


def _block(block: Block, name: str, source: str, offsets: tuple[int, ...]) -> list[Affine]:
    norm = block.norm
    assert norm.running_var is not None and norm.running_mean is not None
    gain = (norm.weight / torch.sqrt(norm.running_var + norm.eps)).detach().double().cpu().numpy()
    shift = norm.bias.detach().double().cpu().numpy() - gain * norm.running_mean.double().cpu().numpy()
    wide = Affine(f"{name}-wide", source, offsets, gain[:, None] * _rows(block.wide), shift, rectify=True)
    back = Affine(name, wide.name, (0,), _rows(block.back), _bias(block.back), add=source)
    return [wide, back]


def layers(net: Net) -> list[Affine]:
    """The network as affine parts, numbers in double precision."""
    scale = np.tile(net.scale.double().cpu().numpy(), len(FIRST))
    mean = np.tile(net.mean.double().cpu().numpy(), len(FIRST))
    weight = _rows(net.first) * scale
    out = [Affine("first", "input", FIRST, weight, _bias(net.first) - weight @ mean)]
    for i, (block, offsets) in enumerate(zip([*net.fast, *net.slow], (*FAST, *SLOW), strict=True)):
        assert isinstance(block, Block)
        out += _block(block, f"block{i}", out[-1].name, offsets)
    out.append(Affine("last", out[-1].name, (0,), _rows(net.last), _bias(net.last)))
    return out


def write(net: Net, folder: Path) -> None:
    """am/final.mdl and conf/ of a model folder."""
    net.eval()
    (folder / "am").mkdir(parents=True, exist_ok=True)
    (folder / "conf").mkdir(exist_ok=True)
    data = final_mdl(layers(net), phones=len(PHONES), inputs=INPUT, left=LEFT, right=RIGHT)
    (folder / "am" / "final.mdl").write_bytes(data)
    (folder / "conf" / "mfcc.conf").write_text(MFCC_CONF)
    (folder / "conf" / "model.conf").write_text(MODEL_CONF)
