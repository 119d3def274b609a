"""Actors' voices and the words they say, out of the data of three adventure games in Debian's main archive.

`queen`, `sky` and `drascula` read one each. All may be given away and changed, not sold by themselves, and what is changed
must say so: their copyright files. Lines by some dozens of people, acted, at 11 kHz.
"""

import re
from collections.abc import Sequence

from speech.training.actors import drascula, queen, sky
from speech.training.actors.line import Line
from speech.training.voices import RATE_HZ, Clip, phones_of, to_rate, trimmed

HELD_BACK = frozenset({"05", "25", "38", "48", "60", "69", "74"})
"""Dialogues of `queen` whose answers are never trained on: development."""
PHONES_A_S = (2.5, 24.0)
"""A line said slower or quicker than this is another line, or a cry."""


def have() -> bool:
    """Whether all games' data are there: with some alone, the numbers of the lines would be others."""
    return queen.DATA.exists() and sky.FOLDER.exists() and drascula.FOLDER.exists()


def learned() -> list[Line]:
    """The lines to train on, always in the same order. Raises FileNotFoundError without the games' data."""
    return [line for line in (*queen.lines(), *sky.lines(), *drascula.lines()) if line.who not in HELD_BACK]


def kept_back() -> list[Line]:
    """The lines of HELD_BACK. Raises FileNotFoundError without the game's data."""
    return [line for line in queen.lines() if line.who in HELD_BACK]


def clips(lines: Sequence[Line]) -> list[Clip]:
    """Lines with the phones of their text; those that cannot be the text they have are left out."""
    found = []
    for line in lines:
        words = " ".join(re.sub(r"[^A-Za-z0-9',.?! -]", " ", line.text).split())
        sound, phones = trimmed(to_rate(*line.sound())), phones_of(words)
        if PHONES_A_S[0] < len(phones) / max(0.25, len(sound) / RATE_HZ) < PHONES_A_S[1] and len(phones) > 1:
            found.append(Clip(sound, phones, words, f"actors {line.who}"))
    return found
