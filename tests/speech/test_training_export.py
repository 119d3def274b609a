"""The exporter: what is written to final.mdl is read back by a reader of Kaldi's format written here."""

import struct
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest

from speech.training.kaldi_files import Affine, final_mdl, matrix


@dataclass
class Kaldi:
    """Reads Kaldi's binary tokens, numbers, vectors and matrices in turn."""

    data: bytes
    at: int = 0
    seen: list[str] = field(default_factory=list)

    def token(self) -> str:
        end = self.data.index(b" ", self.at)
        found = self.data[self.at : end].decode()
        self.at = end + 1
        return found

    def expect(self, *names: str) -> None:
        for name in names:
            assert self.token() == name

    def number(self, shape: str) -> float:
        assert self.data[self.at] == 4
        (found,) = struct.unpack_from(f"<{shape}", self.data, self.at + 1)
        self.at += 5
        return found

    def ints(self) -> list[int]:
        assert self.data[self.at] == 4
        (count,) = struct.unpack_from("<i", self.data, self.at + 1)
        found = struct.unpack_from(f"<{count}i", self.data, self.at + 5)
        self.at += 5 + 4 * count
        return list(found)

    def vector(self) -> np.ndarray:
        self.expect("FV")
        count = int(self.number("i"))
        found = np.frombuffer(self.data, "<f4", count, self.at)
        self.at += 4 * count
        return found.astype(np.float64)

    def matrix(self) -> np.ndarray:
        """Kaldi's CompressedMatrix with headers of columns: 64, 128 and 63 steps between four marks of each column."""
        self.expect("CM")
        low, span, rows, columns = struct.unpack_from("<ffii", self.data, self.at)
        marks = np.frombuffer(self.data, "<u2", 4 * columns, self.at + 16).reshape(columns, 4).astype(np.float64)
        marks = low + span * marks / 65535
        steps = np.frombuffer(self.data, "<u1", rows * columns, self.at + 16 + 8 * columns).reshape(columns, rows)
        self.at += 16 + 8 * columns + rows * columns
        found = np.empty((rows, columns))
        for column in range(columns):
            found[:, column] = np.interp(steps[column], (0, 64, 192, 255), marks[column])
        return found

    def line(self) -> str:
        end = self.data.index(b"\n", self.at)
        found = self.data[self.at : end].decode()
        self.at = end + 1
        return found


@dataclass
class Model:
    """What a model file holds."""

    triples: list[tuple[int, int, int]]
    log_probs: np.ndarray
    config: list[str]
    parts: dict[str, tuple[str, np.ndarray, np.ndarray]]

    def offsets(self, name: str) -> tuple[str, list[int]]:
        line = next(line for line in self.config if f"component-node name={name} " in line)
        inside = line.split("input=")[1]
        if not inside.startswith("Append"):
            return inside, [0]
        pieces = inside.removeprefix("Append(").removesuffix(")").replace("Offset(", "").replace(")", "").split(", ")
        source, offsets, i = pieces[0], [], 0
        while i < len(pieces):
            moved = i + 1 < len(pieces) and pieces[i + 1].lstrip("-").isdigit()
            offsets.append(int(pieces[i + 1]) if moved else 0)
            i += 2 if moved else 1
        return source, offsets


def read_model(data: bytes) -> Model:
    assert data[:2] == b"\0B"
    kaldi = Kaldi(data, 2)
    kaldi.expect("<TransitionModel>", "<Topology>")
    kaldi.ints(), kaldi.ints()
    for _ in range(int(kaldi.number("i"))):
        for _ in range(int(kaldi.number("i"))):
            kaldi.number("i")
            for _ in range(int(kaldi.number("i"))):
                kaldi.number("i"), kaldi.number("f")
    kaldi.expect("</Topology>", "<Triples>")
    count = int(kaldi.number("i"))
    triples = [(int(kaldi.number("i")), int(kaldi.number("i")), int(kaldi.number("i"))) for _ in range(count)]
    kaldi.expect("</Triples>", "<LogProbs>")
    log_probs = kaldi.vector()
    kaldi.expect("</LogProbs>", "</TransitionModel>", "<Nnet3>")
    assert kaldi.line() == ""
    config = []
    while line := kaldi.line():
        config.append(line)
    kaldi.expect("<NumComponents>")
    parts = {}
    for _ in range(int(kaldi.number("i"))):
        kaldi.expect("<ComponentName>")
        name = kaldi.token()
        kind = kaldi.token()
        matrix = bias = np.zeros(0)
        if kind == "<FixedAffineComponent>":
            kaldi.expect("<LinearParams>")
            matrix = kaldi.matrix()
            kaldi.expect("<BiasParams>")
            bias = kaldi.vector()
        else:
            kaldi.expect("<Dim>")
            kaldi.number("i")
        while not kaldi.token().startswith("</"):
            if kaldi.data[kaldi.at : kaldi.at + 2] == b"FV":
                kaldi.vector()
            else:
                kaldi.number("f")
        parts[name] = (kind.strip("<>"), matrix, bias)
    kaldi.expect("</Nnet3>")
    return Model(triples, log_probs, config, parts)


def run(model: Model, features: np.ndarray) -> np.ndarray:
    """Log probabilities of every frame, the ends repeated, by the lines of the model's own configuration."""
    values: dict[str, np.ndarray] = {"input": features}

    def shifted(x: np.ndarray, by: int) -> np.ndarray:
        index = np.clip(np.arange(len(x)) + by, 0, len(x) - 1)
        return x[index]

    for line in model.config:
        if not line.startswith("component-node"):
            continue
        name = line.split("name=")[1].split()[0]
        kind, matrix, bias = model.parts[name]
        if kind == "NoOpComponent":
            a, b = line.split("Sum(")[1].rstrip(")").split(", ")
            values[name] = values[a] + values[b]
            continue
        source, offsets = model.offsets(name)
        x = np.concatenate([shifted(values[source], by) for by in offsets], 1)
        if kind == "FixedAffineComponent":
            values[name] = x @ matrix.T + bias
        elif kind == "RectifiedLinearComponent":
            values[name] = np.maximum(x, 0)
        else:
            assert kind == "LogSoftmaxComponent"
            top = x.max(1, keepdims=True)
            values[name] = x - top - np.log(np.exp(x - top).sum(1, keepdims=True))
    return values["log-softmax"]


def small_layers(rng: np.random.Generator) -> list[Affine]:
    return [
        Affine("first", "input", (-2, 0, 1), rng.standard_normal((5, 12)), rng.standard_normal(5)),
        Affine("wide", "first", (-3, 0, 3), rng.standard_normal((6, 15)), rng.standard_normal(6), rectify=True),
        Affine("block", "wide", (0,), rng.standard_normal((5, 6)), rng.standard_normal(5), add="first"),
        Affine("last", "block", (0,), rng.standard_normal((4, 5)), rng.standard_normal(4)),
    ]


@pytest.fixture(scope="module")
def layers() -> list[Affine]:
    return small_layers(np.random.default_rng(3))


@pytest.fixture(scope="module")
def model(layers: list[Affine]) -> Model:
    return read_model(final_mdl(layers, phones=4, inputs=4, left=5, right=4))


def test_matrices_come_back_within_half_a_step(layers: list[Affine], model: Model) -> None:
    for layer, name in zip(layers, ("first", "wide-affine", "block-affine", "last"), strict=True):
        _, matrix, bias = model.parts[name]
        ranked, rows = np.sort(layer.matrix, axis=0), len(layer.matrix)
        marks = ranked[[0, rows // 4, rows - 1 - rows // 4, rows - 1]]
        step = (np.diff(marks, axis=0) / np.array([[64], [128], [63]])).max(0)  # the widest of each column
        assert (np.abs(matrix - layer.matrix) <= 0.51 * step + np.ptp(layer.matrix) / 65535).all()
        assert bias == pytest.approx(layer.bias, abs=1e-6)


@pytest.mark.parametrize("values", [np.zeros((3, 2)), np.ones((1, 4)), np.array([[1.0, -2.0], [1.0, 5.0]])])
def test_matrices_without_spread_come_back_too(values: np.ndarray) -> None:
    found = Kaldi(matrix(values)).matrix()
    assert found == pytest.approx(values, abs=1e-3 * max(1.0, np.ptp(values)))


def test_transition_ids_are_those_of_the_graphs(model: Model) -> None:
    assert model.triples == [(1, 0, 0), (2, 0, 1), (2, 1, 0), (3, 0, 2), (3, 1, 0), (4, 0, 3), (4, 1, 0)]
    assert len(model.log_probs) == 1 + 2 + 3 * 5
    # the moves out of each state are certain together
    for first, size in ((1, 2), (3, 3), (6, 2), (8, 3), (11, 2)):
        assert np.exp(model.log_probs[first : first + size]).sum() == pytest.approx(1.0, abs=1e-6)


def test_numbers_by_the_file_are_those_by_hand(layers: list[Affine], model: Model) -> None:
    features = np.random.default_rng(5).standard_normal((20, 4))
    names = ("first", "wide-affine", "block-affine", "last")
    w = [model.parts[name][1] for name in names]  # as rounded in the file, which the test above holds to the exact ones

    def at(x: np.ndarray, t: int) -> np.ndarray:
        return x[min(max(t, 0), len(x) - 1)]

    first = np.stack(
        [w[0] @ np.concatenate([at(features, t + o) for o in (-2, 0, 1)]) + layers[0].bias for t in range(20)]
    )
    wide = np.stack(
        [
            np.maximum(w[1] @ np.concatenate([at(first, t + o) for o in (-3, 0, 3)]) + layers[1].bias, 0)
            for t in range(20)
        ]
    )
    block = first + wide @ w[2].T + layers[2].bias
    last = block @ w[3].T + layers[3].bias
    wanted = last - np.log(np.exp(last).sum(1, keepdims=True))
    assert run(model, features) == pytest.approx(wanted, rel=1e-3, abs=2e-3)


def test_probabilities_add_up(model: Model) -> None:
    out = run(model, np.random.default_rng(6).standard_normal((9, 4)))
    assert np.exp(out).sum(1) == pytest.approx(np.ones(9))


def test_the_same_layers_give_the_same_bytes(layers: list[Affine]) -> None:
    assert final_mdl(layers, phones=4, inputs=4, left=5, right=4) == final_mdl(
        layers, phones=4, inputs=4, left=5, right=4
    )


def test_the_network_gives_the_same_numbers_as_its_file() -> None:
    torch = pytest.importorskip("torch", reason="optional: needs the extra train")
    from speech.fitting.network import INPUT, LEFT, RIGHT
    from speech.lexicon import PHONES
    from speech.training import export
    from speech.training.network import Net

    torch.manual_seed(1)
    net = Net(len(PHONES)).eval()
    for name, value in net.state_dict().items():  # as after training: nothing left at its first value
        if "running" in name or name in ("mean", "scale"):
            value.copy_(torch.rand_like(value) + 0.5)
    file = read_model(final_mdl(export.layers(net), phones=len(PHONES), inputs=INPUT, left=LEFT, right=RIGHT))
    features = np.random.default_rng(2).standard_normal((1, 480, INPUT)) * 3
    with torch.no_grad():
        wanted = net(torch.from_numpy(features).float())[0].numpy()
    inner = slice(LEFT // 3 + 1, -RIGHT // 3 - 1)  # the reader repeats the ends of every layer, the network the sound's
    assert len(wanted[inner]) > 100
    assert run(file, features[0])[::3][inner] == pytest.approx(wanted[inner], abs=0.05)  # weights are rounded to 8 bits


def test_a_finished_model_comes_back_to_be_trained_on(tmp_path: Path) -> None:
    torch = pytest.importorskip("torch", reason="optional: needs the extra train")
    from speech.fitting.network import INPUT, LEFT, RIGHT
    from speech.graph import MODEL
    from speech.training import export, shipped

    net = shipped.net_of(MODEL, dropout=0.1)
    features = np.random.default_rng(3).standard_normal((1, 480, INPUT)) * 3
    with torch.no_grad():
        found = net(torch.from_numpy(features).float())[0].numpy()
    inner = slice(LEFT // 3 + 1, -RIGHT // 3 - 1)
    by_hand = run(read_model((MODEL / "am/final.mdl").read_bytes()), features[0])[::3][inner]
    assert found[inner] == pytest.approx(by_hand, abs=1e-3)
    export.write(net, tmp_path)
    again = shipped.net_of(tmp_path)
    with torch.no_grad():
        assert again(torch.from_numpy(features).float())[0].numpy() == pytest.approx(found, abs=0.1)


def test_the_network_to_be_fitted_gives_the_numbers_of_its_file() -> None:
    from speech.fitting.fit import network_of
    from speech.fitting.network import INPUT, LEFT, RIGHT
    from speech.graph import MODEL

    data = (MODEL / "am/final.mdl").read_bytes()
    net = network_of(data)
    features = np.random.default_rng(3).standard_normal((480, INPUT)) * 3
    inner = slice(LEFT // 3 + 1, -RIGHT // 3 - 1)  # the reader repeats the ends of every layer, the network the sound's
    found, _ = net.after(net.before(features), 160)
    assert found[inner] == pytest.approx(run(read_model(data), features)[::3][inner], abs=1e-3)


def test_a_file_that_is_no_network_of_ours_is_refused(tmp_path: Path) -> None:
    from speech.fitting import model_file
    from speech.graph import MODEL

    with pytest.raises(ValueError, match="not a network of ours"):
        model_file.affine_parts(b"\0B<TransitionModel> ")
    whole = (MODEL / "am/final.mdl").read_bytes()
    at = whole.index(b"<BiasParams>")
    with pytest.raises(ValueError, match="behind its matrix"):
        model_file.affine_parts(whole[:at] + b"x" + whole[at:])


def test_features_are_those_of_kaldi() -> None:
    torch = pytest.importorskip("torch", reason="optional: needs the extra train")
    kaldi = pytest.importorskip("kaldi_native_fbank", reason="optional: needs the extra train")
    from speech.fitting import features
    from speech.training.features import mfcc

    options = kaldi.MfccOptions()
    options.frame_opts.dither = 0
    options.mel_opts.num_bins, options.mel_opts.low_freq, options.mel_opts.high_freq = 40, 20, 7600
    options.num_ceps, options.use_energy = 40, False
    sound = np.round(np.random.default_rng(4).standard_normal(16000) * 3000).astype(np.float32)
    reference = kaldi.OnlineMfcc(options)
    reference.accept_waveform(16000, sound.tolist())
    reference.input_finished()
    wanted = np.stack([reference.get_frame(i) for i in range(reference.num_frames_ready)])
    assert mfcc(torch.from_numpy(sound)[None])[0].numpy() == pytest.approx(wanted, abs=1e-3)
    assert features.mfcc(sound) == pytest.approx(wanted, abs=1e-3)


def test_a_finished_model_whose_norms_are_renewed_hears_the_same_in_use_and_while_it_learns() -> None:
    torch = pytest.importorskip("torch", reason="optional: needs the extra train")
    from speech.fitting.network import INPUT
    from speech.graph import MODEL
    from speech.training import shipped

    net = shipped.net_of(MODEL)
    features = torch.from_numpy(np.random.default_rng(5).standard_normal((4, 240, INPUT)) * 5).float()
    with torch.no_grad():
        before = net(features)
        shipped.renew_norms(net, features)
        assert net(features).numpy() == pytest.approx(before.numpy(), abs=0.01)
        assert net.train()(features).numpy() == pytest.approx(before.numpy(), abs=0.01)


def test_nets_are_averaged_weight_by_weight() -> None:
    torch = pytest.importorskip("torch", reason="optional: needs the extra train")
    from speech.training.average import mean

    one, other = ({"w": torch.tensor([1.0, 3.0]).half(), "n": torch.tensor(7)} for _ in range(2))
    other["w"] = torch.tensor([3.0, -3.0]).half()
    assert mean([one, other])["w"].tolist() == [2.0, 0.0] and mean([one, other])["n"] == 7
