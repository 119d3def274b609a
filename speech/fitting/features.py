"""Kaldi's MFCC in numpy, with the tempo and the vocal tract changed on the way.

Source: Kaldi's feature extraction as vosk runs it with speech/model/conf/mfcc.conf: 25 ms every 10 ms,
pre-emphasis 0.97, Povey window, snip edges, 40 mel bins from 20 to 7600 Hz, 40 coefficients, lifter 22.
speech.training.features is the same for batches on an accelerator.
"""

import functools

import numpy as np

RATE_HZ = 16000
WINDOW, HOP, FFT = 400, 160, 512
BINS, LOW_HZ, HIGH_HZ, LIFTER = 40, 20.0, 7600.0, 22.0
BEND_HZ = 5500.0


def _mel(hz: np.ndarray | float) -> np.ndarray:
    return np.asarray(1127.0 * np.log(1.0 + np.asarray(hz) / 700.0))


def mel_banks(warp: float = 1.0) -> np.ndarray:
    """Triangles (FFT / 2, BINS); warp above 1 makes the throat longer, 1 is Kaldi's own."""
    hz = np.arange(FFT // 2) * (RATE_HZ / FFT)
    rest = (RATE_HZ / 2 - BEND_HZ * warp) / (RATE_HZ / 2 - BEND_HZ)
    mel = _mel(np.where(hz < BEND_HZ, hz * warp, BEND_HZ * warp + (hz - BEND_HZ) * rest))[:, None]
    low, high = _mel(LOW_HZ), _mel(HIGH_HZ)
    step = (high - low) / (BINS + 1)
    left = low + step * np.arange(BINS)
    return np.minimum((mel - left) / step, (left + 2 * step - mel) / step).clip(0.0)


@functools.cache
def cosine() -> np.ndarray:
    """Kaldi's DCT with its lifter, (BINS, BINS): log mel energies times this are the coefficients."""
    n = np.arange(BINS)
    table = np.cos(np.pi / BINS * (n[None, :] + 0.5) * n[:, None]) * np.sqrt(2.0 / BINS)
    table[0] = np.sqrt(1.0 / BINS)
    return np.asarray((table * (1.0 + 0.5 * LIFTER * np.sin(np.pi * n / LIFTER))[:, None]).T)


def mfcc(samples: np.ndarray, *, hop: float = HOP, warp: float = 1.0) -> np.ndarray:
    """Coefficients (frames, BINS) of sound at 16 kHz and int16 scale, at least WINDOW samples long.

    hop: samples from frame to frame; other than HOP it changes the tempo and nothing else.
    """
    frames = 1 + int((len(samples) - WINDOW) / hop)
    start = (np.arange(frames) * hop).astype(int)
    pieces = samples[start[:, None] + np.arange(WINDOW)].astype(np.float64)
    pieces -= pieces.mean(1, keepdims=True)
    pieces = np.concatenate((pieces[:, :1] * (1 - 0.97), pieces[:, 1:] - 0.97 * pieces[:, :-1]), 1)
    pieces *= (0.5 - 0.5 * np.cos(2 * np.pi * np.arange(WINDOW) / (WINDOW - 1))) ** 0.85
    power = np.abs(np.fft.rfft(pieces, FFT)) ** 2
    energies = np.log(np.maximum(power[:, : FFT // 2] @ mel_banks(warp), np.finfo(np.float32).eps))
    return np.asarray(energies @ cosine(), np.float32)
