"""The graph in PyTorch, op by op against another engine on small graphs made here, and with its values kept to their sides."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

torch = pytest.importorskip("torch")
onnx = pytest.importorskip("onnx")
onnxruntime = pytest.importorskip("onnxruntime")

from onnx import TensorProto, helper, numpy_helper  # noqa: E402

from speech.training.neural_graph import Graph  # noqa: E402

RNG = np.random.default_rng(5)
FLOAT, INT = TensorProto.FLOAT, TensorProto.INT64


def f32(*shape: int) -> np.ndarray:
    return RNG.normal(size=shape).astype(np.float32)


def i8(*shape: int) -> np.ndarray:
    """Weights of 7 bits: on processors without VNNI instructions ONNX Runtime adds two products in 16 bits, and those of 8 bits
    overflow there (its page on quantisation, from memory)."""
    return RNG.integers(-63, 64, shape).astype(np.int8)


def model(folder: Path, nodes: Sequence[Any], consts: dict[str, Any], shape: Sequence[Any]) -> Path:
    """A graph from x to y."""
    path = folder / "graph.onnx"
    graph = helper.make_graph(
        nodes,
        "small",
        [helper.make_tensor_value_info("x", FLOAT, shape)],
        [helper.make_tensor_value_info("y", FLOAT, None)],
        [numpy_helper.from_array(np.asarray(v), k) for k, v in consts.items()],
    )
    domains = [helper.make_opsetid("", 20), helper.make_opsetid("com.microsoft", 1)]
    onnx.save(helper.make_model(graph, opset_imports=domains, ir_version=9), str(path))
    return path


def op(name: str, ins: str, outs: str = "y", **attrs: Any) -> Any:
    own = {"FastGelu", "SkipLayerNormalization", "DynamicQuantizeLSTM", "FusedMatMul"}
    missing = [i if i != "-" else "" for i in ins.split()]
    return helper.make_node(name, missing, outs.split(), domain="com.microsoft" if name in own else "", **attrs)


def theirs(path: Path, x: np.ndarray) -> np.ndarray:
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads, options.log_severity_level = 1, 3
    return onnxruntime.InferenceSession(str(path), options, providers=["CPUExecutionProvider"]).run(None, {"x": x})[0]


EXACT: dict[str, tuple[list[Any], dict[str, Any], tuple[int, ...]]] = {
    "heads by shape": (
        [
            op("Shape", "x", "s"),
            op("Gather", "s one", "n"),
            op("Unsqueeze", "n zero", "u"),
            op("Concat", "u two rest", "t", axis=0),
            op("Reshape", "x t", "r"),
            op("Transpose", "r", "q", perm=[1, 0, 2]),
            op("Softmax", "q"),
        ],
        {"one": np.int64(1), "zero": np.array([0]), "two": np.array([2]), "rest": np.array([-1])},
        (1, 5, 6),
    ),
    "instance norm, scale and shift": (
        [
            op("ReduceMean", "x last", "m"),
            op("Sub", "x m", "c"),
            op("Mul", "c c", "c2"),
            op("ReduceMean", "c2 last", "v"),
            op("Add", "v eps", "ve"),
            op("Sqrt", "ve", "d"),
            op("Div", "c d", "z"),
            op("Mul", "g z", "gz"),
            op("Add", "gz b", "w"),
            op("Sin", "w", "sw"),
            op("Pow", "sw p"),
        ],
        {"last": np.array([2]), "eps": np.float32(1e-5), "g": f32(1, 3, 1), "b": f32(1, 3, 1), "p": np.float32(2)},
        (1, 3, 9),
    ),
    "spectrum": (
        [
            op("Pad", "x pads", "p", mode="reflect"),
            op("Squeeze", "p one", "f"),
            op("STFT", "f hop window size", "s"),
            op("ReduceSum", "s axis", keepdims=0),
        ],
        {
            "pads": np.array([0, 0, 4, 0, 0, 4]),
            "one": np.array([1]),
            "hop": np.int64(2),
            "window": np.hanning(8).astype(np.float32),
            "size": np.int64(8),
            "axis": np.array([1]),
        },
        (1, 1, 30),
    ),
    "stretched and shrunk": (
        [
            op("Resize", "x - up", "a", mode="nearest", nearest_mode="floor", coordinate_transformation_mode="asymmetric"),
            op("ConvTranspose", "a w b", "c", strides=[2], pads=[1, 1], output_padding=[1], group=2),
            op("CumSum", "c two", "d"),
            op("Resize", "d - down", mode="linear"),
        ],
        {"up": np.array([1, 1, 3], np.float32), "down": np.array([1, 1, 0.25], np.float32), "w": f32(2, 1, 3), "b": f32(2), "two": np.int32(2)},
        (1, 2, 8),
    ),
    "lengths from values": (
        [
            op("ReduceSum", "x axis", "r", keepdims=0),
            op("Clip", "r low", "k"),
            op("Cast", "k", "n", to=INT),
            op("CumSum", "n zero", "c"),
            op("Gather", "c last", "e"),
            op("Range", "start e step", "t"),
            op("Unsqueeze", "t front", "tu"),
            op("Unsqueeze", "c back", "cu"),
            op("Less", "tu cu", "l"),
            op("Cast", "l", "m", to=FLOAT),
            op("FusedMatMul", "x m", transA=1),
        ],
        {
            "axis": np.array([-1]), "low": np.float32(1), "zero": np.int32(0), "last": np.int64(-1), "start": np.int64(0),
            "step": np.int64(1), "front": np.array([0]), "back": np.array([1]),
        },
        (4, 3),
    ),
    "layer norms": (
        [op("FastGelu", "x b", "a"), op("SkipLayerNormalization", "a x g b", "c", epsilon=1e-5), op("LayerNormalization", "c g b")],
        {"g": f32(6), "b": f32(6)},
        (1, 4, 6),
    ),
    "written over": (
        [op("Greater", "w none", "k"), op("NonZero", "k", "z"), op("Transpose", "z", "i", perm=[1, 0]), op("Gather", "x i", "g"),
         op("Squeeze", "g back", "q"), op("Div", "q two", "h"), op("ScatterND", "x i h")],
        {"w": np.array([0, 1, 0, 2], np.float32), "none": np.float32(0), "back": np.array([1]), "two": np.float32(2)},
        (6, 2),
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", list(EXACT))
def test_agrees_with_the_other_engine(name: str, tmp_path: Path) -> None:
    nodes, consts, shape = EXACT[name]
    path = model(tmp_path, nodes, consts, [None] * len(shape))
    graph = Graph(path, "cpu")
    for _ in range(2):
        x = f32(*shape)
        np.testing.assert_allclose(graph.run(x)[0], theirs(path, x), atol=2e-5, rtol=1e-4)


def linear(at: str, width: int) -> tuple[list[Any], dict[str, Any]]:
    nodes = [
        op("MatMulInteger", f"q w{at} z zw{at}", f"i{at}"),
        op("Mul", f"s sw{at}", f"ss{at}"),
        op("Cast", f"i{at}", f"f{at}", to=FLOAT),
        op("Mul", f"f{at} ss{at}", f"m{at}"),
        op("Add", f"b{at} m{at}", f"y{at}"),
    ]
    consts = {f"w{at}": i8(24, width), f"zw{at}": np.zeros(width, np.int8), f"sw{at}": np.full(width, 0.01, np.float32)}
    return nodes, {**consts, f"b{at}": f32(width)}


def quantised(name: str) -> tuple[list[Any], dict[str, Any], tuple[int, ...]]:
    start = [op("DynamicQuantizeLinear", "x", "q s z")]
    if name == "linear":
        (a, ca), (b, cb) = linear("1", 8), linear("2", 8)
        return [*start, *a, *b, op("Sub", "y1 y2")], ca | cb, (1, 5, 24)
    if name == "style":
        nodes, consts = linear("1", 8)
        rest = [
            op("Unsqueeze", "y1 two", "u"),
            op("Split", "u half", "g h", axis=1),
            op("Add", "g one", "g1"),
            op("Mul", "g1 h"),
        ]
        return (
            [*start, *nodes, *rest],
            {**consts, "two": np.array([2]), "half": np.array([4, 4]), "one": np.float32(1)},
            (1, 24),
        )
    if name == "conv":
        nodes = [
            op("ConvInteger", "q w z zw", "i", pads=[2, 2], dilations=[2], strides=[2]),
            op("Mul", "s sw", "ss"),
            op("Div", "b ss", "bd"),
            op("Floor", "bd", "bf"),
            op("Cast", "bf", "bi", to=TensorProto.INT32),
            op("Reshape", "bi shape", "br"),
            op("Add", "i br", "a"),
            op("Cast", "a", "f", to=FLOAT),
            op("Mul", "f ss"),
        ]
        consts = {
            "w": RNG.integers(0, 256, (6, 4, 3)).astype(np.uint8),
            "zw": np.uint8(120),
            "sw": np.float32(0.01),
            "b": f32(6),
        }
        return [*start, *nodes], {**consts, "shape": np.array([1, -1, 1])}, (1, 4, 20)
    consts = {
        "w": i8(2, 12, 32), "r": i8(2, 8, 32), "b": f32(2, 128)[:, :64], "h": np.zeros((2, 1, 8), np.float32),
        "ws": np.array([0.01, 0.02], np.float32), "wz": np.zeros(2, np.int8), "rs": np.array([0.01, 0.015], np.float32),
    }  # fmt: skip
    lstm = op("DynamicQuantizeLSTM", "x w r b - h h - ws wz rs wz", "y", direction="bidirectional", hidden_size=8)
    return [lstm], consts, (7, 1, 12)


@pytest.mark.parametrize("name", ["linear", "style", "conv", "lstm"])
def test_quantised_nodes_agree_but_for_rounding(name: str, tmp_path: Path) -> None:
    nodes, consts, shape = quantised(name)
    path, x = model(tmp_path, nodes, consts, shape), f32(*shape)
    ours, other = Graph(path, "cpu").run(x)[0], theirs(path, x)
    assert ours.shape == other.shape
    assert np.abs(ours - other).max() < 0.03 * np.abs(other).max() + 0.02
    assert np.corrcoef(ours.ravel(), other.ravel())[0, 1] > 0.999


class Tagged(torch.Tensor):  # type: ignore[name-defined, misc]
    """A value on a device that is not there: it may not be read, nor meet one that lies on the host."""

    @classmethod
    def __torch_function__(cls, func: Any, types: Any, args: Any = (), kwargs: Any = None) -> Any:
        met = [v for a in (*args, *(kwargs or {}).values()) for v in (a if isinstance(a, list | tuple) else [a])]
        strays = [v for v in met if type(v) is torch.Tensor and func is not torch._VF.lstm]
        if strays or func in (
            torch.Tensor.tolist,
            torch.Tensor.item,
            torch.Tensor.numpy,
            torch.Tensor.__bool__,
            torch.nonzero,
        ):
            raise AssertionError(f"{func} crosses sides")
        return super().__torch_function__(func, types, args, kwargs or {})


class TaggedGraph(Graph):
    def up(self, value: Any) -> Any:
        return value.clone().as_subclass(Tagged)

    def down(self, value: Any) -> Any:
        assert isinstance(value, Tagged)
        with torch._C.DisableTorchFunctionSubclass():
            return value.as_subclass(torch.Tensor).clone()


@pytest.mark.parametrize("name", [*EXACT, "linear", "style", "conv", "lstm"])
def test_host_and_device_never_meet(name: str, tmp_path: Path) -> None:
    nodes, consts, shape = EXACT[name] if name in EXACT else quantised(name)
    path, x = model(tmp_path, nodes, consts, shape), f32(*shape)
    graph = TaggedGraph(path, "cpu")
    for _ in range(2):
        np.testing.assert_allclose(graph.run(x)[0], Graph(path, "cpu").run(x)[0], atol=1e-6)
