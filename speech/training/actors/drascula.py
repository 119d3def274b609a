"""Debian's drascula: 700 lines of its actors in English, 8 bits at 11 kHz, with their text.

Its layout, found by looking at it: a sound a file, named by a letter or two of who says it and a number (`D12.ALS`; a number
alone is the hero). Texts stand in groups in `drascula.dat`: how many, then for each of six languages the bytes that
follow and the texts, each with its length before it and zeros behind it.
"""

import struct
from collections.abc import Iterator
from functools import partial
from pathlib import Path

import numpy as np

from speech.training.actors.line import Line

FOLDER = Path("/usr/share/scummvm/drascula/en")
RATE_HZ = 11025
MARK = b"DRASCULA\x06"
FIRST = 501
"""Texts in the first group, which is found by their number."""
LANGUAGES = 6
WHO = ("", "D", "B", "BJ", "E", "I", "L", "P", "T", "VB")
"""How the sounds of each group begin."""


def _texts(body: bytes) -> list[str]:
    found, at = [], 2
    while at + 2 <= len(body):
        (size,) = struct.unpack_from(">H", body, at)
        if size < 2:
            raise ValueError(f"a text of {size} bytes with its length: another version of the game's data")
        found.append(body[at + 2 : at + size].rstrip(b"\0").decode("latin1"))
        at += size
    return found


def groups(data: bytes) -> Iterator[list[str]]:
    """The English texts of each group by their number. Raises ValueError when the file is laid out otherwise."""
    if not data.startswith(MARK):
        raise ValueError(f"begins with {data[:9]!r}, not {MARK!r}: another version of the game's data")
    at = next(
        (p for p in range(len(MARK), len(data) - 8) if data[p : p + 2] == FIRST.to_bytes(2, "big") and _fits(data, p)),
        -1,
    )
    if at < 0:
        raise ValueError(f"no group of {FIRST} texts in it: another version of the game's data")
    for _who in WHO:
        at += 2
        for language in range(LANGUAGES):
            if at + 2 > len(data):
                raise ValueError(f"ends before the texts of {WHO}: cut short, or another version of the game's data")
            (size,) = struct.unpack_from(">H", data, at)
            if language == 0:
                yield _texts(data[at + 2 : at + 2 + size])
            at += 2 + size


def _fits(data: bytes, at: int) -> bool:
    """Whether as many texts follow as are told."""
    count, size = struct.unpack_from(">HH", data, at)
    try:
        return len(_texts(data[at + 4 : at + 4 + size])) == count
    except (ValueError, struct.error):
        return False


def _sound(path: Path) -> tuple[np.ndarray, int]:
    return (np.frombuffer(path.read_bytes(), np.uint8).astype(np.int16) - 128) << 8, RATE_HZ


def lines(folder: Path = FOLDER) -> list[Line]:
    """All lines that have a sound. Raises FileNotFoundError without the game's data."""
    return [
        Line(f"drascula{who}", text.lower(), partial(_sound, path))
        for who, texts in zip(WHO, groups((folder / "drascula.dat").read_bytes()), strict=True)
        for number, text in enumerate(texts)
        if (path := folder / f"{who}{number}.ALS").exists() and text
    ]
