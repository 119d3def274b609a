"""Recordings of people to measure with; nobody here but the four of the digits' folder was ever trained on.

The Free Spoken Digit Dataset (CC BY-SA 4.0) is given as a folder. Debian's asterisk-core-sounds-en-wav (CC BY-SA 3.0)
has one woman's numbers and sentences, its pocketsphinx-testdata a digit string, card names and a reader's sentences.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from random import Random

import numpy as np

from speech.training import texts, voices
from speech.training.noises import RATE_HZ
from speech.training.voices import trimmed

ANNOUNCER = Path("/usr/share/asterisk/sounds/en_US_f_Allison")
OTHERS = Path("/usr/share/pocketsphinx/test/data")
NUMBERED = {word: str(i) for i, word in enumerate((*texts.DIGITS, *texts.TEENS))} | {
    word: str(10 * i) for i, word in enumerate(texts.TENS, 2)
}
_NAMED = {"oh": "oh", "hundred": "hundred", "thousand": "thousand", "minus": "minus"}


@dataclass(frozen=True)
class Said:
    """One call-out: who, the words, the sound at 16 kHz. No words: nothing is to be heard in it."""

    who: str
    words: str
    sound: np.ndarray


def strings(who: str, takes: dict[str, list[np.ndarray]], texts_: Iterator[list[str]], rng: Random) -> Iterator[Said]:
    """Words of one person put together at like levels with short gaps."""
    for words in texts_:
        parts: list[np.ndarray] = []
        for word in words:
            take = rng.choice(takes[word])
            level = np.sqrt(np.mean(take.astype(np.float64) ** 2))
            parts += [np.round(take * (2500 / max(level, 1.0))).clip(-32767, 32767).astype(np.int16)]
            parts += [np.zeros(int(rng.uniform(0.03, 0.20) * RATE_HZ), np.int16)]
        yield Said(who, " ".join(words), np.concatenate(parts))


def _drawn(draw: Callable[[Random], list[str]], count: int, rng: Random) -> Iterator[list[str]]:
    return (draw(rng) for _ in range(count))


def _four_digits(rng: Random) -> list[str]:
    return rng.choices(texts.DIGITS, k=4)


def digits(folder: Path, speaker: str, count: int, *, seed: int) -> Iterator[Said]:
    """Strings of four of one person's single digits."""
    takes: dict[str, list[np.ndarray]] = {word: [] for word in texts.DIGITS}
    for path in sorted((folder / speaker).glob("*.wav")):
        takes[texts.DIGITS[int(path.stem.split("_")[0])]].append(voices._read_wav(path))
    rng = Random(seed)
    return strings(f"person {speaker}", takes, _drawn(_four_digits, count, rng), rng)


def announcer(count: int, *, seed: int, whole_numbers: bool = False) -> Iterator[Said]:
    """Four digits, or numbers such as "two hundred fifty" and "minus nineteen", by one woman; one take a word."""
    if not ANNOUNCER.exists():
        return iter(())
    names = {**NUMBERED, **_NAMED} if whole_numbers else {word: NUMBERED[word] for word in texts.DIGITS}
    takes = {word: [voices._read_wav(ANNOUNCER / "digits" / f"{name}.wav")] for word, name in names.items()}
    rng = Random(seed)
    return strings("person announcer", takes, _drawn(_whole if whole_numbers else _four_digits, count, rng), rng)


def _whole(rng: Random) -> list[str]:
    """A whole number of two words or more that needs neither "a" nor "and"."""
    while True:
        number = texts.natural(
            rng.choice((rng.randrange(20, 100), rng.randrange(100, 1000), rng.randrange(1000, 20000))), rng
        )
        if len(number) > 1 and not {"a", "and"} & set(number):
            return ["minus", *number] if rng.random() < 0.15 else number


def single_strings() -> Iterator[Said]:
    """The two call-outs of digits in pocketsphinx-testdata."""
    spoken = {"tidigits/dhd.2934z.raw": "two nine three four zero", "cards/004.wav": "five five"}
    for name, words in spoken.items():
        if (OTHERS / name).exists():
            yield Said("person dhd" if "dhd" in name else "person cards", words, _raw_or_wav(OTHERS / name))


def talk() -> Iterator[Said]:
    """Sentences of people that are no reading, a second or longer."""
    for who, paths in (
        ("person announcer", sorted(ANNOUNCER.glob("*.wav"))),
        ("person reader", sorted((OTHERS / "librivox").glob("*.wav"))),
        ("person cards", [path for path in sorted((OTHERS / "cards").glob("*.wav")) if path.stem != "004"]),
        ("person dhd", [OTHERS / "goforward.raw", OTHERS / "something.raw"]),
    ):
        for path in paths:
            if path.exists() and len(sound := _raw_or_wav(path)) > RATE_HZ and "tone" not in path.stem:
                yield Said(who, "", sound[: 6 * RATE_HZ])


def _raw_or_wav(path: Path) -> np.ndarray:
    return trimmed(np.fromfile(path, "<i2")) if path.suffix == ".raw" else voices._read_wav(path)
