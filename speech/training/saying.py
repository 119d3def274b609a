"""Ways of saying a reading, and what stands between a mouth and the microphone."""

from collections.abc import Callable
from random import Random

import numpy as np

from speech.training import texts
from speech.training.noises import RATE_HZ

_ELECTRIC = ("volts", "millivolts", "ohms", "kilohms", "amps", "degrees", "kilopascals", "psi")


def _unit(rng: Random) -> list[str]:
    return [rng.choice(_ELECTRIC)]


def _decimal(rng: Random) -> list[str]:
    return [*texts.digits(rng.choice((1, 2)), rng), "point", *texts.digits(rng.choice((1, 2)), rng)]


def _plain_digit(rng: Random) -> str:
    return rng.choice(texts.DIGITS[1:])


def _pair(rng: Random) -> list[str]:
    """Two figures from 20 on with no zero: "ninety eight"."""
    return [rng.choice(texts.TENS), _plain_digit(rng)]


FORMS: dict[str, Callable[[Random], list[str]]] = {
    "by digits": lambda rng: [*_decimal(rng), *_unit(rng)],
    "as a number": lambda rng: [*texts.natural(rng.randrange(20, 1000), rng), *_unit(rng)],
    "four ninety-eight": lambda rng: [_plain_digit(rng), *_pair(rng), *_unit(rng)],
    "half a volt": lambda rng: [*rng.choice((("half",), ("a", "half"), ("a", "quarter"), ("three", "quarters", "of"))), "a", rng.choice(("volt", "amp", "ohm"))],
    "two K two": lambda rng: [_plain_digit(rng), rng.choice(("k", "k", "meg")), _plain_digit(rng)],
    "two point two K": lambda rng: [_plain_digit(rng), "point", _plain_digit(rng), "k"],
    "oh el, open": lambda rng: list(rng.choice((("oh", "el"), ("open",), ("open", "line"), ("overload",), ("over", "range")))),
    "dead": lambda rng: [rng.choice(("dead", "nothing"))],
    "bouncing ... to ...": lambda rng: [rng.choice(("bouncing", "jumping", "drifting")), *texts.digits(2, rng), "to", *texts.digits(2, rng)],
    "oh and niner": lambda rng: [rng.choice(("oh", "niner", _plain_digit(rng))), "point", "oh", rng.choice(("niner", _plain_digit(rng))), *_unit(rng)],
    "unit before": lambda rng: [rng.choice(("volts", "ohms", "amps")), *_decimal(rng)],
    "unit left out": _decimal,
    "hesitating": lambda rng: [rng.choice(("uh", "um")), *_decimal(rng), *_unit(rng)],
    "false start, correction": lambda rng: [*_decimal(rng), *(unit := _unit(rng)), "correction", *_decimal(rng), *unit],
}  # fmt: skip
"""How people call a reading out, as far as the grammar knows it."""


def _shaped(sound: np.ndarray, gain_db: Callable[[np.ndarray], np.ndarray]) -> np.ndarray:
    """Sound through a filter given by its gain [dB] at each frequency [Hz]."""
    spectrum = np.fft.rfft(sound.astype(np.float64))
    hz = np.maximum(np.fft.rfftfreq(len(sound), 1 / RATE_HZ), 1.0)
    return np.fft.irfft(spectrum * 10 ** (gain_db(hz) / 20), len(sound))


def _rounded(sound: np.ndarray) -> np.ndarray:
    loudest = max(1.0, float(np.abs(sound).max()) / 30000)
    return np.round(sound / loudest).astype(np.int16)


def shouted(sound: np.ndarray) -> np.ndarray:
    """Higher and longer by 15 %, upper frequencies raised 8 dB, peaks cut off."""
    at = np.arange(0, len(sound) - 1, 1.15)
    higher = np.interp(at, np.arange(len(sound)), sound)
    bright = _shaped(higher, lambda hz: np.clip(4 * np.log2(hz / 700), 0, 8))
    top = 0.5 * np.abs(bright).max()
    return _rounded(bright.clip(-top, top))


def through_a_mask(sound: np.ndarray) -> np.ndarray:
    """Cloth takes 10 dB from 3 kHz up."""
    return _rounded(_shaped(sound, lambda hz: -np.clip(5 * np.log2(hz / 800), 0, 10)))


def head_turned(sound: np.ndarray) -> np.ndarray:
    """Less of what leaves the mouth forwards, 6 dB an octave from 1.5 kHz, and a room's answer of 0.3 s."""
    rng = np.random.default_rng(5)
    muffled = _shaped(sound, lambda hz: -np.clip(6 * np.log2(hz / 1500), 0, 15))
    time = np.arange(int(0.3 * RATE_HZ)) / RATE_HZ
    tail = rng.standard_normal(len(time)) * np.exp(-6.9 * time / 0.3)
    tail *= 0.5 / np.sqrt(np.sum(tail**2))
    tail[0] = 1.0
    return _rounded(np.convolve(muffled, tail)[: len(sound) + len(time) // 2])


def waited_for(sound: np.ndarray) -> np.ndarray:
    """The ears were open for a second before somebody called, whatever was to be heard then."""
    return np.pad(sound, (round(0.75 * RATE_HZ), 0))


EFFECTS: dict[str, Callable[[np.ndarray], np.ndarray]] = {
    "shouted": shouted,
    "through a mask": through_a_mask,
    "head turned": head_turned,
    "noise for a second before": waited_for,
}


def spanner(rng: np.random.Generator) -> np.ndarray:
    """A spanner dropped on concrete: three to six ringing blows, closer and closer."""
    out, at, gap = np.zeros(int(1.6 * RATE_HZ)), 0.1, rng.uniform(0.15, 0.35)
    tones = rng.uniform(700, 6500, 6)
    for strength in 0.6 ** np.arange(rng.integers(3, 7)):
        start = int(at * RATE_HZ)
        time = np.arange(len(out) - start) / RATE_HZ
        ring = sum(rng.uniform(0.3, 1) * np.sin(2 * np.pi * tone * time) for tone in tones)
        out[start:] += strength * ring * np.exp(-time / rng.uniform(0.03, 0.12))
        at, gap = at + gap, gap * rng.uniform(0.5, 0.8)
    return _rounded(out * 6000)


def _throat(low_hz: float, high_hz: float) -> Callable[[np.ndarray], np.ndarray]:
    """Gain [dB] of a throat with two resonances, falling towards the top."""

    def gain_db(hz: np.ndarray) -> np.ndarray:
        low, high = 14 * np.exp(-(((hz - low_hz) / 200) ** 2)), 10 * np.exp(-(((hz - high_hz) / 300) ** 2))
        return np.asarray(low + high - 12 * np.log2(1 + hz / 3000))

    return gain_db


def cough(rng: np.random.Generator) -> np.ndarray:
    """One to three bursts: a click, rushing air through a throat's two resonances, a short voiced end."""
    parts = []
    for _ in range(rng.integers(1, 4)):
        time = np.arange(int(rng.uniform(0.18, 0.4) * RATE_HZ)) / RATE_HZ
        air = rng.standard_normal(len(time)) * np.exp(-time / 0.09)
        voiced = np.sign(np.sin(2 * np.pi * rng.uniform(90, 220) * time)) * np.exp(-(((time - 0.16) / 0.06) ** 2)) * 0.4
        throat = _shaped(air + voiced, _throat(rng.uniform(450, 800), rng.uniform(1200, 1900)))
        parts += [throat, np.zeros(int(rng.uniform(0.05, 0.25) * RATE_HZ))]
    joined = np.concatenate(parts)
    return _rounded(joined / np.abs(joined).max() * 12000)


def leaking(sound: np.ndarray) -> np.ndarray:
    """A voice that leaks from a headset: 400 to 4,000 Hz, 20 dB down."""
    return np.round(0.1 * _shaped(sound, lambda hz: np.where((hz > 400) & (hz < 4000), 0.0, -40.0))).astype(np.int16)


PROMPTS = (
    "signal voltage at pin two, key on", "I heard four point nine eight volts", "limits are four point five to five point one volts",
    "step three of seven", "unplug the sensor and measure the resistance", "reading is low, wanted at least eleven point six volts",
    "say again, please", "stand by for the next step", "two hundred and fifty ohms, is that right", "back probe pin A three",
    "engine off, key off, wait ten seconds", "code P zero one zero seven is stored", "the wire between the plug and the control unit",
    "keep hands and sleeves clear of the belt and fan", "set the meter to volts", "correct, moving on", "that is out of limits",
    "battery is twelve point four volts", "watch the meter and wiggle the loom", "test complete, no fault found",
)  # fmt: skip
"""Sentences such as the tool speaks."""
