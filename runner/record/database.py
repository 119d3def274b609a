"""The journal's file opened: refused when it is something else, brought up to date, its errors in words. Only here: sqlite3."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

from runner.record import listing
from runner.record.connection import Connection
from runner.record.migrations import APPLICATION_ID, MIGRATIONS, migrate, version_of
from runner.record.troubles import JournalError, said


def open_to_write(path: Path) -> sqlite3.Connection:
    """The file, made when it is not there, in its newest form. The caller holds the writer's lock."""
    with in_words(path):
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
    return db


def open_to_read(path: Path) -> sqlite3.Connection:
    """The file as it lies; a list of sessions that it does not have yet is made beside it."""
    with in_words(path):
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
            if version_of(db) < len(MIGRATIONS):  # written by an older program, and not to be changed by a reader
                listing.make_listing(db, temporary=True)
                listing.fill_listing(db)
        except BaseException:
            db.close()
            raise
    return db


@contextmanager
def one_transaction(db: Connection, path: Path) -> Iterator[None]:
    """All of it on disk when this ends, or nothing of it."""
    with in_words(path):
        db.execute("BEGIN IMMEDIATE")
        try:
            yield
            db.execute("COMMIT")
        except BaseException:
            if db.in_transaction:
                db.execute("ROLLBACK")
            raise


@contextmanager
def in_words(path: Path) -> Iterator[None]:
    try:
        yield
    except sqlite3.Error as error:
        raise JournalError(said(path, error)) from error


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


def refuse_other_files(path: Path) -> None:
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
