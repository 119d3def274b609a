"""Which clips go into a batch: single clips, clips one after the other, and strings of people's digits."""

import copy
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from random import Random

import numpy as np
import torch

from speech.lexicon import PHONES, pronounce
from speech.training.sound import RATE_HZ, Plan
from speech.training.voices import Clip, _read_wav

NUMBER = {phone: i for i, phone in enumerate(PHONES)}
SPEAKERS = ("jackson", "nicolas", "george", "lucas")
WORDS = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"]
SHARES = {
    "human": 0.14,
    "digits": 0.12,
    "actors": 0.30,
    "neural": 0.26,
    "abroad": 0.07,
    "espeak": 0.05,
    "flite": 0.03,
    "festival": 0.03,
}
"""How often a row is of a kind; kinds that are not there leave their share to the others."""
LONGEST_S = 7.0
CLOSE_DB = (18.0, 22.0, 26.0, 30.0)
CLOSE_S = 0.06
"""Words said alone are cut at these levels under their peak, by so much of each end at most: recorders and gates take weak
beginnings and ends away."""
MOST_S = 12.0


def human_clips(folder: Path, speakers: Sequence[str]) -> list[Clip]:
    """Single digits of the named people; folder is the digits folder of the Free Spoken Digit Dataset."""
    clips = []
    for path in sorted(path for speaker in speakers for path in (folder / speaker).glob("*.wav")):
        digit, speaker, _ = path.stem.split("_")
        word = WORDS[int(digit)]
        clips.append(Clip(_read_wav(path), pronounce(word)[0], word, f"human {speaker}"))
    return clips


def closely(sound: np.ndarray) -> list[tuple[int, int]]:
    """Where a sound begins and ends [samples] when it is cut at each level of CLOSE_DB; sound int16 (samples)."""
    count = len(sound) // 80
    level = np.square(sound[: 80 * count].astype(np.float32)).reshape(count, 80).mean(1)
    peak = np.convolve(level, np.full(4, 0.25), "same").max()  # of 20 ms: a click is no word
    loud = [np.flatnonzero(level >= peak * 10 ** (-db / 10)) for db in CLOSE_DB]
    most = int(CLOSE_S * RATE_HZ)
    return [(min(80 * int(at[0]), most), max(80 * int(at[-1]) + 80, len(sound) - most)) for at in loud]


@dataclass(frozen=True)
class Row:
    """One utterance to make: segments (clip, gap before it [samples]) and their speaker's ratio."""

    segments: tuple[tuple[int, int], ...]
    ratio: float
    after: int  # samples of silence at the end
    silent: bool = False  # noise alone, nothing to be heard in it
    close: int | None = None  # which of CLOSE_DB its words were cut at


@dataclass(frozen=True)
class Drawn:
    """A batch as numbers, made in a process of its own: a plan, samples and labels of each row."""

    start: np.ndarray
    length: np.ndarray
    ratio: np.ndarray
    at: np.ndarray
    gain: np.ndarray
    longest: int
    samples: np.ndarray
    labels: np.ndarray
    label_sizes: np.ndarray

    def plan(self, device: torch.device) -> Plan:
        parts = (self.start, self.length, self.ratio, self.at, self.gain)
        start, length, ratio, at, gain = (torch.from_numpy(a).to(device, non_blocking=True) for a in parts)
        return Plan(start, length, ratio, at, gain, samples=self.longest)


class Batches:
    """Draws batches from the clips of all engines; the same seed draws the same plans."""

    def __init__(self, clips: Sequence[Clip], *, seed: int) -> None:
        self.rng = Random(seed)
        self.clips = [clip for clip in clips if 1600 < len(clip.sound) < LONGEST_S * RATE_HZ and clip.phones]
        self.labels = [[NUMBER[p] for p in clip.phones] for clip in self.clips]
        self.length = [len(clip.sound) for clip in self.clips]
        self.start = np.concatenate(([0], np.cumsum(self.length)[:-1])) + 8
        flat = np.concatenate([np.zeros(8, np.int16), *(clip.sound for clip in self.clips), np.zeros(8, np.int16)])
        self.store = torch.from_numpy(flat)
        level = [float(np.sqrt(np.mean(np.square(clip.sound.astype(np.float32))))) for clip in self.clips]
        self.gain = [2500.0 / max(one, 1.0) for one in level]
        self.kinds: dict[str, list[int]] = defaultdict(list)
        self.digits: dict[str, dict[str, dict[str, list[int]]]] = {"human": {}, "digits": {}}
        self.short: list[int] = []
        self.close: dict[int, list[tuple[int, int]]] = {}
        for i, clip in enumerate(self.clips):
            kind = clip.voice.split()[0]
            self.kinds[kind].append(i)
            if " " not in clip.text:
                self.close[i] = closely(clip.sound)
            if kind in self.digits:
                self.digits[kind].setdefault(clip.voice, {}).setdefault(clip.text, []).append(i)
            elif " " not in clip.text:
                self.short.append(i)

    def without_sound(self) -> "Batches":
        """What a drawing process needs, small enough to be sent to it."""
        other = copy.copy(self)
        other.store, other.clips = torch.zeros(0), []
        return other

    def _row(self) -> Row:
        rng = self.rng
        names = [name for name in SHARES if self.kinds[name]]
        kind = rng.choices(names, [SHARES[name] for name in names])[0]
        before = 0 if rng.random() < 0.12 else int(rng.expovariate(1 / 0.25) * RATE_HZ)
        after = int(rng.uniform(0.0, 0.6) * RATE_HZ)
        picks = self._people(kind) if kind in self.digits else [rng.choice(self.kinds[kind])]
        if kind not in self.digits and rng.random() < 0.06 and self.length[picks[0]] < 4 * RATE_HZ:
            picks.append(rng.choice(self.kinds[kind]))
        mean = rng.choice((0.02, 0.05, 0.12, 0.3))
        gaps = [min(before, 24000)] + [int(min(rng.expovariate(1 / mean), 1.2) * RATE_HZ) for _ in picks[1:]]
        if rng.random() < 0.25:  # run together: the next word begins before the last has died
            gaps = gaps[:1] + [-int(rng.uniform(0, 0.05) * RATE_HZ) for _ in picks[1:]]
        spread = 0.10 if kind == "human" else 0.08
        ratio = float(np.exp(np.clip(rng.gauss(0, spread), -0.25, 0.25)))
        close = rng.randrange(len(CLOSE_DB)) if rng.random() < (0.4 if kind in self.digits else 0.2) else None
        return Row(tuple(zip(picks, gaps, strict=True)), ratio, after, silent=rng.random() < 0.015, close=close)

    def _people(self, kind: str) -> list[int]:
        """A string of digits said one by one by one voice, at times with a synthetic word such as "point" in it."""
        rng = self.rng
        digits = rng.choice(list(self.digits[kind].values()))
        said = list(digits)  # a set cut short by the clock lacks some
        picks = [rng.choice(digits[rng.choice(said)]) for _ in range(rng.choice((1, 2, 3, 4, 4, 4, 5, 6, 7)))]
        if self.short and rng.random() < 0.2:
            picks.insert(rng.randrange(len(picks) + 1), rng.choice(self.short))
        return picks

    def draws(self, seconds: float) -> Iterator[Drawn]:
        """Batches of about so many seconds for ever, rows of like length together."""
        while True:
            rows = sorted((self._row() for _ in range(int(4 * seconds))), key=self._samples)
            groups: list[list[Row]] = [[]]
            for row in rows:
                if (len(groups[-1]) + 1) * self._samples(row) > seconds * RATE_HZ and len(groups[-1]) >= 16:
                    groups.append([])
                groups[-1].append(row)
            self.rng.shuffle(groups)
            yield from (self._plan(group) for group in groups)

    def _samples(self, row: Row) -> int:
        """About how long a row is: each word's own ratio moves it by a few hundredths."""
        kept = ((*self._kept(i, row), gap) for i, gap in row.segments)
        return sum(int((last - first) / row.ratio) + gap for first, last, gap in kept) + row.after

    def _kept(self, i: int, row: Row) -> tuple[int, int]:
        return self.close[i][row.close] if row.close is not None and i in self.close else (0, self.length[i])

    def _plan(self, rows: Sequence[Row]) -> Drawn:
        columns = max(len(row.segments) for row in rows)
        far = 10**9
        start, length = np.zeros((2, len(rows), columns), np.int64)
        at = np.full((len(rows), columns), far, np.int64)
        ratio, gain = np.ones((2, len(rows), columns), np.float32)
        samples = np.zeros(len(rows), np.int64)
        for y, row in enumerate(rows):
            time = before = 0
            for x, (i, gap) in enumerate(row.segments):
                own = row.ratio * float(np.exp(self.rng.gauss(0, 0.02)))
                time += max(gap, -before // 2)  # a word never hides more than half of the one before
                first, last = self._kept(i, row)
                start[y, x], length[y, x], at[y, x], ratio[y, x] = self.start[i] + first, last - first, time, own
                gain[y, x] = 0.0 if row.silent else self.gain[i] * 10 ** (self.rng.gauss(0, 1.5) / 20)
                before = int((last - first) / own)
                time += before
            samples[y] = min(time + row.after, int(MOST_S * RATE_HZ))
        labels = [[] if row.silent else [n for i, _ in row.segments for n in self.labels[i]] for row in rows]
        longest = -(-max(int(samples.max()), RATE_HZ) // 4096) * 4096  # few lengths, so that memory is found again
        flat = np.array([n for label in labels for n in label], np.int32)
        return Drawn(start, length, ratio, at, gain, longest, samples, flat, np.array([len(label) for label in labels]))
