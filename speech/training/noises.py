"""Workshop noise for measuring, made with numpy: the same seed makes the same noise everywhere.

Other people and the radio speak with espeak-ng voices, whose words are `chatter.talk`; what is trained with is made
by other code (speech.training.sound).
"""

from functools import cache
from random import Random

import numpy as np

from speech import chatter
from speech.surroundings import music, small_loudspeaker, spoken_level

RATE_HZ = 16000
KINDS = ("engine", "compressor", "impacts", "ventilation", "others", "radio")
_BANK_S = 40


def ventilation(samples: int, rng: np.random.Generator) -> np.ndarray:
    """Rushing air: noise that falls 3 to 9 dB an octave."""
    spectrum = np.fft.rfft(rng.standard_normal(samples))
    hz = np.maximum(np.fft.rfftfreq(samples, 1 / RATE_HZ), 40.0)
    return np.fft.irfft(spectrum * hz ** -rng.uniform(0.5, 1.5), samples)


def _harmonics(samples: int, rng: np.random.Generator, *, base_hz: float, hunting: float) -> np.ndarray:
    """Sixty harmonics of a frequency that hunts by this share."""
    time = np.arange(samples) / RATE_HZ
    phase = 2 * np.pi * np.cumsum(base_hz * (1 + hunting * np.sin(2 * np.pi * rng.uniform(0.5, 1.5) * time))) / RATE_HZ
    return np.asarray(
        sum(rng.uniform(0.3, 1.0) / k**0.7 * np.sin(k * phase + rng.uniform(0, 6.28)) for k in range(1, 60))
    )


def _level(sound: np.ndarray) -> np.ndarray:
    return sound / max(float(np.sqrt(np.mean(sound**2))), 1e-9)


def engine(samples: int, rng: np.random.Generator) -> np.ndarray:
    """An idling twin: harmonics of its firing frequency that hunt, over a rush of air."""
    fired = _harmonics(samples, rng, base_hz=rng.uniform(12, 30), hunting=0.03)
    return _level(fired) + 0.5 * _level(ventilation(samples, rng))


def compressor(samples: int, rng: np.random.Generator) -> np.ndarray:
    """A piston compressor: hum of its motor, ten or so thumps a second, hissing intake at each."""
    time = np.arange(samples) / RATE_HZ
    stroke = (time * rng.uniform(8, 14)) % 1.0
    hum = _harmonics(samples, rng, base_hz=rng.uniform(45, 60), hunting=0.004)
    thump = np.exp(-stroke / 0.12) * np.sin(2 * np.pi * rng.uniform(60, 120) * time)
    hiss = np.diff(rng.standard_normal(samples + 1)) * np.clip(np.sin(np.pi * stroke), 0, 1) ** 2
    return _level(hum) + 1.2 * _level(thump) + 0.8 * _level(hiss)


def _blows(out: np.ndarray, at: np.ndarray, rng: np.random.Generator, *, low_hz: float) -> None:
    for start in at:
        time = np.arange(min(3200, len(out) - start)) / RATE_HZ
        ring = sum(np.sin(2 * np.pi * rng.uniform(low_hz, 6000) * time) for _ in range(4))
        out[start : start + len(time)] += rng.uniform(0.5, 2.0) * ring * np.exp(-time / rng.uniform(0.01, 0.05))


def impacts(samples: int, rng: np.random.Generator) -> np.ndarray:
    """Metal on metal at random times and an impact wrench's bursts of twenty blows a second, over a rush of air."""
    out = _level(ventilation(samples, rng)) / 3
    _blows(out, rng.integers(0, samples, size=max(2, samples // 6000)), rng, low_hz=400)
    for burst in rng.integers(0, samples, size=max(1, samples // 80000)):
        every = RATE_HZ / rng.uniform(17, 25)
        _blows(out, (burst + every * np.arange(rng.integers(8, 30))).astype(int).clip(max=samples - 1), rng, low_hz=800)
    return out


@cache
def _voices_talking(seed: int, seconds: int) -> np.ndarray:
    """One espeak-ng voice after the other, talking without end."""
    from speech.training import voices
    from speech.training.espeak import RATE_HZ as OWN_HZ

    rng, parts, length = Random(seed), [], 0
    while length < seconds * RATE_HZ:
        voices._espeak().choose(
            f"{rng.choice(voices.ACCENTS)}+{rng.choice(('m1', 'm3', 'f2', 'f4', 'klatt', 'm7'))}",
            words_per_minute=rng.randrange(130, 200),
            pitch=rng.randrange(20, 80),
        )
        said = voices.trimmed(voices.to_rate(voices._espeak().say(chatter.talk(rng)), OWN_HZ)).astype(np.float64)
        parts += [_level(said), np.zeros(int(rng.uniform(0.1, 0.5) * RATE_HZ))]
        length += len(said)
    return np.concatenate(parts)[: seconds * RATE_HZ]


def others(samples: int, rng: np.random.Generator) -> np.ndarray:
    """Three people talking at once, behind one another."""
    seconds = -(-samples // RATE_HZ)
    out = np.zeros(samples)
    for _ in range(3):
        out += _voices_talking(int(rng.integers(1000)), seconds)[:samples] * rng.uniform(0.5, 1.0)
    return out


def radio(samples: int, rng: np.random.Generator) -> np.ndarray:
    """An announcer over music, through a small loudspeaker."""
    played = music(samples, rng)
    talk = _voices_talking(int(rng.integers(1000)), -(-samples // RATE_HZ))[:samples]
    return small_loudspeaker(played + _level(talk))


_MAKE = {each.__name__: each for each in (engine, compressor, impacts, ventilation, others, radio)}


@cache
def _bank(kind: str, number: int) -> np.ndarray:
    """Two stretches of a kind, each made anew; bank 0 is the one that tests are measured in."""
    half = _BANK_S * RATE_HZ // 2
    rng = np.random.default_rng(sum(map(ord, kind)) + 10000 * number)
    return np.concatenate([_level(_MAKE[kind](half, rng)) for _ in range(2)])


def noise(kind: str, samples: int, rng: np.random.Generator, *, bank: int = 0) -> np.ndarray:
    """Noise of one kind at level 1 (root mean square)."""
    made = _bank(kind, bank)
    at = int(rng.integers(len(made)))
    return _level(np.take(made, np.arange(at, at + samples), mode="wrap"))


def with_noise(
    sound: np.ndarray, snr_db: float | None, kind: str, rng: np.random.Generator, *, bank: int = 0
) -> np.ndarray:
    """Sound in noise, int16; None is clean. The ratio is of the spoken part to the noise."""
    if snr_db is None:
        return sound
    mixed = sound + noise(kind, len(sound), rng, bank=bank) * spoken_level(sound) * 10 ** (-snr_db / 20)
    loudest = max(1.0, float(np.abs(mixed).max()) / 32000)
    return np.round(mixed / loudest).astype(np.int16)


def with_silence(sound: np.ndarray, *, before_s: float = 0.25, after_s: float = 0.4) -> np.ndarray:
    return np.pad(sound, (int(before_s * RATE_HZ), int(after_s * RATE_HZ)))
