"""Debian's beneath-a-steel-sky: 3,500 lines of its actors, 8 bits at 11 kHz, with their text.

The layout is that of the CD release of 1994, as the free engine that plays it documents: a list (`sky.dnr`) of numbered files in one
(`sky.dsk`), RNC packed or not; texts in eight sections, Huffman coded, found through tables of lengths; the sound of a
text has its number and the section's first.
"""

import struct
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TypeAlias

import numpy as np

from speech.training.actors import rnc
from speech.training.actors.line import Line

FOLDER = Path("/usr/share/scummvm/beneath-a-steel-sky")
RATE_HZ = 11025
HEAD = 22
"""Bytes before the samples of a sound, and before what is packed."""
TEXTS, SOUNDS = 60600, 50000
"""Numbers of the first section of English text, and of the first sound."""
SECTIONS = (0, 600, 1100, 2430, 3380, 4530, 5080, 5230)
"""Number of the first sound of each section."""
TREE = (
    "||| |ea|||os|tn||.ir|||||\0Eu|mA|||lI|dR||NST|||||Ohc|Dg|||LC|pU||!yM|||||PvH|?b|||'f,|GB|||||VkF|qw|||K-W|J*||||zY|j+|||Q$)||Z$<"
    '|||||$~$|$:|||$]#||xX$|||||$`2||0$1|||/(=|$^||||39|$4|||}8\\|"$||||&$|56||$$|$$||||$7$||$$|$@||||[$_|>$|||$%\t||$$|{|$!'
)
"""The Huffman tree of the letters, each fork (|) before its two branches; $ stands for letters that English has not."""

Fork: TypeAlias = "str | tuple[Fork, Fork]"


@dataclass(frozen=True)
class Place:
    """Where a file lies [bytes], and whether it stands there as it is."""

    first: int
    size: int
    plain: bool


def tree() -> Fork:
    marks = iter(TREE)

    def branch() -> Fork:
        mark = next(marks)
        return (branch(), branch()) if mark == "|" else mark

    return branch()


def places(index: bytes) -> dict[int, Place]:
    """Every file by its number. Raises ValueError when the list is cut short."""
    (count,) = struct.unpack_from("<I", index)
    if len(index) != 4 + 8 * count:
        raise ValueError(f"a list of {count} files has {len(index)} bytes: another version of the game's data")
    found = {}
    for number, first, size in ((e[:2], e[2:5], e[5:]) for e in (index[at : at + 8] for at in range(4, len(index), 8))):
        at, flags = int.from_bytes(first, "little"), int.from_bytes(size, "little")
        start = (at & 0x7FFFFF) << 4 if at >> 23 else at
        found[int.from_bytes(number, "little")] = Place(start, flags & 0x3FFFFF, plain=bool(flags >> 23))
    return found


def unpacked(data: bytes, place: Place) -> bytes:
    """A file as it is used."""
    found = data[place.first : place.first + place.size]
    if place.plain or not found[HEAD:].startswith(rnc.MARK):
        return found
    return found[:HEAD] + rnc.unpack(found[HEAD:])


def text(section: bytes, number: int, letters: Fork) -> str:
    """One text of a section. Raises IndexError or struct.error when the section has none of that number."""
    steps, first = struct.unpack_from("<HH", section)
    block = number >> 5
    quarters = sum(struct.unpack_from(f"<{block}H", section, 4))
    for step in section[steps + (block << 5) : steps + number]:
        quarters += (step & 0x7F) << 3 if step & 0x80 else step
    at, found = 2 * quarters, ""
    while True:
        fork = letters
        while not isinstance(fork, str):
            fork = fork[section[first + at // 8] >> (7 - at % 8) & 1]
            at += 1
        if fork == "\0":
            return found
        found += fork


def _sound(data: bytes, place: Place) -> tuple[np.ndarray, int]:
    samples = np.frombuffer(unpacked(data, place), np.uint8, offset=HEAD)
    return (samples.astype(np.int16) - 128) << 8, RATE_HZ


def spoken(files: Mapping[int, Place], data: bytes) -> Iterator[Line]:
    """Lines that have a sound, in the order of their numbers; the same people speak in all sections."""
    letters = tree()
    for section, (first, after) in enumerate(zip(SECTIONS, (*SECTIONS[1:], 6000), strict=True)):
        if TEXTS + section in files:
            texts = unpacked(data, files[TEXTS + section])
            for number in range(first, after):
                if (place := files.get(SOUNDS + number)) is not None:
                    said = text(texts, number - first, letters).lower()  # what is stressed stands in capitals
                    yield Line(f"sky{section}", said, partial(_sound, data, place))


def lines(folder: Path = FOLDER) -> list[Line]:
    """All lines. Raises FileNotFoundError without the game's data."""
    return list(spoken(places((folder / "sky.dnr").read_bytes()), (folder / "sky.dsk").read_bytes()))
