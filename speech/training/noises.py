"""Workshop noise for measuring, made with numpy: the same seed makes the same noise everywhere."""

import numpy as np

RATE_HZ = 16000
KINDS = ("ventilation", "engine", "impacts")


def ventilation(samples: int, rng: np.random.Generator) -> np.ndarray:
    """Rushing air: noise that falls 3 to 9 dB an octave."""
    spectrum = np.fft.rfft(rng.standard_normal(samples))
    hz = np.maximum(np.fft.rfftfreq(samples, 1 / RATE_HZ), 40.0)
    return np.fft.irfft(spectrum * hz ** -rng.uniform(0.5, 1.5), samples)


def engine(samples: int, rng: np.random.Generator) -> np.ndarray:
    """An idling twin: harmonics of its firing frequency that hunt, over a rush of air."""
    time = np.arange(samples) / RATE_HZ
    hunting = 1 + 0.03 * np.sin(2 * np.pi * rng.uniform(0.5, 1.5) * time)
    phase = 2 * np.pi * np.cumsum(rng.uniform(12, 30) * hunting) / RATE_HZ
    out = sum(rng.uniform(0.3, 1.0) / k**0.7 * np.sin(k * phase + rng.uniform(0, 6.28)) for k in range(1, 60))
    air = ventilation(samples, rng)
    return np.asarray(out / np.std(out) + 0.5 * air / np.std(air))


def impacts(samples: int, rng: np.random.Generator) -> np.ndarray:
    """Metal on metal at random times, each ringing for tens of milliseconds, over a rush of air."""
    out = ventilation(samples, rng)
    out /= 3 * np.std(out)
    for at in rng.integers(0, samples, size=max(2, samples // 6000)):
        time = np.arange(min(3200, samples - at)) / RATE_HZ
        ring = sum(np.sin(2 * np.pi * rng.uniform(400, 6000) * time) for _ in range(4))
        out[at : at + len(time)] += rng.uniform(0.5, 2.0) * ring * np.exp(-time / rng.uniform(0.01, 0.05))
    return out


def noise(kind: str, samples: int, rng: np.random.Generator) -> np.ndarray:
    """Noise of one kind at level 1 (root mean square)."""
    made = {"ventilation": ventilation, "engine": engine, "impacts": impacts}[kind](samples, rng)
    return made / np.sqrt(np.mean(made**2))


def spoken_level(sound: np.ndarray) -> float:
    """Level of the spoken part: root mean square of the 10 ms frames within 30 dB of the loudest."""
    frames = sound[: len(sound) // 160 * 160].astype(np.float64).reshape(-1, 160)
    power = (frames**2).mean(1)
    return float(np.sqrt(power[power > power.max() / 1000].mean())) if len(power) else 0.0


def with_noise(sound: np.ndarray, snr_db: float | None, kind: str, rng: np.random.Generator) -> np.ndarray:
    """Sound in noise, int16; None is clean. The ratio is of the spoken part to the noise."""
    if snr_db is None:
        return sound
    mixed = sound + noise(kind, len(sound), rng) * spoken_level(sound) * 10 ** (-snr_db / 20)
    loudest = max(1.0, float(np.abs(mixed).max()) / 32000)
    return np.round(mixed / loudest).astype(np.int16)


def with_silence(sound: np.ndarray, *, before_s: float = 0.25, after_s: float = 0.4) -> np.ndarray:
    return np.pad(sound, (int(before_s * RATE_HZ), int(after_s * RATE_HZ)))
