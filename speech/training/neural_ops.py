"""ONNX operators as PyTorch functions, as far as the neural voice needs them.

Inputs that a function asks for as numbers (sizes, axes, limits) are tensors on the CPU, or numbers made at load.
"""

from collections.abc import Callable
from typing import Any

import torch
from torch.nn import functional

Fn = Callable[..., Any]
_DTYPES = {1: torch.float32, 6: torch.int32, 7: torch.int64, 9: torch.bool}
NUMBERS = {
    "Reshape": (1,), "Expand": (1,), "Slice": (1, 2, 3, 4), "Unsqueeze": (1,), "Squeeze": (1,), "Split": (1,), "Range": (0, 1, 2),
    "ConstantOfShape": (0,), "ReduceMean": (1,), "ReduceSum": (1,), "Pad": (1,), "Resize": (1, 2), "CumSum": (1,), "STFT": (1, 3),
    "Clip": (1,),
}  # fmt: skip
"""Inputs asked for as numbers, by place."""


def function(op: str, attrs: dict[str, Any]) -> Fn:
    """From inputs to the output, or to a sequence of outputs for Split."""
    return _PLAIN[op] if op in _PLAIN else _BY_ATTRIBUTES[op](attrs)


def _plain(value: Any) -> Any:
    return value.tolist() if isinstance(value, torch.Tensor) else value


def _gather(a: dict[str, Any]) -> Fn:
    before = (slice(None),) * a.get("axis", 0)
    return lambda x, i: x.select(len(before), i) if isinstance(i, int) else x[(*before, i)]


def _slice(x: torch.Tensor, starts: Any, ends: Any, axes: Any = None, steps: Any = None) -> torch.Tensor:
    starts, ends, axes, steps = (_plain(v) for v in (starts, ends, axes, steps))
    for k, (start, end) in enumerate(zip(starts, ends, strict=True)):
        axis = (axes[k] if axes else k) % x.dim()
        x = x[(*(slice(None),) * axis, slice(start, end, steps[k] if steps else 1))]
    return x


def _reshape(x: torch.Tensor, shape: Any) -> torch.Tensor:
    return x.reshape([x.shape[k] if n == 0 else n for k, n in enumerate(_plain(shape))])


def _unsqueeze(x: torch.Tensor, axes: Any) -> torch.Tensor:
    axes = _plain(axes)
    for axis in sorted(k % (x.dim() + len(axes)) for k in axes):
        x = x.unsqueeze(axis)
    return x


def _conv(a: dict[str, Any]) -> Fn:
    """(1, channels, time) to the same, by one matrix product: an accelerator would plan a convolution for each new length."""
    (pad, other), stride, spread = a.get("pads", (0, 0)), a.get("strides", [1])[0], a.get("dilations", [1])[0]
    if pad != other or a.get("group", 1) != 1 or a.get("auto_pad", b"NOTSET") != b"NOTSET":
        raise NotImplementedError("this kind of convolution")

    def conv(x: torch.Tensor, w: torch.Tensor, b: torch.Tensor | None = None) -> torch.Tensor:
        x, width = functional.pad(x, (pad, pad)), w.shape[-1]
        parts = x.as_strided(
            (x.shape[1], width, (x.shape[2] - spread * (width - 1) - 1) // stride + 1),
            (x.stride(1), spread * x.stride(2), stride * x.stride(2)),
        ).flatten(0, 1)
        w = w.flatten(1)
        return (torch.mm(w, parts) if b is None else torch.addmm(b.unsqueeze(1), w, parts)).unsqueeze(0)

    return conv


def _conv_transpose(a: dict[str, Any]) -> Fn:
    (pad, _), out = a.get("pads", (0, 0)), a.get("output_padding", [0])[0]
    stride, spread, groups = a.get("strides", [1])[0], a.get("dilations", [1])[0], a.get("group", 1)
    return lambda x, w, b=None: functional.conv_transpose1d(x, w, b, stride, pad, out, groups, spread)


def _resize(a: dict[str, Any]) -> Fn:
    """The last of three axes, by nearest whole steps or linear between centres."""
    linear = a["mode"] == b"linear"

    def resize(x: torch.Tensor, _: Any, scales: Any) -> torch.Tensor:
        scale = _plain(scales)[-1]
        if linear:
            return functional.interpolate(x, scale_factor=scale, mode="linear", recompute_scale_factor=False)
        return x.unsqueeze(-1).expand(*x.shape, int(scale)).flatten(-2)

    return resize


def _pad(a: dict[str, Any]) -> Fn:
    def pad(x: torch.Tensor, pads: Any) -> torch.Tensor:
        pads = _plain(pads)
        pairs = [n for k in reversed(range(x.dim())) for n in (pads[k], pads[k + x.dim()])]
        while len(pairs) > 2 and pairs[-2:] == [0, 0]:
            pairs = pairs[:-2]
        return functional.pad(x, pairs, a.get("mode", b"constant").decode())

    return pad


def spectrum_basis(window: torch.Tensor) -> torch.Tensor:
    """Matrix (size, bins * 2), cosines and sines in turn, under a window (size,), in double."""
    size = len(window)
    turns = torch.outer(torch.arange(size), torch.arange(size // 2 + 1)).double() * (-2 * torch.pi / size)
    return (torch.stack((torch.cos(turns), torch.sin(turns)), -1) * window.double()[:, None, None]).flatten(1)


def _stft(x: torch.Tensor, hop: Any, basis: torch.Tensor, size: Any) -> torch.Tensor:
    """(1, time) to (1, frames, bins, 2), with a basis in the window's place."""
    frames = x.reshape(1, -1).unfold(-1, _plain(size), _plain(hop))
    return torch.matmul(frames.to(torch.float64), basis).to(torch.float32).unflatten(-1, (-1, 2))


def _scatter(x: torch.Tensor, i: torch.Tensor, updates: torch.Tensor) -> torch.Tensor:
    return x.clone().index_put_(i.unbind(-1), updates)


def _fused_matmul(a: dict[str, Any]) -> Fn:
    first, second = a.get("transA", 0), a.get("transB", 0)
    return lambda x, y: torch.matmul(x.mT if first else x, y.mT if second else y) * a.get("alpha", 1.0)


def lstm_cell(w: torch.Tensor, r: torch.Tensor, bias: torch.Tensor, device: torch.device) -> torch.nn.LSTM:
    """From weights (2, features, 4 hidden), (2, hidden, 4 hidden), (2, 8 hidden), gates input, output, forget, cell."""
    hidden = r.shape[1]
    gates = torch.arange(4 * hidden).view(4, hidden)[[0, 2, 3, 1]].flatten()
    with torch.inference_mode(False):
        cell = torch.nn.LSTM(w.shape[1], hidden, bidirectional=True, device=device).requires_grad_(False).eval()
        for k, end in enumerate(("_l0", "_l0_reverse")):
            parts = (w[k].T, r[k].T, *bias[k].split(4 * hidden))
            for name, value in zip(("weight_ih", "weight_hh", "bias_ih", "bias_hh"), parts, strict=True):
                getattr(cell, name + end).copy_(value[gates].clone())
    return cell


def _lstm(a: dict[str, Any]) -> Fn:
    """(time, batch, features) to (time, 2, batch, hidden)."""
    cell: torch.nn.LSTM = a["cell"]
    return lambda x: cell(x)[0].unflatten(2, (2, cell.hidden_size)).transpose(1, 2)


def _divide(x: torch.Tensor, y: torch.Tensor) -> torch.Tensor:
    return torch.div(x, y) if x.is_floating_point() else torch.div(x, y, rounding_mode="trunc")


_PLAIN: dict[str, Fn] = {
    "Add": torch.add, "Sub": torch.sub, "Mul": torch.mul, "Div": _divide, "Square": torch.square, "Sqrt": torch.sqrt,
    "Floor": torch.floor, "Round": torch.round, "Sin": torch.sin, "Cos": torch.cos, "Exp": torch.exp, "Tanh": torch.tanh,
    "Atan": torch.atan, "Sigmoid": torch.sigmoid, "Equal": torch.eq, "Greater": torch.gt, "GreaterOrEqual": torch.ge,
    "Less": torch.lt, "And": torch.logical_and, "Where": torch.where, "MatMul": torch.matmul, "Linear": functional.linear,
    "Addcmul": torch.addcmul, "Slice": _slice, "Reshape": _reshape, "Unsqueeze": _unsqueeze, "ScatterND": _scatter, "STFT": _stft,
    "Clip": lambda x, low: x.clamp(_plain(low)),
    "CumSum": lambda x, axis: torch.cumsum(x, _plain(axis), dtype=x.dtype),
    "DequantizeLinear": lambda x, scale, zero: (x.to(torch.float32) - zero.to(torch.float32)) * scale,
    "Expand": lambda x, shape: x.expand(torch.broadcast_shapes(x.shape, _plain(shape))),
    "FastGelu": lambda x: functional.gelu(x, approximate="tanh"),
    "NonZero": lambda x: torch.nonzero(x).T,
    "Range": lambda start, limit, step: torch.arange(_plain(start), _plain(limit), _plain(step)),
    "Squeeze": lambda x, axes: x.squeeze(tuple(_plain(axes))),
}  # fmt: skip
_BY_ATTRIBUTES: dict[str, Callable[[dict[str, Any]], Fn]] = {
    "Gather": _gather, "Conv": _conv, "ConvTranspose": _conv_transpose, "Resize": _resize, "Pad": _pad, "FusedMatMul": _fused_matmul,
    "LSTM": _lstm,
    "Cast": lambda a: lambda x: x.to(_DTYPES[a["to"]]),
    "Concat": lambda a: lambda *xs: torch.cat(xs, a["axis"]),
    "ConstantOfShape": lambda a: lambda shape: a["value"].expand(_plain(shape)),
    "LayerNormalization": lambda a: lambda x, g, b=None: functional.layer_norm(x, x.shape[a.get("axis", -1):], g, b, a.get("epsilon", 1e-5)),
    "LeakyRelu": lambda a: lambda x: functional.leaky_relu(x, a.get("alpha", 0.01)),
    "Norm": lambda a: lambda x: functional.layer_norm(x, x.shape[-1:], eps=a["epsilon"]),
    "ReduceMean": lambda a: lambda x, axes: x.mean(_plain(axes), bool(a.get("keepdims", 1))),
    "ReduceSum": lambda a: lambda x, axes: x.sum(_plain(axes), bool(a.get("keepdims", 1))),
    "Shape": lambda a: lambda x: torch.tensor(x.shape[a.get("start", 0):a.get("end")], dtype=torch.int64),
    "SkipLayerNormalization": lambda a: lambda x, y, g, b: functional.layer_norm(x + y, x.shape[-1:], g, b, a["epsilon"]),
    "Softmax": lambda a: lambda x: torch.softmax(x, a.get("axis", -1)),
    "Split": lambda a: lambda x, sizes: x.split(_plain(sizes), a.get("axis", 0)),
    "Transpose": lambda a: lambda x: x.permute(a.get("perm") or tuple(reversed(range(x.dim())))),
}  # fmt: skip
"""From attributes to a function; Norm, our own, is (x - mean) / deviation along the last axis."""
