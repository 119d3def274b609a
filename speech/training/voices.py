"""Synthetic voices to train on and to measure with: espeak-ng, flite, festival and a neural one.

A clip is a sentence as 16 kHz sound with the phones that were said. Voices of the engine piper and
festival's ked are for measuring only and never appear here.
"""

import functools
import json
import shutil
import subprocess
import tempfile
import wave
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from random import Random

import numpy as np
import soxr

from speech.lexicon import pronounce
from speech.training.espeak import RATE_HZ as ESPEAK_HZ
from speech.training.espeak import Espeak

RATE_HZ = 16000

ACCENTS = (
    "en-us", "en-us", "en-us", "en", "en", "en-gb-x-rp", "en-gb-scotland", "en-gb-x-gbclan", "en-gb-x-gbcwmd", "en-029",
    "en-us-nyc",
)  # fmt: skip
VARIANTS = [
    "Alex", "Alicia", "Andrea", "Andy", "Annie", "AnxiousAndy", "Denis", "Diogo", "Gene", "Gene2", "Henrique",
    "Hugo", "Jacky", "Lee", "Marco", "Mario", "Michael", "Mike", "Nguyen", "RicishayMax", "RicishayMax2",
    "RicishayMax3", "Storm", "Tweaky", "adam", "anika", "announcer", "antonio", "aunty", "belinda", "benjamin",
    "boris", "caleb", "david", "ed", "edward", "edward2", "f1", "f2", "f3", "f4", "f5", "fast", "grandma",
    "grandpa", "gustave", "iven", "iven2", "iven3", "iven4", "john", "kaukovalta", "klatt", "klatt2", "klatt3",
    "klatt4", "klatt5", "klatt6", "linda", "m1", "m2", "m3", "m4", "m5", "m6", "m7", "m8", "marcelo", "max",
    "michel", "miguel", "norbert", "pablo", "paul", "pedro", "quincy", "rob", "robert", "sandro", "shelby",
    "steph", "steph2", "steph3", "travis", "victor", "whisper", "zac",
]  # fmt: skip
FLITE = ("kal", "kal16", "awb", "rms", "slt")
FESTIVAL = ("kal_diphone", "cmu_us_slt_arctic_hts")
"""Voices of festival to train on; ked is kept for measuring."""

SPELLING = {
    "psi": "p s i", "rpm": "r p m", "x-ray": "x ray", "el": "ell", "kilohm": "kill ohm", "kilohms": "kill ohms", "alfa": "alpha",
    "b": "bee", "c": "see", "d": "dee", "e": "ee", "f": "eff", "g": "gee", "h": "aitch", "j": "jay", "k": "kay", "l": "ell",
    "m": "em", "n": "en", "o": "oh", "p": "pea", "q": "cue", "r": "are", "s": "ess", "t": "tea", "u": "you", "v": "vee",
    "w": "double you", "x": "ex", "y": "why", "z": "zee", "juliett": "juliet",
}  # fmt: skip
"""What a synthesiser is given so that it says the word."""

RADIO = {"five": "fife", "three": "tree", "four": "foe er", "thousand": "tousand"}
RADIO_PHONES = {
    "five": ("F", "AY", "F"), "three": ("T", "R", "IY"), "four": ("F", "OW", "ER"), "thousand": ("T", "AW", "Z", "AH", "N", "D"),
}  # fmt: skip


@dataclass(frozen=True)
class Clip:
    """One utterance: int16 sound at RATE_HZ, the phones in it, its words and the voice."""

    sound: np.ndarray
    phones: tuple[str, ...]
    text: str
    voice: str


def nearest(word: str, heard: Sequence[str]) -> tuple[str, ...]:
    """The lexicon's way of saying a word that is nearest to what the synthesiser says."""
    return min(pronounce(word), key=lambda way: _distance(way, heard))


def _distance(a: Sequence[str], b: Sequence[str]) -> int:
    row = list(range(len(b) + 1))
    for i, x in enumerate(a, 1):
        row, old = [i], row
        for j, y in enumerate(b, 1):
            row.append(min(old[j] + 1, row[-1] + 1, old[j - 1] + (x != y)))
    return row[-1]


def to_rate(sound: np.ndarray, rate_hz: int) -> np.ndarray:
    """Sound at RATE_HZ, int16."""
    if rate_hz != RATE_HZ:
        sound = soxr.resample(np.asarray(sound, np.float64), rate_hz, RATE_HZ)
    return np.clip(np.round(sound), -32768, 32767).astype(np.int16)


def trimmed(sound: np.ndarray, *, keep_s: float = 0.03) -> np.ndarray:
    """Sound without the near silence (40 dB under the peak) at both ends."""
    level = np.abs(sound.astype(np.float32))
    loud = np.flatnonzero(level > 0.01 * max(float(level.max(initial=0)), 1.0))
    keep = int(keep_s * RATE_HZ)
    return sound[max(0, loud[0] - keep) : loud[-1] + keep] if len(loud) else sound[:0]


def _spelt(words: Sequence[str], rng: Random, *, radio: float) -> tuple[str, list[str]]:
    """Text for a synthesiser, with a pause here and there, and what stands for each word in it."""
    parts = [RADIO[word] if word in RADIO and rng.random() < radio else SPELLING.get(word, word) for word in words]
    pause = rng.choices((0.0, 0.12, 0.5, 1.0), (60, 20, 10, 10))[0]
    text = "".join(part + (", " if rng.random() < pause else " ") for part in parts)
    return text.strip(" ,"), parts


@functools.cache
def _espeak() -> Espeak:
    return Espeak()


@functools.cache
def _phones_in(accent: str, word: str, part: str) -> tuple[str, ...]:
    if part in RADIO.values():
        return RADIO_PHONES[word]
    if word == "a":  # said by itself it is the letter, which it never is in a reading
        return ("AH",)
    engine = _espeak()
    if not engine.choose(accent):  # asked for phones without a voice, the library dies
        raise LookupError(f"espeak-ng has no voice {accent}")
    return nearest(word, engine.phones(part))


def _labels(accent: str, words: Sequence[str], parts: Sequence[str]) -> tuple[str, ...]:
    return tuple(phone for word, part in zip(words, parts, strict=True) for phone in _phones_in(accent, word, part))


def espeak_clip(said: Sequence[str] | str, rng: Random) -> Clip | None:
    """Words (or a sentence of other talk) by a random espeak-ng voice."""
    accent, variant = rng.choice(ACCENTS), rng.choice(VARIANTS)
    if isinstance(said, str):
        accent = "en-us"
        text, phones = said, tuple[str, ...]()
    else:
        text, parts = _spelt(said, rng, radio=0.04)
        phones = _labels(accent, said, parts)
    engine = _espeak()
    voice = f"{accent}+{variant}"
    if not engine.choose(
        voice, words_per_minute=rng.randrange(115, 225), pitch=rng.randrange(15, 85), spread=rng.randrange(15, 80)
    ):
        return None
    sound = trimmed(to_rate(engine.say(text), ESPEAK_HZ))
    if isinstance(said, str):
        phones = tuple(engine.phones(said))
    return Clip(sound, phones, said if isinstance(said, str) else " ".join(said), f"espeak {voice}")


def _american(said: Sequence[str] | str, rng: Random) -> tuple[str, tuple[str, ...], str]:
    """Text, phones and words for an engine that speaks American only."""
    engine = _espeak()
    if isinstance(said, str):
        engine.choose("en-us")
        return said, tuple(engine.phones(said)), said
    text, parts = _spelt(said, rng, radio=0.04)
    return text, _labels("en-us", said, parts), " ".join(said)


def _read_wav(path: Path) -> np.ndarray:
    with wave.open(str(path)) as wav:
        sound = np.frombuffer(wav.readframes(wav.getnframes()), "<i2")
        return trimmed(to_rate(sound, wav.getframerate()))


def phones_of(word: str) -> tuple[str, ...]:
    """Phones of any English word, as espeak-ng says it in American."""
    engine = _espeak()
    engine.choose("en-us")
    return tuple(engine.phones(word))


def flite_clip(said: Sequence[str] | str, rng: Random) -> Clip | None:
    """Words by one of flite's five voices."""
    text, phones, words = _american(said, rng)
    voice = rng.choice(FLITE)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "a.wav")
        stretch = f"duration_stretch={rng.uniform(0.75, 1.35):.2f}"
        command = ["flite", "-voice", voice, "--setf", stretch, "-t", text, "-o", str(path)]
        subprocess.run(command, check=True, capture_output=True, timeout=30)
        return Clip(_read_wav(path), phones, words, f"flite {voice}")


def festival_clips(many: Sequence[Sequence[str] | str], rng: Random) -> list[Clip]:
    """A batch of sentences by one festival voice: the program takes a second to start."""
    voice = rng.choice(FESTIVAL)
    told = [_american(said, rng) for said in many]
    with tempfile.TemporaryDirectory() as folder:
        lines = [f"(voice_{voice})"]
        for i, (text, _, _) in enumerate(told):
            lines.append(f"(Parameter.set 'Duration_Stretch {rng.uniform(0.75, 1.3):.2f})")
            said = text.replace('"', "")
            lines.append(f'(utt.save.wave (utt.synth (Utterance Text "{said}")) "{folder}/{i}.wav" (quote riff))')
        script = Path(folder, "all.scm")
        script.write_text("\n".join(lines))
        subprocess.run(["festival", "--batch", str(script)], check=False, capture_output=True, timeout=300)
        found = [(Path(folder, f"{i}.wav"), one) for i, one in enumerate(told)]
        return [Clip(_read_wav(path), one[1], one[2], f"festival {voice}") for path, one in found if path.exists()]


def have_flite() -> bool:
    return shutil.which("flite") is not None


def have_festival() -> bool:
    return shutil.which("festival") is not None


def save(clips: Sequence[Clip], stem: Path) -> None:
    """Clips as one flat sound file and one list; loaded again by `load`."""
    lengths = [len(clip.sound) for clip in clips]
    flat = np.concatenate([clip.sound for clip in clips]) if clips else np.zeros(0, np.int16)
    rows = [[n, " ".join(c.phones), c.text, c.voice] for n, c in zip(lengths, clips, strict=True)]
    np.save(stem.with_suffix(".part.npy"), flat)
    stem.with_suffix(".json").write_text(json.dumps(rows))
    stem.with_suffix(".part.npy").rename(stem.with_suffix(".npy"))


def load(stem: Path) -> list[Clip]:
    flat = np.load(stem.with_suffix(".npy"))
    clips, at = [], 0
    for length, phones, text, voice in json.loads(stem.with_suffix(".json").read_text()):
        clips.append(Clip(flat[at : at + length], tuple(phones.split()), text, voice))
        at += length
    return clips
