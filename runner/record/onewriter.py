"""One writer a journal: a locked file beside it that says who writes, and witnesses how far the record had come.

The file is written after each commit and not forced to disk: it may lag behind the journal, never lead it. A journal
that lacks an event its witness knows was cut.
"""

import json
import os
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

_SIZE = 512  # written in one piece, so that a kill leaves the old text or the new one


class WriterLock:
    """Held from opening to closing; the system lets go of it when the process dies, however it dies."""

    def __init__(self, journal: Path) -> None:
        self.path = journal.with_name(journal.name + ".writer")
        self._file: int | None = os.open(self.path, os.O_RDWR | os.O_CREAT, 0o644)
        try:
            _lock(self._file)
        except OSError:
            os.close(self._file)
            self._file = None
            raise
        self._facts: dict[str, Any] = {
            "process": os.getpid(),
            "command": " ".join([Path(sys.argv[0]).name or "python", *sys.argv[1:2]])[:80],
            "since_utc": datetime.now(UTC).isoformat(timespec="seconds").replace("+00:00", "Z"),
        }
        before = read_witness(journal)
        self._write({**self._facts, **{key: before[key] for key in ("session", "events", "head") if key in before}})

    def witness(self, *, session: str, events: int, head: str) -> None:
        """Note how far the record has come."""
        self._write({**self._facts, "session": session, "events": events, "head": head})

    def close(self) -> None:
        """Let the next writer in."""
        if self._file is not None:
            os.close(self._file)
            self._file = None

    def _write(self, facts: dict[str, Any]) -> None:
        assert self._file is not None, "the writer's lock is closed"
        try:
            os.lseek(self._file, 0, os.SEEK_SET)
            os.write(self._file, json.dumps(facts).encode("utf-8").ljust(_SIZE - 1)[: _SIZE - 1] + b"\n")
        except OSError:
            return  # a witness that cannot write (full disk) must not stop a journal that can


def read_witness(journal: Path) -> dict[str, Any]:
    """Who writes or wrote last, and how far; empty when there is no such file."""
    try:
        facts = json.loads(journal.with_name(journal.name + ".writer").read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return facts if isinstance(facts, dict) else {}


def _lock(file: int) -> None:
    if os.name == "nt":
        import msvcrt

        os.lseek(file, _SIZE, os.SEEK_SET)  # past the text, which stays readable
        msvcrt.locking(file, msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined,unused-ignore]
    else:
        import fcntl

        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
