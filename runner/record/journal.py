"""The record of every session: one SQLite file, one writer, every event on disk before the next step is spoken."""

import json
import sqlite3
import threading
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Protocol, Self

from runner.errors import RunError
from runner.record.chain import GENESIS, OWN_KEYS, Audit, EventError, Head, Link, audit_links, canonical, digest, plain
from runner.record.migrations import APPLICATION_ID, MIGRATIONS, migrate, version_of
from runner.record.onewriter import WriterLock, read_witness
from runner.record.sessions import SessionLine, fitting_name, new_session_name

Stored = dict[str, Any]


class JournalError(RunError):
    """The journal could not be opened, read or written."""


class JournalBusy(JournalError):  # noqa: N818  the name its callers use
    """Another program writes this journal."""


class Clock(Protocol):
    """Where times come from."""

    def utc(self) -> datetime:
        """The time of day, which a person or a time server may set back."""

    def mono_s(self) -> float:
        """Seconds that never run backwards, from an arbitrary start."""


class SystemClock:
    """This computer's clock."""

    def utc(self) -> datetime:
        """Now."""
        return datetime.now(UTC)

    def mono_s(self) -> float:
        """Seconds since this computer started."""
        return time.monotonic()


def utc_text(moment: datetime) -> str:
    """ISO 8601 in UTC, to the millisecond."""
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


class Journal:
    """Events of all sessions in one file; `open` to write one session, `read` to look at any."""

    def __init__(
        self, path: Path, db: sqlite3.Connection, *, session: str | None, lock: WriterLock | None, clock: Clock
    ) -> None:
        self.path = path
        self.session = session
        self._db, self._lock, self._clock = db, lock, clock
        self._one_at_a_time = threading.Lock()

    @classmethod
    def open(cls, path: Path | str, session: str | None = None, *, clock: Clock | None = None) -> "Journal":
        """Open for writing to a session, new or known (None: a new name). Only one program may at a time."""
        path, clock = Path(path), clock or SystemClock()
        _refuse_other_files(path)
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            lock = WriterLock(path)
        except BlockingIOError as error:
            raise JournalBusy(_busy(path)) from error
        except OSError as error:
            raise JournalError(
                f"The journal {path} cannot be written here ({error.strerror}). Name another place with --journal."
            ) from error
        try:
            with _in_words(path):
                db = _connect(path, "rwc")
                try:
                    _refuse_strangers(db, path)
                    db.execute("PRAGMA journal_mode = WAL")
                    db.execute("PRAGMA synchronous = FULL")
                    db.execute("PRAGMA foreign_keys = ON")
                    migrate(db)
                except BaseException:
                    db.close()
                    raise
        except BaseException:
            lock.close()
            raise
        return cls(path, db, session=session or new_session_name(clock.utc()), lock=lock, clock=clock)

    @classmethod
    def read(cls, path: Path | str) -> "Journal":
        """Open for looking only; may be done while another program writes."""
        path = Path(path)
        if not path.is_file():
            raise JournalError(f"There is no journal at {path}. Run a session first, or name the file with --journal.")
        with _in_words(path):
            db = _connect(path, "ro")
            try:
                try:
                    _refuse_strangers(db, path)
                except sqlite3.OperationalError:  # a folder that cannot be written, and no writer: read it as it lies
                    db.close()
                    db = _copy_in_memory(path)
                    _refuse_strangers(db, path)
                if version_of(db) == 0:
                    raise JournalError(f"{path} is an empty file. Run a session first, or name another with --journal.")
            except BaseException:
                db.close()
                raise
        return cls(path, db, session=None, lock=None, clock=SystemClock())

    def append(self, event: Mapping[str, Any]) -> Stored:
        """Put one event on disk; when this returns, it is there. Returns it as stored."""
        if self._lock is None or self.session is None:
            raise JournalError(f"{self.path} was opened for looking only; open it for writing to add to it.")
        facts = self._checked(event)
        with self._one_at_a_time, _in_words(self.path):
            self._db.execute("BEGIN IMMEDIATE")
            try:
                stored = self._insert(facts)
            except BaseException:
                if self._db.in_transaction:
                    self._db.execute("ROLLBACK")
                raise
            self._commit()
            self._lock.witness(session=self.session, events=stored["sequence"], head=stored["hash"])
        return stored

    def _commit(self) -> None:
        try:
            self._db.execute("COMMIT")
        except BaseException:
            if self._db.in_transaction:
                self._db.execute("ROLLBACK")
            raise

    def _checked(self, event: Mapping[str, Any]) -> Stored:
        kind = event.get("type")
        if not isinstance(kind, str) or not kind:
            raise EventError(f"An event needs a type in words; this one has {kind!r}.")
        if own := sorted(OWN_KEYS & event.keys()):
            raise EventError(f"The event {kind} brings {own[0]!r} itself; the journal puts that on.")
        if event.get("session", self.session) != self.session:
            raise EventError(f"The event {kind} is of session {event['session']}; this journal writes {self.session}.")
        return dict(plain(event, at=kind))

    def _insert(self, facts: Stored) -> Stored:
        known = self._db.execute("SELECT events, head FROM sessions WHERE session = ?", (self.session,)).fetchone()
        number, previous = (known[0], known[1]) if known else (0, GENESIS)
        now = self._clock.utc()
        body: Stored = {
            **facts,
            "session": self.session,
            "sequence": number + 1,
            "previous": previous,
            "at_utc": utc_text(now),
            "at_mono_s": round(self._clock.mono_s(), 4),
        }
        last = self._db.execute(
            "SELECT session, sequence, hash, body FROM events ORDER BY position DESC LIMIT 1"
        ).fetchone()
        if last is not None:
            if last[0] != self.session:  # ties the sessions together, so that the end of the one before is witnessed
                body["before"] = {"session": last[0], "sequence": last[1], "hash": last[2]}
            back_s = (datetime.fromisoformat(json.loads(last[3])["at_utc"]) - now).total_seconds()
            if back_s > 0.001:
                body["clock_back_s"] = round(back_s, 3)
        text = canonical(body)
        hashed = digest(text)
        if known:
            self._db.execute(
                "UPDATE sessions SET events = ?, head = ? WHERE session = ?", (number + 1, hashed, self.session)
            )
        else:
            self._db.execute("INSERT INTO sessions VALUES (?, ?, 1, ?)", (self.session, body["at_utc"], hashed))
        self._db.execute(
            "INSERT INTO events (session, sequence, type, body, hash) VALUES (?, ?, ?, ?, ?)",
            (self.session, number + 1, body["type"], text, hashed),
        )
        return {**body, "hash": hashed}

    # --- looking ------------------------------------------------------------------------------------------------------

    def events(self, session: str | None = None) -> list[Stored]:
        """A session's events in their order; of the session being written when none is named."""
        wanted = self._named(session)
        with _in_words(self.path):
            rows = self._db.execute(
                "SELECT body, hash FROM events WHERE session = ? ORDER BY sequence", (wanted,)
            ).fetchall()
        try:
            return [{**json.loads(body), "hash": hashed} for body, hashed in rows]
        except ValueError as error:
            raise JournalError(
                f"Session {wanted} in {self.path} holds an event that cannot be read. Audit it."
            ) from error

    def sessions(self) -> list[SessionLine]:
        """All sessions, the newest last."""
        with _in_words(self.path):
            rows = self._db.execute(
                """SELECT s.session, s.opened_utc, s.events, e.type, e.body FROM sessions s
                JOIN events e ON e.session = s.session
                WHERE e.type IN ('opened', 'found', 'resumed', 'closed') OR e.sequence = s.events
                ORDER BY s.rowid, e.sequence"""
            ).fetchall()
        lines: dict[str, SessionLine] = {}
        for session, opened_utc, count, kind, body in rows:
            line = lines.get(session) or SessionLine(session, opened_utc, opened_utc, count, "", "", "", "open", None)
            lines[session] = line.after(kind, json.loads(body))
        return list(lines.values())

    def find(self, name: str) -> str:
        """The full name of a session from its beginning or its end; "last" is the newest."""
        return fitting_name(name, [line.session for line in self.sessions()], where=str(self.path))

    def audit(self, session: str | None = None) -> Audit:
        """Whether anything was changed, taken out, put in another order or cut off since it was written."""
        wanted = self._named(session)
        with _in_words(self.path):
            rows = self._db.execute(
                "SELECT sequence, body, hash FROM events WHERE session = ? ORDER BY position", (wanted,)
            ).fetchall()
            heads = list(self._heads(wanted))
        return audit_links(wanted, [Link(*row) for row in rows], heads=heads)

    def _heads(self, session: str) -> Iterator[Head]:
        row = self._db.execute("SELECT events, head FROM sessions WHERE session = ?", (session,)).fetchone()
        if row:
            yield Head(row[0], row[1], "the list of sessions")
        others = self._db.execute(
            """SELECT session, json_extract(body, '$.before.sequence'), json_extract(body, '$.before.hash') FROM events
            WHERE session != ? AND json_valid(body) AND json_extract(body, '$.before.session') = ?""",
            (session, session),
        ).fetchall()
        for other, events, head in others:
            yield Head(int(events), str(head), f"session {other}")
        witness = read_witness(self.path)
        if witness.get("session") == session and isinstance(witness.get("events"), int):
            yield Head(witness["events"], str(witness.get("head")), "the writer's file")

    def export_lines(self, session: str | None = None) -> Iterator[str]:
        """A session as JSON Lines, each event with its hash; `runner.record.chain.read_export` audits a copy."""
        for event in self.events(session):
            yield canonical(event)

    def _named(self, session: str | None) -> str:
        wanted = session or self.session
        if wanted is None:
            raise JournalError("Name the session to look at.")
        return wanted

    # --- closing ------------------------------------------------------------------------------------------------------

    def close(self) -> None:
        """Close the file and let the next writer in; what was appended is on disk already."""
        self._db.close()
        if self._lock is not None:
            self._lock.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_what: object) -> None:
        self.close()


# --- opening ----------------------------------------------------------------------------------------------------------


def _connect(path: Path, mode: str) -> sqlite3.Connection:
    uri = f"{path.absolute().as_uri()}?mode={mode}"
    return sqlite3.connect(uri, uri=True, isolation_level=None, timeout=5.0, check_same_thread=False)


def _copy_in_memory(path: Path) -> sqlite3.Connection:
    """A journal in a folder that cannot be written, with the last events a killed writer left in its write-ahead file."""
    memory = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)
    with TemporaryDirectory() as folder:
        copy = Path(folder) / path.name
        for name in (path.name, f"{path.name}-wal"):
            if path.with_name(name).is_file():
                copy.with_name(name).write_bytes(path.with_name(name).read_bytes())
        opened = _connect(copy, "rw")
        try:
            opened.backup(memory)
        finally:
            opened.close()
    return memory


def _refuse_other_files(path: Path) -> None:
    """Before anything is laid beside it: a file that is no database at all is left alone."""
    try:
        with path.open("rb") as file:
            opening = file.read(16)
    except OSError:
        return  # not there yet, or said better when it is opened for good
    if opening and opening != b"SQLite format 3\x00":
        raise JournalError(f"{path} is not a journal. Name another file with --journal.")


def _refuse_strangers(db: sqlite3.Connection, path: Path) -> None:
    tables = db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
    mark = db.execute("PRAGMA application_id").fetchone()[0]
    if tables and mark != APPLICATION_ID:
        raise JournalError(f"{path} is a database of another program, not a journal. Name another file with --journal.")
    version = version_of(db)
    if version > len(MIGRATIONS):
        raise JournalError(
            f"{path} was written by a newer version of this program (its form {version}, known here {len(MIGRATIONS)}). "
            "Update the program, or name another file with --journal."
        )


def _busy(path: Path) -> str:
    who = read_witness(path)
    by = (
        f"process {who['process']} ({who.get('command')}) since {who.get('since_utc')}"
        if "process" in who
        else "another"
    )
    return f"The journal {path} is being written by {by}. Stop that one, or give this one its own file with --journal."


@contextmanager
def _in_words(path: Path) -> Iterator[None]:
    try:
        yield
    except sqlite3.Error as error:
        raise JournalError(_said(path, error)) from error


def _said(path: Path, error: sqlite3.Error) -> str:
    name = getattr(error, "sqlite_errorname", "") or ""
    if name.startswith("SQLITE_FULL"):
        return (
            f"The disk is full: the last event is not in {path}, all before it are. Make room, then resume the session."
        )
    if name.startswith(("SQLITE_READONLY", "SQLITE_CANTOPEN", "SQLITE_PERM")):
        return f"The journal {path} cannot be written here ({error}). Name another place with --journal."
    if name.startswith("SQLITE_NOTADB"):
        return f"{path} is not a journal, or its beginning is destroyed. Name another file with --journal."
    if name.startswith("SQLITE_BUSY"):
        return f"The journal {path} is held by another program. Close that program, then run this again."
    if name.startswith(("SQLITE_CORRUPT", "SQLITE_IOERR")):
        return f"The journal {path} is damaged or its disk fails ({error}). Copy it away before anything else."
    return f"The journal {path} could not be used: {error}."
