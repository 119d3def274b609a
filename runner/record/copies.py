"""Copies of sessions as JSON Lines: written for elsewhere, and read from anywhere with bounds on what is believed."""

from collections.abc import Iterator
from pathlib import Path

from runner.record.chain import EventError, Link, read_export
from runner.record.journal import Journal

# Ten thousand times a session of an hour. A file is read whole, so this also bounds the memory it takes.
MOST_BYTES = 64 * 2**20
LONGEST_LINE = 256 * 2**10


def write_copy(journal: Journal, session: str, file: Path) -> int:
    """A session as it lies in the journal, an event a line; how many there are. The file is whole or not there."""
    unfinished = file.with_name(f"{file.name}.part")
    count = 0
    with unfinished.open("w", encoding="utf-8", newline="\n") as out:
        for line in journal.export_lines(session):
            out.write(line + "\n")
            count += 1
    unfinished.replace(file)
    return count


def read_copy(file: Path) -> dict[str, list[Link]]:
    """Session -> its events, as they stand in the file. Raises EventError for what is no copy, or too large to be one."""
    size = file.stat().st_size
    if size > MOST_BYTES:
        raise EventError(f"{file} has {size / 2**20:,.0f} MB; a copy of sessions has at most {MOST_BYTES // 2**20} MB.")
    found: dict[str, list[Link]] = {}
    try:
        for session, link in read_export(_lines(file)):
            found.setdefault(session, []).append(link)
    except UnicodeDecodeError as error:
        raise EventError(f"{file} is not text in UTF-8, so it is no copy of a session. Export it again.") from error
    if not found:
        raise EventError(f"{file} holds no events. Export the session again.")
    return found


def _lines(file: Path) -> Iterator[str]:
    with file.open(encoding="utf-8", newline="\n") as lines:
        number = 0
        while line := lines.readline(LONGEST_LINE + 1):
            number += 1
            if len(line) > LONGEST_LINE:
                raise EventError(f"line {number} of {file} is longer than any event ({LONGEST_LINE // 1024} KB).")
            yield line
