"""Batches: weak ends cut where the sound was made weak, and plans that stay inside the clips whose labels they carry.

Clips are square waves of a height of their own, by which a piece of the store says whose it is.
"""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice, pairwise
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

torch = pytest.importorskip("torch", reason="optional: needs the extra train")
pytest.importorskip("soxr", reason="optional: needs the extra train")

from speech.lexicon import PHONES, pronounce  # noqa: E402
from speech.training.batches import CLOSE_DB, CLOSE_S, LONGEST_S, SHARES, WORDS, Batches, Drawn, closely  # noqa: E402
from speech.training.sound import RATE_HZ, NoiseBank, join, spoil  # noqa: E402
from speech.training.voices import Clip  # noqa: E402

BLOCK = 80
FAR = 10**9

counts = st.integers(1, 25)
weaker_db = st.sampled_from([d + 0.5 for d in range(1, 45)])


def hiss(blocks: int, height: float, seed: int = 0) -> np.ndarray:
    """Random signs of one height, whose mean square is the same in every block."""
    signs = np.random.default_rng(seed).choice((-1, 1), blocks * BLOCK)
    return (signs * round(height)).astype(np.int16)


def tone(blocks: int, height: float) -> np.ndarray:
    """1000 Hz, five whole waves a block."""
    return (height * np.sin(2 * np.pi * np.arange(blocks * BLOCK) / 16)).round().astype(np.int16)


@given(counts, st.integers(4, 25), counts, weaker_db, weaker_db, st.integers(0, BLOCK - 1))
def test_weak_ends_are_cut_at_the_levels_above_them(
    before: int, loud: int, after: int, before_db: float, after_db: float, rest: int
) -> None:
    root = 20000 / np.sqrt(2)
    weak, end = (root * 10 ** (-db / 20) for db in (before_db, after_db))
    sound = np.concatenate([hiss(before, weak), tone(loud, 20000), hiss(after, end), np.zeros(rest, np.int16)])
    most = int(CLOSE_S * RATE_HZ)
    wanted = [
        (
            0 if before_db < db else min(most, before * BLOCK),
            max(len(sound) - most, (before + loud + (after if after_db < db else 0)) * BLOCK),
        )
        for db in CLOSE_DB
    ]
    assert closely(sound) == wanted


def test_a_click_does_not_set_the_level() -> None:
    click = np.full(8, 32000, np.int16)
    sound = np.concatenate([tone(10, 3000), click, np.zeros(72, np.int16), tone(10, 3000)])
    assert closely(sound) == [(0, len(sound))] * len(CLOSE_DB)


def test_a_pause_inside_is_not_cut() -> None:
    sound = np.concatenate([tone(5, 9000), np.zeros(40 * BLOCK, np.int16), tone(3, 9000)])
    assert closely(sound) == [(0, 48 * BLOCK)] * len(CLOSE_DB)


@given(arrays.arrays(np.int16, st.integers(BLOCK, 2000)))
def test_what_is_left_is_something_and_grows_with_the_level(sound: np.ndarray) -> None:
    cuts = closely(sound)
    assert len(cuts) == len(CLOSE_DB)
    assert all(0 <= first < last <= len(sound) for first, last in cuts)
    assert all(b[0] <= a[0] and a[1] <= b[1] for a, b in pairwise(cuts))


@dataclass(frozen=True)
class Made:
    clip: Clip
    height: int
    spans: tuple[tuple[int, int], ...]
    """Where it may be cut, by level of CLOSE_DB, last: not cut."""


def made(number: int, voice: str, text: str, *, seconds: float = 0.3) -> Made:
    """Ends 20 dB and 28 dB under the middle, each of a length of its own."""
    height = 6000 + 40 * number
    before, after = 3 + number % 7, 4 + number % 5
    loud = int(seconds * RATE_HZ) // BLOCK + number % 11
    signs = np.where(np.arange(loud * BLOCK) % 16 < 8, 1, -1)
    parts = (
        hiss(before, height / 10 ** (20 / 20), number),
        signs * height,
        hiss(after, height / 10 ** (28 / 20), number),
    )
    sound = np.concatenate([*parts, np.zeros(1 + number % 79, int)]).astype(np.int16)
    cut = [(0 if db > 20 else before * BLOCK, (before + loud + (after if db > 28 else 0)) * BLOCK) for db in CLOSE_DB]
    whole = (0, len(sound))
    spans = (*cut, whole) if " " not in text else (whole,) * (len(CLOSE_DB) + 1)
    phones = tuple(phone for word in text.split() for phone in pronounce(word)[0])
    return Made(Clip(sound, phones, text, voice), height, spans)


SETS = ("human ann", "human bob", "digits espeak en 100 50", "digits abroad lp 7")
TEXTS = ("point", "minus", "seven point two", "one two three four")
SAID = [(voice, word, 0.3) for voice in SETS for word in (*WORDS, *WORDS)] + [
    (f"{kind} someone", TEXTS[turn % 4], 0.2 + 0.15 * turn)
    for turn in range(12)
    for kind in ("neural", "espeak", "abroad")
]
EVERY = [made(number, voice, text, seconds=seconds) for number, (voice, text, seconds) in enumerate(SAID)]
BY_HEIGHT = {one.height: one for one in EVERY}
CLIPS = [one.clip for one in EVERY]
SMALL = 16.0
"""Seconds of sound in a batch: 64 rows a round."""


def rounds(batches: Batches, rows: int) -> list[Drawn]:
    """Batches with at least so many rows in all."""
    drawn, count = [], 0
    for one in batches.draws(SMALL):
        drawn.append(one)
        count += len(one.samples)
        if count >= rows:
            return drawn
    raise AssertionError("draws ends")


@dataclass(frozen=True)
class Piece:
    whose: Made
    span: tuple[int, int]
    gain: float
    at: int
    end: float


def rows_of(batches: Batches, drawn: Drawn) -> Iterator[tuple[list[Piece], list[int], int]]:
    """Each row's pieces, found by what the store holds there, its labels and its samples."""
    store = batches.store.numpy()
    ends = np.cumsum(drawn.label_sizes)
    assert ends[-1] == len(drawn.labels)
    for y, samples in enumerate(drawn.samples):
        used = int((drawn.at[y] < FAR).sum())
        assert used >= 1 and (drawn.at[y, used:] == FAR).all() and (drawn.at[y, :used] < FAR).all()
        pieces = []
        for x in range(used):
            start, length = int(drawn.start[y, x]), int(drawn.length[y, x])
            assert start >= 0 and length > 0 and start + length <= len(store)
            sound = store[start : start + length]
            whose = BY_HEIGHT[int(np.abs(sound.astype(int)).max())]
            spans = [(a, b) for a, b in whose.spans if np.array_equal(sound, whose.clip.sound[a:b])]
            assert spans, "not a cut of one clip"
            at = int(drawn.at[y, x])
            pieces.append(Piece(whose, spans[0], float(drawn.gain[y, x]), at, at + length / drawn.ratio[y, x]))
        yield pieces, drawn.labels[ends[y] - drawn.label_sizes[y] : ends[y]].tolist(), int(samples)


@settings(max_examples=12, deadline=None)
@given(st.integers(0, 2**32))
def test_every_row_holds_pieces_of_clips_and_their_labels(seed: int) -> None:
    batches = Batches(CLIPS, seed=seed)
    for drawn in rounds(batches, 64):
        assert drawn.longest % 4096 == 0 and drawn.longest >= max(RATE_HZ, *drawn.samples)
        for pieces, labels, samples in rows_of(batches, drawn):
            said = [PHONES.index(phone) for piece in pieces for phone in piece.whose.clip.phones]
            silent = all(piece.gain == 0 for piece in pieces)
            assert labels == ([] if silent else said)
            assert silent or all(piece.gain > 0 for piece in pieces)
            assert 0 < samples <= 12 * RATE_HZ
            assert pieces[0].at >= 0 and all(a.at <= b.at for a, b in pairwise(pieces))
            assert all(b.at >= a.end - 0.05 * RATE_HZ - 2 for a, b in pairwise(pieces)), "words run together too far"


def test_all_words_of_a_row_are_cut_at_one_level_and_sentences_never() -> None:
    batches = Batches(CLIPS, seed=3)
    seen = Counter[tuple[int, ...]]()
    for drawn in rounds(batches, 600):
        for pieces, _, _ in rows_of(batches, drawn):
            fits = [level for level in range(len(CLOSE_DB) + 1) if all(p.span == p.whose.spans[level] for p in pieces)]
            assert fits
            seen[tuple(fits)] += 1
    assert set(seen) == {(0,), (1, 2), (3,), (4,), (0, 1, 2, 3, 4)}  # the last are sentences
    assert min(seen.values()) > 15


def test_the_kinds_come_as_often_as_their_shares() -> None:
    batches = Batches(CLIPS, seed=4)
    # a string of digits may hold another's "point"
    seen = Counter[str]()
    for drawn in rounds(batches, 1500):
        for pieces, _, _ in rows_of(batches, drawn):
            kinds = [piece.whose.clip.voice.split()[0] for piece in pieces]
            seen[next((kind for kind in kinds if kind in ("human", "digits")), kinds[0])] += 1
    total = sum(SHARES[kind] for kind in seen)
    assert set(seen) == {"human", "digits", "neural", "espeak", "abroad"}
    for kind, count in seen.items():
        share = SHARES[kind] / total
        spread = np.sqrt(share * (1 - share) * seen.total())
        assert abs(count - share * seen.total()) < 5 * spread, kind


def test_a_string_of_digits_is_of_one_voice_with_a_synthetic_word_at_most() -> None:
    batches = Batches(CLIPS, seed=6)
    for drawn in rounds(batches, 300):
        for pieces, _, _ in rows_of(batches, drawn):
            voices = Counter(piece.whose.clip.voice for piece in pieces)
            strings = [voice for voice in voices if voice.split()[0] in ("human", "digits")]
            assert len(strings) <= 1
            assert not strings or sum(voices.values()) - voices[strings[0]] <= 1


def test_a_drawing_process_without_the_sound_draws_the_same() -> None:
    batches = Batches(CLIPS, seed=8)
    small = batches.without_sound()
    small.rng = Random(8)
    assert len(small.store) == 0 and not small.clips
    for one, other in islice(zip(batches.draws(SMALL), small.draws(SMALL), strict=False), 5):
        assert one.longest == other.longest
        for name in ("start", "length", "ratio", "at", "gain", "samples", "labels", "label_sizes"):
            assert np.array_equal(getattr(one, name), getattr(other, name)), name


def test_clips_too_short_too_long_or_without_phones_are_left_out() -> None:
    kept = CLIPS[0]
    strange = [
        Clip(tone(20, 5000), ("AH",), "a", "neural x"),
        Clip(tone(int(LONGEST_S * RATE_HZ) // BLOCK, 5000), ("AH",), "a", "neural x"),
        Clip(tone(50, 5000), (), "a", "neural x"),
    ]
    assert Batches([*strange, kept], seed=1).clips == [kept]


def test_a_plan_is_heard_where_it_says() -> None:
    batches = Batches(CLIPS, seed=9)
    drawn = next(one for one in batches.draws(SMALL) if (one.gain[:, 0] > 0).any())
    heard = join(batches.store, drawn.plan(torch.device("cpu"))).numpy()
    assert heard.shape == (len(drawn.samples), drawn.longest)
    for y, (pieces, labels, _) in enumerate(rows_of(batches, drawn)):
        assert not heard[y, : pieces[0].at].any()
        assert bool(np.abs(heard[y]).max() > 1000) == bool(labels)


def test_noise_alone_is_coloured_noise_and_not_the_hiss_under_it() -> None:
    """White noise stood for "nobody speaks" once, and a net that had learned it was deaf beside a blowing air line."""
    torch.manual_seed(5)
    bank = NoiseBank(torch.device("cpu"), rows=24, seconds=4.096)
    nobody = spoil(torch.zeros(64, 32768), bank)
    power = torch.fft.rfft(nobody).abs().square()[:, 200:12000].unfold(1, 200, 200).mean(2) + 1e-6
    flatness = power.log().mean(1).exp() / power.mean(1)  # 1 for white noise
    assert float((flatness > 0.9).float().mean()) < 0.25, sorted(flatness.tolist())
