"""Sound in memory, and the WAV files it comes from: any rate, 8 to 32 bit, mono or stereo, five minutes at most."""

import io
import os
import struct
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, inf, log10
from pathlib import Path
from typing import Literal

import numpy as np

from speech.ports import SpeechError

FULL_SCALE = 32768.0
LONGEST_S = 300.0
_PCM, _FLOAT, _EXTENSIBLE = 1, 3, 0xFFFE


class SoundError(SpeechError):
    """A file or block of samples that is not sound this program can use."""


@dataclass(frozen=True, eq=False)
class Sound:
    """16 bit mono samples and their rate."""

    samples: np.ndarray
    rate_hz: int

    def __post_init__(self) -> None:
        if self.samples.ndim != 1 or self.samples.dtype != np.int16:
            raise SoundError(f"samples are {self.samples.dtype} in {self.samples.ndim} dimensions, want int16 mono")
        if not 1000 <= self.rate_hz <= 400_000:
            raise SoundError(f"a sample rate of {self.rate_hz} Hz is not sound; use 8000 to 192000 Hz")

    @property
    def duration_s(self) -> float:
        return len(self.samples) / self.rate_hz

    def floats(self) -> np.ndarray:
        """Samples as float32, full scale 1."""
        return self.samples.astype(np.float32) / np.float32(FULL_SCALE)


def from_floats(samples: np.ndarray, rate_hz: int) -> Sound:
    """Sound from floats of full scale 1; what is louder is clipped."""
    scaled = np.rint(np.asarray(samples, dtype=np.float64) * FULL_SCALE)
    return Sound(np.clip(scaled, -32768, 32767).astype(np.int16), rate_hz)


def read_wav(path: Path | str) -> Sound:
    """The sound in a WAV file, mixed to mono. Raises SoundError for not audio, empty or over five minutes."""
    name = str(path)
    try:
        size = os.stat(path).st_size
        with open(path, "rb") as file:
            return _read(file, size, name)
    except OSError as problem:
        raise SoundError(f"{name}: cannot be read ({problem.strerror or problem}); check the path") from problem


def wav_bytes(sound: Sound) -> bytes:
    """A 16 bit WAV file in memory."""
    data = sound.samples.astype("<i2").tobytes()
    head = struct.pack("<4sI4s4sIHHIIHH", b"RIFF", 36 + len(data), b"WAVE", b"fmt ", 16, _PCM, 1, sound.rate_hz,
                       sound.rate_hz * 2, 2, 16)  # fmt: skip
    return head + struct.pack("<4sI", b"data", len(data)) + data


def read_wav_bytes(data: bytes, *, name: str = "sound") -> Sound:
    """The sound in a WAV file that is already in memory."""
    return _read(io.BytesIO(data), len(data), name)


def write_wav(path: Path | str, sound: Sound) -> None:
    """Write a 16 bit mono WAV file."""
    try:
        Path(path).write_bytes(wav_bytes(sound))
    except OSError as problem:
        raise SoundError(
            f"{path}: cannot be written ({problem.strerror}); free some space or choose another place"
        ) from problem


@dataclass(frozen=True)
class _Format:
    tag: int
    channels: int
    rate_hz: int
    bits: int


def _read(file: io.BufferedIOBase | io.BufferedReader | io.BytesIO, size: int, name: str) -> Sound:
    if size == 0:
        raise SoundError(f"{name}: the file is empty; record it again")
    head = file.read(12)
    if len(head) < 12 or head[:4] != b"RIFF" or head[8:] != b"WAVE":
        raise SoundError(f"{name}: not a WAV file (it begins with {head[:4]!r}); convert it to WAV")
    form: _Format | None = None
    while len(chunk := file.read(8)) == 8:
        tag, length = struct.unpack("<4sI", chunk)
        if tag == b"fmt ":
            form = _format(file.read(min(length, 64)), name)
            file.seek(max(0, length - 64) + length % 2, io.SEEK_CUR)
        elif tag == b"data":
            if form is None:
                break
            return _samples(file, min(length, size), form, name)
        else:
            file.seek(length + length % 2, io.SEEK_CUR)
    raise SoundError(f"{name}: no sound found in this WAV file; it is damaged, record it again")


def _format(data: bytes, name: str) -> _Format:
    if len(data) < 16:
        raise SoundError(f"{name}: the WAV header is cut short; record it again")
    tag, channels, rate_hz, _, _, bits = struct.unpack("<HHIIHH", data[:16])
    if tag == _EXTENSIBLE and len(data) >= 26:
        tag = struct.unpack("<H", data[24:26])[0]
    if (tag, bits) not in {(_PCM, 8), (_PCM, 16), (_PCM, 24), (_PCM, 32), (_FLOAT, 32), (_FLOAT, 64)}:
        raise SoundError(f"{name}: WAV coding {tag} with {bits} bits is not known; convert it to 16 bit PCM")
    if not 1 <= channels <= 8 or not 1000 <= rate_hz <= 400_000:
        raise SoundError(f"{name}: {channels} channels at {rate_hz} Hz cannot be right; convert it to 16 bit mono WAV")
    return _Format(tag, channels, rate_hz, bits)


def _samples(file: io.BufferedIOBase | io.BufferedReader | io.BytesIO, length: int, form: _Format, name: str) -> Sound:
    frame = form.channels * form.bits // 8
    if length // frame / form.rate_hz > LONGEST_S:
        minutes = length / frame / form.rate_hz / 60
        raise SoundError(
            f"{name}: {minutes:.1f} minutes long, at most {LONGEST_S / 60:g} are read; cut out the call-out"
        )
    data = file.read(length)
    data = data[: len(data) // frame * frame]
    if not data:
        raise SoundError(f"{name}: there are no samples in it; record it again")
    mono = _decode(data, form).reshape(-1, form.channels).mean(axis=1)
    return from_floats(np.nan_to_num(mono, nan=0.0, posinf=1.0, neginf=-1.0), form.rate_hz)


def _decode(data: bytes, form: _Format) -> np.ndarray:
    if form.tag == _FLOAT:
        return np.clip(np.nan_to_num(np.frombuffer(data, f"<f{form.bits // 8}").astype(np.float64)), -1.0, 1.0)
    if form.bits == 8:
        return (np.frombuffer(data, np.uint8).astype(np.float64) - 128.0) / 128.0
    if form.bits == 24:
        raw = np.frombuffer(data, np.uint8).reshape(-1, 3)
        wide = np.zeros((len(raw), 4), np.uint8)
        wide[:, 1:] = raw
        return wide.view("<i4")[:, 0] / 2.0**31
    return np.frombuffer(data, f"<i{form.bits // 8}").astype(np.float64) / 2.0 ** (form.bits - 1)


def resample(sound: Sound, rate_hz: int) -> Sound:
    """The same sound at another rate: windowed sinc, cut off below the lower of the two half rates."""
    if rate_hz == sound.rate_hz or len(sound.samples) == 0:
        return Sound(sound.samples, rate_hz)
    return from_floats(_resampled(sound.floats(), sound.rate_hz, rate_hz), rate_hz)


def _resampled(samples: np.ndarray, from_hz: int, to_hz: int, *, zeros: int = 24) -> np.ndarray:
    ratio = Fraction(to_hz, from_hz)
    up, down = ratio.numerator, ratio.denominator
    cut = min(1.0, up / down) * 0.97
    half = ceil(zeros / cut)
    padded = np.concatenate([np.zeros(half, np.float32), samples.astype(np.float32), np.zeros(half + 1, np.float32)])
    count = max(1, len(samples) * up // down)
    out = np.empty(count, np.float32)
    taps = np.arange(-half + 1, half + 1, dtype=np.float64)
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * half)
    for phase in range(min(up, count)):
        first, shift = divmod(phase * down, up)
        distance = taps - shift / up
        kernel = cut * np.sinc(cut * distance) * (0.5 + 0.5 * np.cos(np.pi * np.clip(distance / half, -1, 1)))
        wanted = len(range(phase, count, up))
        rows = windows[first + 1 :: down][:wanted]
        out[phase::up][: len(rows)] = rows @ (kernel / kernel.sum()).astype(np.float32)
    return out


def level_dbfs(sound: Sound) -> float:
    """Effective level against a full-scale square wave; minus infinity for digital silence.

    >>> level_dbfs(Sound(np.full(100, 16384, np.int16), 16000))
    -6.020599913279624
    """
    if len(sound.samples) == 0:
        return -inf
    power = float(np.mean(sound.floats().astype(np.float64) ** 2))
    return 10 * log10(power) if power > 0 else -inf


def frame_levels_dbfs(sound: Sound, *, frame_s: float = 0.01) -> np.ndarray:
    """Level of each frame, -120 at the least."""
    size = max(1, round(frame_s * sound.rate_hz))
    count = len(sound.samples) // size
    frames = sound.floats()[: count * size].astype(np.float64).reshape(count, size)
    return 10 * np.log10(np.mean(frames**2, axis=1) + 1e-12)


def trim_silence(sound: Sound, *, below_peak_db: float = 40.0, keep_s: float = 0.02) -> Sound:
    """Without the near silence at both ends: frames further than this under the loudest one."""
    levels = frame_levels_dbfs(sound)
    if len(levels) == 0 or levels.max() <= -100:
        return sound
    loud = np.flatnonzero(levels > levels.max() - below_peak_db)
    frame, keep = max(1, round(0.01 * sound.rate_hz)), round(keep_s * sound.rate_hz)
    start, end = max(0, loud[0] * frame - keep), (loud[-1] + 1) * frame + keep
    return Sound(sound.samples[start:end].copy(), sound.rate_hz)


def shorten_pauses(sound: Sound, *, longest_s: float, below_peak_db: float = 40.0) -> Sound:
    """With no near silence inside longer than this; what goes is from the middle of it."""
    levels = frame_levels_dbfs(sound)
    if len(levels) == 0 or levels.max() <= -100:
        return sound
    frame = max(1, round(0.01 * sound.rate_hz))
    quiet = np.concatenate(([False], levels <= levels.max() - below_peak_db, [False]))
    edges = np.flatnonzero(np.diff(quiet.astype(np.int8)))
    kept = np.ones(len(sound.samples), bool)
    for first, end in zip(edges[::2] * frame, edges[1::2] * frame, strict=True):
        over = int(end - first) - round(longest_s * sound.rate_hz)
        if over > 0:
            middle = int(first + end - over) // 2
            kept[middle : middle + over] = False
    return Sound(sound.samples[kept], sound.rate_hz)


def silence(duration_s: float, *, rate_hz: int) -> Sound:
    return Sound(np.zeros(max(0, round(duration_s * rate_hz)), np.int16), rate_hz)


def scaled(sound: Sound, gain_db: float) -> Sound:
    """Louder or quieter by this much; what is too loud is clipped."""
    return from_floats(sound.floats() * 10 ** (gain_db / 20), sound.rate_hz)


def join(sounds: Sequence[Sound], *, gap_s: float = 0.0) -> Sound:
    """One sound after another, at the rate of the first, with silence between."""
    if not sounds:
        raise SoundError("no sounds to join; give at least one")
    rate_hz = sounds[0].rate_hz
    gap = np.zeros(round(gap_s * rate_hz), np.int16)
    parts: list[np.ndarray] = []
    for sound in sounds:
        parts += [gap, resample(sound, rate_hz).samples] if parts else [sound.samples]
    return Sound(np.concatenate(parts), rate_hz)


NoiseKind = Literal["engine", "white", "pink", "compressor"]


def add_noise(sound: Sound, *, snr_db: float, kind: NoiseKind = "engine", seed: int = 0) -> Sound:
    """The sound with noise under it, so many dB below the speech in it (not below its pauses)."""
    levels = frame_levels_dbfs(sound)
    if len(levels) == 0 or levels.max() <= -100:
        return sound
    spoken = levels[levels > levels.max() - 30]
    speech_power = float(np.mean(10 ** (spoken / 10)))
    noise = make_noise(len(sound.samples), sound.rate_hz, kind=kind, seed=seed)
    noise *= (speech_power / 10 ** (snr_db / 10) / float(np.mean(noise**2))) ** 0.5
    mixed = sound.floats() + noise
    peak = float(np.max(np.abs(mixed)))
    return from_floats(mixed / max(1.0, peak / 0.99), sound.rate_hz)


def make_noise(count: int, rate_hz: int, *, kind: NoiseKind = "engine", seed: int = 0) -> np.ndarray:
    """Floats of one of four noises: an idling twin, white, pink, or a piston compressor."""
    rng = np.random.default_rng(seed)
    if kind == "white":
        return rng.standard_normal(count)
    pink = _pink(rng, count)
    if kind == "pink":
        return pink
    at_s = np.arange(count) / rate_hz
    beat_hz, strength = (rng.uniform(17, 24), 1.6) if kind == "engine" else (rng.uniform(9, 13), 0.9)
    beats = np.cumsum(1 + 0.03 * np.interp(np.arange(count), np.linspace(0, count, 16), rng.standard_normal(16)))
    phase = 2 * np.pi * beat_hz * beats / rate_hz
    tone = sum(np.sin(k * phase + rng.uniform(0, 2 * np.pi)) / k**0.7 for k in range(1, 25))
    puff = 0.6 + 0.4 * np.sin(phase / 2)
    hiss = rng.standard_normal(count) * (0.15 if kind == "engine" else 0.3) * puff
    slow = 1 + 0.1 * np.sin(2 * np.pi * 0.7 * at_s + rng.uniform(0, 6))
    return (strength * tone / 2 + pink / np.std(pink) * 0.7 + hiss) * slow


def _pink(rng: np.random.Generator, count: int) -> np.ndarray:
    spectrum = np.fft.rfft(rng.standard_normal(max(2, count)))
    spectrum /= np.sqrt(np.arange(len(spectrum)) + 1.0)
    return np.fft.irfft(spectrum, max(2, count))[:count]
