"""What can be said to steer the tool: each phrase and the one name it stands for."""

from collections.abc import Mapping
from types import MappingProxyType

_EVERYWHERE: dict[str, tuple[str, ...]] = {
    "say_again": ("say again", "repeat", "repeat that"),
    "why": ("why",),
    "limits": ("limits", "what limits"),
    "help": ("help",),
    "pause": ("stand by", "pause"),
    "resume": ("go ahead", "resume", "continue"),
    "wrong": ("wrong", "that is wrong"),
    "correction": ("correction",),
    "disregard": ("disregard", "cancel"),
    "back": ("go back", "back"),
    "cannot": ("cannot", "cannot reach", "cannot reach it"),
    "slower": ("slower",),
    "faster": ("faster",),
    "louder": ("louder",),
    "quieter": ("quieter",),
    "note": ("note",),
    "enough": ("enough",),
    "suspects": ("suspects",),
    "left": ("how many left",),
    "stop": ("stop test", "stop the test"),
    "hand_over": ("hand over",),
}
_ANSWERS: dict[str, tuple[str, ...]] = {
    "yes": (
        "affirm",
        "affirmative",
        "yes",
        "yes it is",
        "yeah",
        "yep",
        "correct",
        "that is correct",
        "okay",
        "confirm",
    ),
    "no": ("no", "nope"),
    "set": ("set", "ready", "all set", "done"),
    "fine": ("fine", "good", "all good"),
    "bad": ("bad", "not good"),
    "cant_see": ("can't see", "can't see it", "cannot see", "cannot see it"),
    "steady": ("steady",),
    "moved": ("moved",),
    "clear": ("clear", "all clear"),
    "cold": ("cold",),
    "warm": ("warm",),
}


def _phrases(table: dict[str, tuple[str, ...]]) -> dict[str, str]:
    return {phrase: name for name, phrases in table.items() for phrase in phrases}


EVERYWHERE: Mapping[str, str] = MappingProxyType(_phrases(_EVERYWHERE))
"""Phrases that may be said whatever is listened for."""

COMMANDS: Mapping[str, str] = MappingProxyType({**_phrases(_EVERYWHERE), **_phrases(_ANSWERS)})
"""Every phrase and its canonical name. "Negative" is never a no: it begins a reading."""

NAMES: tuple[str, ...] = tuple(dict.fromkeys(COMMANDS.values()))

YES_NO: Mapping[str, str] = MappingProxyType({p: n for p, n in COMMANDS.items() if n in ("yes", "no")})

_ANSWER_PREFIXES = ("uh", "um")


def parse_command(words: str) -> str | None:
    """The command these words are, or None when they are something else.

    "correction" with anything after it is a command too: the value follows it.

    >>> parse_command("say again"), parse_command("correction four point two volts"), parse_command("four volts")
    ('say_again', 'correction', None)
    """
    said = words.lower().split()
    while said and said[0] in _ANSWER_PREFIXES:
        said.pop(0)
    phrase = " ".join(said)
    if phrase in COMMANDS:
        return COMMANDS[phrase]
    if said and said[0] == "correction":
        return "correction"
    halves = len(said) // 2
    if halves and said[:halves] == said[halves:]:  # said twice: "stop test stop test"
        return COMMANDS.get(" ".join(said[:halves]))
    return None
