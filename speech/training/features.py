"""Kaldi's MFCC for a batch on the accelerator, with the tempo and the vocal tract changed on the way.

Source: Kaldi's feature extraction as vosk runs it with speech/model/conf/mfcc.conf: 25 ms every 10 ms,
pre-emphasis 0.97, Povey window, snip edges, 40 mel bins from 20 to 7600 Hz, 40 coefficients, lifter 22.
"""

import functools
import math

import torch

RATE_HZ = 16000
WINDOW, HOP, FFT = 400, 160, 512
BINS, LOW_HZ, HIGH_HZ, LIFTER = 40, 20.0, 7600.0, 22.0


def _mel(hz: torch.Tensor) -> torch.Tensor:
    return 1127.0 * torch.log(1.0 + hz / 700.0)


def mel_banks(warp: torch.Tensor) -> torch.Tensor:
    """Triangles (batch, FFT / 2, BINS); warp above 1 makes the throat longer, 1 is Kaldi's own."""
    hz = torch.arange(FFT // 2, device=warp.device) * (RATE_HZ / FFT)
    bend = 5500.0
    # linear up to the bend, then to the Nyquist frequency, so that nothing is lost at the top
    rest = (8000.0 - bend * warp[:, None].clamp(max=1.35)) / (8000.0 - bend)
    warped = torch.where(hz < bend, hz * warp[:, None], bend * warp[:, None] + (hz - bend) * rest)
    mel = _mel(warped)[:, :, None]
    low, high = (1127.0 * math.log(1.0 + edge / 700.0) for edge in (LOW_HZ, HIGH_HZ))
    step = (high - low) / (BINS + 1)
    left = low + step * torch.arange(BINS, device=warp.device)
    rise, fall = (mel - left) / step, (left + 2 * step - mel) / step
    return torch.minimum(rise, fall).clamp(min=0.0)


@functools.cache
def cosine(device: torch.device) -> torch.Tensor:
    """Kaldi's DCT with its lifter, (BINS, BINS): log mel energies times this are the coefficients."""
    n = torch.arange(BINS, device=device, dtype=torch.float64)
    table = torch.cos(math.pi / BINS * (n[None, :] + 0.5) * n[:, None]) * math.sqrt(2.0 / BINS)
    table[0] = math.sqrt(1.0 / BINS)
    lifter = 1.0 + 0.5 * LIFTER * torch.sin(math.pi * n / LIFTER)
    return (table * lifter[:, None]).T.float()


def log_mel(sound: torch.Tensor, *, hop: torch.Tensor, warp: torch.Tensor) -> torch.Tensor:
    """Log mel energies (batch, frames, BINS) of sound at int16 scale (batch, samples).

    hop (on the processor): samples from frame to frame of each row; other than HOP it changes the tempo and nothing else.
    """
    frames = max(1, 1 + int((sound.shape[1] - WINDOW) / float(hop.min())))
    start = (torch.arange(frames, device=sound.device)[None] * hop.to(sound.device)[:, None]).long()
    start = start.clamp(max=sound.shape[1] - WINDOW)
    pieces = sound.unfold(1, WINDOW, 1)
    pieces = pieces[torch.arange(len(sound), device=sound.device)[:, None], start]
    pieces = pieces - pieces.mean(-1, keepdim=True)
    pieces = torch.cat((pieces[..., :1] * (1 - 0.97), pieces[..., 1:] - 0.97 * pieces[..., :-1]), -1)
    n = torch.arange(WINDOW, device=sound.device)
    pieces = pieces * (0.5 - 0.5 * torch.cos(2 * math.pi * n / (WINDOW - 1))) ** 0.85
    power = torch.fft.rfft(pieces, FFT).abs().square()[..., : FFT // 2]
    return (power @ mel_banks(warp)).clamp(min=torch.finfo(torch.float32).eps).log()


def mfcc(sound: torch.Tensor) -> torch.Tensor:
    """Coefficients (batch, frames, BINS) as Kaldi makes them."""
    ones = torch.ones(len(sound))
    return log_mel(sound, hop=ones * HOP, warp=ones.to(sound.device)) @ cosine(sound.device)
