"""Single-word choices a question may offer, and the longer ways people put them."""

from collections.abc import Mapping
from types import MappingProxyType

from speech.cardinals import DIGIT_WORDS, DIGITS

_WAYS: dict[str, tuple[str, ...]] = {
    "starting": ("starting", "no start", "not starting"),
    "stalling": ("stalling", "stalling at idle"),
    "power": ("power", "no power"),
    "idle": ("idle",),
    "smoke": ("smoke", "black smoke", "white smoke"),
    "light": ("light", "engine light", "light on"),
    "other": ("other",),
    "none": ("none",),
    "cold": ("cold",),
    "warm": ("warm",),
    "hot": ("hot",),
    "first": ("first",),
    "second": ("second",),
    "third": ("third",),
}

CHOICES: Mapping[str, str] = MappingProxyType({phrase: choice for choice, ways in _WAYS.items() for phrase in ways})
"""Each phrase and the choice it is; numbers one to nine are choices too."""


def parse_choice(words: str) -> str | None:
    """The choice these words are, a number as its figure, or None.

    >>> parse_choice("no power"), parse_choice("three"), parse_choice("four volts")
    ('power', '3', None)
    """
    said = " ".join(words.lower().split())
    if said in CHOICES:
        return CHOICES[said]
    number = DIGITS.get(said, 0)
    return str(number) if number and said in (*DIGIT_WORDS, "niner") else None
