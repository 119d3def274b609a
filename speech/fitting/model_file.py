"""Matrices and biases in am/final.mdl, as speech.training.kaldi_files writes it: read, and biases put in their place.

Source: Kaldi's binary token and matrix formats; 8-bit matrices are its CompressedMatrix kOneByteWithColHeaders.
"""

import struct
from collections.abc import Iterator, Mapping

import numpy as np

_COMPONENT, _LINEAR, _BIAS = b"<ComponentName> ", b" <FixedAffineComponent> <LinearParams> CM ", b"<BiasParams> FV "
STEPS = (0, 64, 192, 255)
"""Of a byte, at the four marks of a column."""


def _affine(data: bytes) -> Iterator[tuple[str, int, int, int]]:
    """Every affine part: its name, where its matrix begins, where its bias does, and the length of that."""
    at = data.find(_LINEAR)
    while at >= 0:
        name = data[data.rindex(_COMPONENT, 0, at) + len(_COMPONENT) : at].decode("ascii")
        matrix = at + len(_LINEAR)
        if len(data) < matrix + 16:
            raise ValueError(f"{name}: the file ends within it; it was cut short")
        rows, columns = struct.unpack_from("<ii", data, matrix + 8)
        bias = matrix + 16 + (8 + rows) * columns
        if rows < 0 or columns < 0 or not data.startswith(_BIAS, bias) or len(data) < bias + len(_BIAS) + 5:
            raise ValueError(f"{name}: no {_BIAS.decode()}behind its matrix; not a network of ours")
        (size,) = struct.unpack_from("<i", data, bias + len(_BIAS) + 1)
        if len(data) < bias + len(_BIAS) + 5 + 4 * size:
            raise ValueError(f"{name}: the file ends within it; it was cut short")
        yield name, matrix, bias + len(_BIAS) + 5, size
        at = data.find(_LINEAR, bias)


def affine_parts(data: bytes) -> dict[str, tuple[np.ndarray, np.ndarray]]:
    """Matrix and bias of every affine part by its name. Raises ValueError for a file of other parts."""
    found = {}
    for name, at, bias, size in _affine(data):
        low, span, rows, columns = struct.unpack_from("<ffii", data, at)
        marks = low + span * np.frombuffer(data, "<u2", 4 * columns, at + 16).reshape(columns, 4) / 65535
        steps = np.frombuffer(data, np.uint8, rows * columns, at + 16 + 8 * columns).reshape(columns, rows)
        matrix = np.stack([np.interp(column, STEPS, own) for column, own in zip(steps, marks, strict=True)], 1)
        found[name] = (matrix, np.frombuffer(data, "<f4", size, bias))
    if not found:
        raise ValueError("no affine part in it; not a network of ours")
    return found


def with_biases(data: bytes, biases: Mapping[str, np.ndarray]) -> bytes:
    """The file with other biases in the parts named. Raises ValueError for a part or a length it does not have."""
    out, left = bytearray(data), dict(biases)
    for name, _, at, size in _affine(data):
        if (bias := left.pop(name, None)) is None:
            continue
        if bias.shape != (size,) or not np.all(np.isfinite(bias)):
            raise ValueError(f"{name}: a bias of {bias.shape}, not {size} numbers")
        out[at : at + 4 * size] = bias.astype("<f4").tobytes()
    if left:
        raise ValueError(f"no part {', '.join(left)}; fitted to another network")
    return bytes(out)
