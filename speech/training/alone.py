"""Digits said alone by one voice, to be put together as strings the way people's single digits are.

Each set is two takes of every digit; `Clip.voice` begins with "digits" and names the set.
"""

from collections.abc import Callable
from random import Random

from speech.training import abroad, neural, voices
from speech.training.espeak import RATE_HZ as ESPEAK_HZ
from speech.training.texts import DIGITS
from speech.training.voices import Clip


def by_espeak(rng: Random) -> list[Clip]:
    """One accent and variant at one pitch, at a rate that moves a little."""
    accent, variant = rng.choice(voices.ACCENTS), rng.choice(voices.VARIANTS)
    ways = {word: voices._phones_in(accent, word, word) for word in DIGITS}
    rate, pitch, spread = rng.randrange(115, 225), rng.randrange(15, 85), rng.randrange(15, 80)
    engine, who = voices._espeak(), f"{accent}+{variant}"
    clips = []
    for word in (*DIGITS, *DIGITS):
        per_minute = int(rate * rng.uniform(0.92, 1.08))
        if not engine.choose(who, words_per_minute=per_minute, pitch=pitch + rng.randrange(-4, 5), spread=spread):
            return []
        sound = voices.trimmed(voices.to_rate(engine.say(word), ESPEAK_HZ))
        clips.append(Clip(sound, ways[word], word, f"digits espeak {who} {rate} {pitch}"))
    return clips


def from_abroad(rng: Random) -> list[Clip]:
    """One voice of another language."""
    said = abroad.abroad_clips([[word] for word in (*DIGITS, *DIGITS)], rng)
    number = rng.getrandbits(32)
    return [Clip(clip.sound, clip.phones, clip.text, f"digits {clip.voice} {number}") for clip in said]


SETS: dict[str, Callable[[Random], list[Clip]]] = {
    "digits": neural.digit_clips,
    "digits-espeak": by_espeak,
    "digits-abroad": from_abroad,
}
"""By engine, as speech.training.make knows them."""
