"""Debian's flight-of-the-amazon-queen: 6,700 lines of its actors, MP3 at 11 kHz, with their text.

Its layout, found by looking at it: a table of names, offsets and sizes; dialogues (`.DOG`) with numbered strings, first
the hero's (J), then what others answer (P), so that the third part of the hero's string 6 in dialogue 9 is the sound
090006J3.SB; scenes (`.CUT`) with strings in the order of their sounds. A string is a byte of its length and letters; a star
and two letters part it.
"""

import io
import re
import struct
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from pathlib import Path

import numpy as np
import soundfile

from speech.training.actors.line import Line

DATA = Path("/usr/share/scummvm/flight-of-the-amazon-queen/queen.1c")
HEAD, NAMES = b"QTBL", 13
"""What the file begins with, and where the number of its names stands; the names follow."""


def parts_of(data: bytes) -> dict[str, bytes]:
    """Every part of the file by its name. Raises ValueError when it is laid out otherwise."""
    if data[: len(HEAD)] != HEAD:
        raise ValueError(f"begins with {data[:8]!r}, not {HEAD!r}: another version of the game's data")
    (count,) = struct.unpack_from(">H", data, NAMES)
    rows = struct.iter_unpack(">12sBII", data[NAMES + 2 : NAMES + 2 + 21 * count])
    return {name.rstrip(b"\0").decode("latin1"): data[first : first + size] for name, _bundle, first, size in rows}


def spoken_parts(text: str) -> list[str]:
    """A string as its sounds have it, a part each, without the signs that move a figure."""
    parts = (part.strip(' "') for part in re.split(r"\*[0-9A-Za-z]{2}", text.replace("@", "")))
    return [part for part in parts if re.search("[A-Za-z]", part)]


def _string(data: bytes, at: int) -> str:
    """The string whose length stands at a place, "" where none does."""
    letters = data[at + 1 : at + 1 + data[at]]
    whole = len(letters) == data[at] >= 2 and all(32 <= one < 127 for one in letters)
    return letters.decode("ascii") if whole and re.search(rb"[A-Za-z]", letters) else ""


def dialogue(data: bytes) -> Iterator[tuple[str, str]]:
    """Names of sounds, and what is said in them, of one dialogue."""
    _levels, number, _same, his = struct.unpack_from(">4h", data, 20)
    at, found = 24, 0
    while at < len(data) - 4:
        text = _string(data, at + 2)
        if not text:
            at += 2
            continue
        who = "J" if found < his else "P"
        (line,) = struct.unpack_from(">H", data, at)
        for turn, part in enumerate(spoken_parts(text), 1):
            yield f"{number:02d}{line:04X}{who}{turn}.SB", part
        found += 1
        at += 3 + len(text)
        at += at % 2


def scene(data: bytes, sounds: Sequence[str]) -> Iterator[tuple[str, str]]:
    """The same of one scene, whose sounds are named in order (NAME_LLN.SB: line and part); only when all of them fit."""
    strings, at = [], 0
    while at < len(data) - 3:
        text = _string(data, at)
        strings += [text] if len(text) > 2 else []
        at += 1 + (len(text) if len(text) > 2 else 0)
    said = [parts for parts in map(spoken_parts, strings) if re.search("[a-z]", "".join(parts))]
    lines: dict[str, list[str]] = defaultdict(list)
    for name in sounds:
        lines[name[5:7]].append(name)
    if [len(parts) for parts in said] == [len(names) for names in lines.values()]:
        for parts, names in zip(said, lines.values(), strict=True):
            yield from zip(names, parts, strict=True)


def lines_of(parts: Mapping[str, bytes]) -> dict[str, str]:
    """What is said in each sound whose text is known."""
    sounds = sorted(name for name in parts if name.endswith(".SB"))
    scenes: dict[str, list[str]] = defaultdict(list)
    for name in sounds:
        if re.match(r"C\w{3}[0-9_]?\w\w\w\.SB", name):
            scenes[name[:4].rstrip("_")].append(name)
    found: dict[str, str] = {}
    for name, data in parts.items():
        if name.endswith(".DOG"):
            found |= {sound: text for sound, text in dialogue(data) if sound in parts}
        elif name.endswith(".CUT"):
            found |= dict(scene(data, scenes.get(name[:-4], [])))
    return {
        sound: text for sound, text in found.items() if "*" not in text
    }  # a sign left over: begun in the wrong place


def who_says(sound: str) -> str:
    """The hero, or the dialogue or scene somebody speaks in; one actor may stand behind several."""
    if sound[0].isdigit():
        return "hero" if sound[6] == "J" else sound[:2]
    return sound[:3]


def _sound(data: bytes) -> tuple[np.ndarray, int]:
    read, rate_hz = soundfile.read(io.BytesIO(data), dtype="int16")
    return np.asarray(read), rate_hz


def lines(path: Path = DATA) -> list[Line]:
    """All lines whose text is known. Raises FileNotFoundError without the game's data."""
    parts = parts_of(path.read_bytes())
    return [Line(who_says(name), text, partial(_sound, parts[name])) for name, text in sorted(lines_of(parts).items())]
