"""Writes final.mdl: Kaldi's transition model and nnet3 network, binary, matrices in 8 bits an element.

Source: Kaldi's binary token and matrix formats; 8-bit matrices are its CompressedMatrix kOneByteWithColHeaders, which
every Kaldi reader takes where it takes a float matrix. numpy only, so that it is tested without torch.
"""

import math
import struct
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Affine:
    """y = matrix @ rows of x at the offsets + bias, then a rectifier when `rectify`; `add` names x to add."""

    name: str
    source: str
    offsets: tuple[int, ...]
    matrix: np.ndarray
    bias: np.ndarray
    rectify: bool = False
    add: str | None = None


def token(text: str) -> bytes:
    return text.encode() + b" "


def _int(value: int) -> bytes:
    return b"\x04" + struct.pack("<i", value)


def _float(value: float) -> bytes:
    return b"\x04" + struct.pack("<f", value)


def vector(values: np.ndarray) -> bytes:
    return token("FV") + _int(len(values)) + np.asarray(values, "<f4").tobytes()


def matrix(values: np.ndarray) -> bytes:
    """A matrix whose columns have 256 steps each, half of them between their quartiles."""
    low, high = float(values.min()), float(values.max())
    span = max(high - low, 1e-6 * max(1.0, abs(low)))
    ranked = np.sort(values, axis=0)
    rows = len(values)
    quarters = ranked[[0, rows // 4, rows - 1 - rows // 4, rows - 1]]
    marks = np.round((quarters - low) / span * 65535).clip(0, 65535)
    for i in range(1, 4):  # Kaldi wants them apart, so that no step is nothing wide
        marks[i] = np.minimum(np.maximum(marks[i], marks[i - 1] + 1), 65535 - 3 + i)
    marks[0] = np.minimum(marks[0], 65535 - 3)
    known = low + span * marks / 65535
    steps = np.empty(values.shape)
    for part, (first, last) in enumerate(((0, 64), (64, 192), (192, 255))):
        share = (values - known[part]) / (known[part + 1] - known[part])
        inside = values >= known[part] if part else np.ones(values.shape, bool)
        steps[inside] = (first + share * (last - first)).clip(first, last)[inside]
    data = np.round(steps).astype(np.uint8)
    head = struct.pack("<ffii", low, span, *values.shape) + marks.astype("<u2").T.tobytes()
    return token("CM") + head + data.T.tobytes()


def transition_model(phones: int) -> bytes:
    """Phone 1 is silence with one state; the others have their own state and an optional blank one."""
    others = list(range(2, phones + 1))
    one = [(0, [(0, 0.5), (1, 0.5)]), (-1, [])]
    two = [(0, [(0, 0.5), (1, 0.25), (2, 0.25)]), (1, [(1, 0.5), (2, 0.5)]), (-1, [])]
    out = token("<TransitionModel>") + token("<Topology>")
    # the vectors of phones and of their entry, then one entry after the other: Kaldi's own order
    entry_of = [-1, 1] + [0] * len(others)
    out += _ints([1, *others]) + _ints(entry_of) + _int(2)
    for states in (two, one):
        out += _int(len(states))
        for pdf, moves in states:
            out += _int(pdf) + _int(len(moves)) + b"".join(_int(to) + _float(p) for to, p in moves)
    out += token("</Topology>")
    triples = [(1, 0, 0)] + [triple for phone in others for triple in ((phone, 0, phone - 1), (phone, 1, 0))]
    out += token("<Triples>") + _int(len(triples)) + b"".join(_int(v) for triple in triples for v in triple)
    out += token("</Triples>") + token("<LogProbs>")
    logs = [0.0, *np.log([0.5, 0.5])]
    for _ in others:
        logs += [math.log(p) for p in (0.5, 0.25, 0.25, 0.5, 0.5)]
    return out + vector(np.array(logs)) + token("</LogProbs>") + token("</TransitionModel>")


def _ints(values: Sequence[int]) -> bytes:
    return b"\x04" + struct.pack("<i", len(values)) + np.asarray(values, "<i4").tobytes()


def _offset(source: str, by: int) -> str:
    return f"Offset({source}, {by})" if by else source


def _config(layers: Sequence[Affine], inputs: int) -> tuple[str, list[tuple[str, bytes]]]:
    lines = [f"input-node name=input dim={inputs}"]
    parts: list[tuple[str, bytes]] = []
    for layer in layers:
        taken = [_offset(layer.source, by) for by in layer.offsets]
        where = taken[0] if len(taken) == 1 else f"Append({', '.join(taken)})"
        size = len(layer.bias)
        chain = [("affine", _affine(layer), where)]
        if layer.rectify:
            chain.append(("relu", _plain("RectifiedLinearComponent", size), "{}"))
        if layer.add:
            chain.append(("sum", _noop(size), f"Sum({layer.add}, {{}})"))
        last = ""
        for i, (kind, data, taking) in enumerate(chain):
            name = layer.name if i == len(chain) - 1 else f"{layer.name}-{kind}"
            lines.append(f"component-node name={name} component={name} input={taking.format(last)}")
            parts.append((name, data))
            last = name
    size = len(layers[-1].bias)
    lines.append(f"component-node name=log-softmax component=log-softmax input={layers[-1].name}")
    parts.append(("log-softmax", _plain("LogSoftmaxComponent", size)))
    lines.append("output-node name=output input=log-softmax objective=linear")
    return "\n".join(lines), parts


def _affine(layer: Affine) -> bytes:
    name = "FixedAffineComponent"
    return (
        token(f"<{name}>") + token("<LinearParams>") + matrix(layer.matrix) + token("<BiasParams>")
        + vector(layer.bias) + token(f"</{name}>")
    )  # fmt: skip


def _plain(name: str, size: int) -> bytes:
    """A component without parameters; its running statistics are written empty."""
    none = np.zeros(0)
    out = token(f"<{name}>") + token("<Dim>") + _int(size)
    out += token("<ValueAvg>") + vector(none) + token("<DerivAvg>") + vector(none)
    return out + token("<Count>") + _float(0.0) + token(f"</{name}>")


def _noop(size: int) -> bytes:
    return (
        token("<NoOpComponent>") + token("<Dim>") + _int(size) + token("<BackpropScale>") + _float(1.0)
        + token("</NoOpComponent>")
    )  # fmt: skip


def final_mdl(layers: Sequence[Affine], *, phones: int, inputs: int, left: int, right: int) -> bytes:
    """The whole model file. left, right: frames of context of the network."""
    config, parts = _config(layers, inputs)
    out = b"\0B" + transition_model(phones) + token("<Nnet3>") + b"\n" + config.encode() + b"\n\n"
    out += token("<NumComponents>") + _int(len(parts))
    for name, data in parts:
        out += token("<ComponentName>") + token(name) + data
    out += token("</Nnet3>")
    out += token("<LeftContext>") + _int(left) + token("<RightContext>") + _int(right)
    return out + token("<Priors>") + vector(np.zeros(0))
