"""What is to be heard around a caller, made with numpy: a radio's music, its loudspeaker, and how loud speech is."""

import numpy as np

RATE_HZ = 16000


def music(samples: int, rng: np.random.Generator) -> np.ndarray:
    """Three parts and a beat, at level 1 (root mean square)."""
    time = np.arange(samples) / RATE_HZ
    out = np.zeros(samples)
    for beat_s in (0.25, 0.5, 1.0):
        turn = (time / beat_s).astype(int)
        pitch = 110 * 2 ** (rng.integers(0, 30, turn[-1] + 1) / 12)
        phase = 2 * np.pi * np.cumsum(pitch[turn]) / RATE_HZ
        fall = np.exp(-(time - turn * beat_s) / (0.6 * beat_s))
        out += fall * sum(np.sin(k * phase) / k for k in range(1, 6))
    out += rng.standard_normal(samples) * np.exp(-(time % 0.5) / 0.03)
    return np.asarray(out / max(float(np.sqrt(np.mean(out**2))), 1e-9))


def small_loudspeaker(sound: np.ndarray) -> np.ndarray:
    """Only what lies between 300 and 3,400 Hz."""
    hz = np.fft.rfftfreq(len(sound), 1 / RATE_HZ)
    return np.fft.irfft(np.fft.rfft(sound) * ((hz > 300) & (hz < 3400)), len(sound))


def spoken_level(sound: np.ndarray) -> float:
    """Level of the spoken part: root mean square of the 10 ms frames within 30 dB of the loudest."""
    frames = sound[: len(sound) // 160 * 160].astype(np.float64).reshape(-1, 160)
    power = (frames**2).mean(1)
    return float(np.sqrt(power[power > power.max() / 1000].mean())) if len(power) else 0.0
