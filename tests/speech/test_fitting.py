"""Fitting the ears to a person: the loss against every path by hand, slopes against differences, files against their edges."""

from itertools import pairwise, product
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from speech.fitting import fit as fitting
from speech.fitting.ctc import ctc
from speech.fitting.fit import STRANGE, Call, fit, network_of, phones_said, strangeness
from speech.fitting.kept import NETWORK, fitted_model, keep
from speech.fitting.model_file import affine_parts, with_biases
from speech.graph import MODEL
from speech.lexicon import PHONES
from speech.ports import Heard
from speech.pyttsx3_voice import Synthesiser
from speech.recogniser import Recogniser
from speech.sound import Sound, resample

NAME = "block5-wide-affine"


def log_probabilities(seed: int, frames: int, outputs: int) -> np.ndarray:
    scores = np.random.default_rng(seed).standard_normal((frames, outputs)) * 2
    return scores - np.log(np.exp(scores).sum(1, keepdims=True))


@given(st.integers(0, 10**6), st.integers(1, 5), st.lists(st.integers(1, 3), max_size=3))
def test_the_loss_adds_up_every_path_there_is(seed: int, frames: int, labels: list[int]) -> None:
    given_ = log_probabilities(seed, frames, 4)
    total = 0.0
    for path in product(range(4), repeat=frames):
        kept = [path[0], *(b for a, b in pairwise(path) if a != b)]
        if [one for one in kept if one] == labels:
            total += np.exp(sum(given_[t, one] for t, one in enumerate(path)))
    loss, slope = ctc(given_, labels)
    if total == 0:
        assert loss == np.inf and not slope.any()
    else:
        assert loss == pytest.approx(-np.log(total))


@given(st.integers(0, 10**6), st.lists(st.integers(1, 4), min_size=1, max_size=4))
def test_the_slope_is_what_a_small_step_changes(seed: int, labels: list[int]) -> None:
    scores = np.random.default_rng(seed).standard_normal((12, 5))

    def loss_of(scores: np.ndarray) -> tuple[float, np.ndarray]:
        return ctc(scores - np.log(np.exp(scores).sum(1, keepdims=True)), labels)

    _, slope = loss_of(scores)
    step = np.random.default_rng(seed + 1).standard_normal(scores.shape)
    changed = (loss_of(scores + 1e-4 * step)[0] - loss_of(scores - 1e-4 * step)[0]) / 2e-4
    assert changed == pytest.approx(float((slope * step).sum()), rel=1e-3, abs=1e-5)


@pytest.fixture(scope="module")
def data() -> bytes:
    return (MODEL / NETWORK).read_bytes()


def test_biases_move_the_loss_as_their_slope_says(data: bytes) -> None:
    net = network_of(data)
    rng = np.random.default_rng(1)
    inner, labels = net.before(rng.standard_normal((90, 40)) * 3).astype(np.float64), [3, 9, 20]

    def loss() -> float:
        return ctc(net.after(inner, 30)[0], labels)[0]

    out, insides = net.after(inner, 30)
    moves = net.moves(ctc(out, labels)[1].astype(np.float32), insides)
    assert set(moves) == set(net.moving)
    for name in moves:
        was, step = net.biases[name], rng.standard_normal(len(moves[name]))
        ends = []
        for size in (1e-7, -1e-7):  # small enough that no rectifier changes sides between the two
            net.biases[name] = was + size * step
            ends.append(loss())
        net.biases[name] = was
        assert (ends[0] - ends[1]) / 2e-7 == pytest.approx(float(moves[name] @ step), rel=1e-3, abs=1e-3), name


def test_biases_are_put_into_the_file_and_nothing_else_changes(data: bytes) -> None:
    before = affine_parts(data)
    new = np.arange(len(before[NAME][1]), dtype=np.float32)
    after = affine_parts(with_biases(data, {NAME: new}))
    assert after[NAME][1].tolist() == new.tolist()
    for name, (matrix, bias) in before.items():
        assert np.array_equal(after[name][0], matrix)
        assert name == NAME or np.array_equal(after[name][1], bias)


@pytest.mark.parametrize(
    "biases", [{"block99": np.zeros(3)}, {NAME: np.zeros(3)}, {NAME: np.full(640, np.nan)}], ids=["name", "size", "nan"]
)
def test_biases_of_another_network_are_refused(data: bytes, biases: dict[str, np.ndarray]) -> None:
    with pytest.raises(ValueError, match=r"fitted to another network|a bias of"):
        with_biases(data, biases)


@pytest.mark.parametrize("left", [12, 5000, 500_000, -1000])
def test_a_network_cut_short_is_said_to_be(data: bytes, left: int) -> None:
    first = data.index(b" <LinearParams> CM ") + len(b" <LinearParams> CM ")
    cut = data[: first + left] if left > 0 else data[: data.rindex(b"<BiasParams>") + 40]
    with pytest.raises(ValueError, match=r"cut short|not a network of ours"):
        network_of(cut)


def test_a_fit_is_kept_for_its_model_only_and_a_broken_file_is_as_good_as_none(
    tmp_path: Path, monkeypatch, data
) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    bias = affine_parts(data)[NAME][1]
    file = tmp_path / "ears" / "a.npz"
    assert fitted_model(file, model=MODEL) is None
    keep(file, {NAME: bias + 1}, model=MODEL, whose="AT")
    made = fitted_model(file, model=MODEL)
    assert made is not None
    assert affine_parts((made / NETWORK).read_bytes())[NAME][1] == pytest.approx(bias + 1)
    assert fitted_model(file, model=made) is None, "fitted to another network"
    whole = file.read_bytes()
    for broken in (b"", b"x", whole[: len(whole) // 2], whole[:-30], whole[:200] + b"\0" * 50 + whole[250:]):
        file.write_bytes(broken)
        assert fitted_model(file, model=MODEL) is None


@given(st.binary(max_size=300))
def test_whatever_lies_there_is_no_traceback(tmp_path_factory, junk: bytes) -> None:
    file = tmp_path_factory.mktemp("fit") / "a.npz"
    file.write_bytes(b"PK\x03\x04" + junk)
    assert fitted_model(file, model=MODEL) is None


SAID = ("four point nine eight volts", "one two point six volts", "seven four five millivolts", "six eight zero ohms")


@pytest.fixture(scope="module")
def calls() -> list[Call]:
    with Synthesiser("en-us") as voice:
        sounds = [resample(voice.synthesise(text), 16000).samples for text in SAID]
    return [Call(np.pad(sound, 4000), tuple(text.split())) for sound, text in zip(sounds, SAID, strict=True)]


def test_who_says_something_else_is_told_from_who_says_what_was_asked(data: bytes, calls: list[Call]) -> None:
    net = network_of(data)
    for call in calls:
        assert strangeness(net, call) < STRANGE
    for call, other in pairwise(calls):
        assert strangeness(net, Call(call.samples, other.words)) > STRANGE


def test_a_word_is_taken_as_it_was_said() -> None:
    as_fife = log_probabilities(1, 20, len(PHONES)) - 5
    for t, phone in ((3, "F"), (7, "AY"), (11, "F")):
        as_fife[t, PHONES.index(phone)] = 0
    assert phones_said(["five"], as_fife) == [PHONES.index(phone) for phone in ("F", "AY", "F")]


def test_fitting_wants_call_outs(data: bytes, calls: list[Call]) -> None:
    with pytest.raises(ValueError, match="two or more"):
        fit(network_of(data), calls[:1])


def test_a_fit_moves_only_biases_and_tells_its_steps(data: bytes, calls: list[Call], monkeypatch) -> None:
    monkeypatch.setattr(fitting, "STEPS", 2)
    net, ticks = network_of(data), []
    found = fit(net, calls, tick=lambda: ticks.append(1))
    assert len(ticks) == 4
    assert set(found.biases) == set(net.moving)
    assert any(not np.array_equal(bias, net.biases[name]) for name, bias in found.biases.items()), (
        "and the net is as it was"
    )
    assert affine_parts(with_biases(data, found.biases))[NAME][1] == pytest.approx(found.biases[NAME])


@pytest.mark.slow
def test_a_voice_that_is_hard_to_hear_is_heard_better_and_others_as_well_as_before(
    data: bytes, tmp_path: Path, monkeypatch
) -> None:
    """A croaking Scot slowed to two thirds, as of a giant: nothing like it is in training."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    with Synthesiser("en-gb-scotland+croak") as voice:

        def giant(text: str) -> np.ndarray:
            slow = Sound(resample(voice.synthesise(text), 16000).samples, 11000)
            return np.pad(resample(slow, 16000).samples, 4000)

        fitted_to = [Call(giant(text), tuple(text.split())) for text in SAID]
        rng = np.random.default_rng(5)
        others = [" ".join(rng.choice(list(DIGITS), 5)) for _ in range(12)]
        unseen = [giant(text) for text in others]
    found = fit(network_of(data), fitted_to)
    assert found.helps
    file = tmp_path / "a.npz"
    keep(file, found.biases, model=MODEL, whose="AT")
    better = fitted_model(file, model=MODEL)
    assert better is not None
    right = []
    for model in (MODEL, better):
        ears = Recogniser(model)
        results = [ears.decode(Sound(sound, 16000), "digits") for sound in unseen]
        right.append(
            sum(isinstance(one, Heard) and one.words == said for one, said in zip(results, others, strict=True))
        )
    assert right[1] >= right[0]


DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
