"""Ten call-outs of one person, and the words that were asked for -> biases under which the network hears that person better.

The words must be known: whoever fits to what was heard learns its own errors. Only biases move, so that ten call-outs
cannot undo what the network knows of everybody else; each call-out is varied, so that it is the voice that is learned
and not the room.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from speech.fitting.ctc import ctc
from speech.fitting.features import HOP, RATE_HZ, mfcc
from speech.fitting.model_file import affine_parts
from speech.fitting.network import STEP, Network
from speech.levels import speech_levels
from speech.lexicon import PHONES, pronounce
from speech.recogniser import HISS_DB
from speech.sound import Sound

ASKED = (
    "four point nine eight volts", "zero point three five volts", "one two point six volts", "seven four five millivolts",
    "three point one kilohms", "six eight zero ohms", "nine seven one hertz", "two point one seven volts",
    "five two four ohms", "eight nine point zero kilopascals",
)  # fmt: skip
"""Every digit two to five times, and the units that are called most."""
VERSIONS = 4
"""Of each call-out, one after the other: other noise, tempo and throat in each."""
STEPS, RATE, WARM = 20, 5e-3, 5
"""Steps of Adam and their highest rate, chosen with two people left out of training (see the model's card)."""
TICKS = 2 * STEPS
NOISE_DB, JUDGED_DB = (8.0, 25.0), (4.0, 10.0)
"""How far under the voice the noise lies that is fitted in, and that a fit is judged in: where it is quiet, a voice that is
heard well has nothing to gain, and the judgement would be chance (piper joe: 0.080 to 0.087 there, 0.440 to 0.426 here)."""
STRANGE = 1.4
"""Of four people left out of training, 96 strings of four digits: all but 1 at most 1.4 when the words are right, all but 10
above when one of the four is wrong, all above when all are."""
_NUMBER = {phone: i for i, phone in enumerate(PHONES)}


@dataclass(frozen=True)
class Call:
    """What somebody said, int16 at 16 kHz, and the words they were asked to say."""

    samples: np.ndarray
    words: tuple[str, ...]


@dataclass(frozen=True)
class Fit:
    """Biases by part of the network, and the loss of a phone [natural log] of call-outs that were left out of a first fit,
    in loud noise, before it and after: less means heard better."""

    biases: dict[str, np.ndarray]
    before: float
    after: float

    @property
    def helps(self) -> bool:
        """Whether call-outs that were not fitted to are heard better."""
        return self.after < self.before


@dataclass(frozen=True)
class _Version:
    """A call-out as the slow blocks get it, with its frames and phones."""

    inner: np.ndarray
    frames: int
    phones: Sequence[int]


def network_of(model: bytes) -> Network:
    """The network of am/final.mdl. Raises ValueError for one that is not ours."""
    return Network(affine_parts(model))


def strangeness(net: Network, call: Call) -> float:
    """Loss of a phone [natural log] of the words asked for; above STRANGE something else was said."""
    one = _version(net, call, np.random.default_rng(0))
    return ctc(net.after(one.inner, one.frames)[0], one.phones)[0] / len(one.phones)


def fit(net: Network, calls: Sequence[Call], *, seed: int = 1, tick: Callable[[], object] = lambda: None) -> Fit:
    """Biases fitted to the calls, after a first fit to every second of them has been tried on the others in loud noise.

    tick: called after every step, of which there are TICKS. Raises ValueError for fewer than two calls.
    """
    if len(calls) < 2:
        raise ValueError(f"{len(calls)} call-outs to fit to; two or more are needed")
    rng = np.random.default_rng(seed)
    versions = [[_version(net, call, rng) for call in calls] for _ in range(VERSIONS)]
    others = [_version(net, call, rng, noise_db=JUDGED_DB, noisy=1.0) for _ in range(VERSIONS) for call in calls[1::2]]
    tried = _fitted(net, [version[::2] for version in versions], tick)
    before, after = (_loss(one, others)[0] for one in (net, tried))
    return Fit(_fitted(net, versions, tick).moving, before, after)


def _fitted(net: Network, versions: Sequence[Sequence[_Version]], tick: Callable[[], object]) -> Network:
    """A network of the same matrices, its biases moved by Adam (D. Kingma and J. Ba, 2015, algorithm 1)."""
    net = net.copy()
    mean, square = ({name: np.zeros_like(bias) for name, bias in net.moving.items()} for _ in range(2))
    for step in range(STEPS):
        _, slopes = _loss(net, versions[step % len(versions)])
        rate = RATE * min(1.0, (step + 1) / WARM, 2 * (STEPS - step) / STEPS)
        for name, slope in slopes.items():
            mean[name] += 0.1 * (slope - mean[name])
            square[name] += 0.001 * (slope**2 - square[name])
            ahead = mean[name] / (1 - 0.9 ** (step + 1))
            wide = np.sqrt(square[name] / (1 - 0.999 ** (step + 1))) + 1e-8
            net.biases[name] = (net.biases[name] - rate * ahead / wide).astype(np.float32)
        tick()
    return net


def _loss(net: Network, versions: Sequence[_Version]) -> tuple[float, dict[str, np.ndarray]]:
    """Mean loss of a phone over call-outs, and its slope along the biases that move."""
    total, slopes = 0.0, {name: np.zeros_like(bias) for name, bias in net.moving.items()}
    for one in versions:
        out, insides = net.after(one.inner, one.frames)
        loss, slope = ctc(out, one.phones)
        if not np.isfinite(loss):  # said too fast for its phones
            continue
        share = 1 / (len(one.phones) * len(versions))
        total += loss * share
        for name, along in net.moves((slope * share).astype(np.float32), insides).items():
            slopes[name] += along
    return total, slopes


def _version(
    net: Network,
    call: Call,
    rng: np.random.Generator,
    *,
    noise_db: tuple[float, float] = NOISE_DB,
    noisy: float = 0.5,
) -> _Version:
    hop, warp = HOP * float(np.exp(np.clip(rng.normal(0, 0.08), -0.22, 0.22))), float(np.exp(rng.normal(0, 0.04)))
    features = mfcc(_noised(call.samples, rng, noise_db, noisy), hop=hop, warp=warp)
    inner = net.before(features)
    frames = -(-len(features) // STEP)
    return _Version(inner, frames, phones_said(call.words, net.after(inner, frames)[0]))


def _noised(samples: np.ndarray, rng: np.random.Generator, noise_db: tuple[float, float], noisy: float) -> np.ndarray:
    """The call-out with a margin, on the hiss that the recogniser puts under it, and in a share of the cases with noise so
    far below it."""
    level_dbfs, _ = speech_levels(Sound(samples, RATE_HZ))
    level = 32768 * 10 ** (level_dbfs / 20)
    padded = np.pad(samples.astype(np.float32), round(0.3 * RATE_HZ))
    out = padded + level * 10 ** (-(HISS_DB + rng.uniform(-5, 5)) / 20) * rng.standard_normal(len(padded))
    if rng.random() < noisy:
        noise = np.convolve(rng.standard_normal(len(padded)), np.ones(int(rng.integers(1, 20))), "same")
        out = out + level * 10 ** (-rng.uniform(*noise_db) / 20) * noise / max(1e-9, float(np.sqrt(np.mean(noise**2))))
    return np.asarray(out, np.float32)


def phones_said(words: Sequence[str], log_probabilities: np.ndarray) -> list[int]:
    """Outputs of the network for the words, each said the way that fits best of those the lexicon has."""
    ways = [pronounce(word) for word in words]
    chosen = [way[0] for way in ways]

    def loss() -> float:
        return ctc(log_probabilities, [_NUMBER[phone] for way in chosen for phone in way])[0]

    for i, others in enumerate(ways):
        losses = []
        for chosen[i] in others:
            losses.append(loss() if len(others) > 1 else 0.0)
        chosen[i] = others[int(np.argmin(losses))]
    return [_NUMBER[phone] for way in chosen for phone in way]
