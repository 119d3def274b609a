"""The journal's schema as numbered steps, each in a transaction of its own; a step once shipped is never edited."""

from collections.abc import Callable, Sequence

from runner.record.connection import Connection
from runner.record.listing import fill_listing, make_listing

# Marks a SQLite file as a Leadsman journal ("LdsJ").
APPLICATION_ID = 0x4C64734A


def events_and_sessions(db: Connection) -> None:
    """Events are only ever added; the triggers say so to every other program as well."""
    db.execute(
        """CREATE TABLE sessions (
            session TEXT PRIMARY KEY,
            opened_utc TEXT NOT NULL,
            events INTEGER NOT NULL,
            head TEXT NOT NULL
        ) STRICT"""
    )
    db.execute(
        """CREATE TABLE events (
            position INTEGER PRIMARY KEY,
            session TEXT NOT NULL REFERENCES sessions (session),
            sequence INTEGER NOT NULL,
            type TEXT NOT NULL,
            body TEXT NOT NULL,
            hash TEXT NOT NULL,
            UNIQUE (session, sequence)
        ) STRICT"""
    )
    for verb in ("UPDATE", "DELETE"):
        db.execute(
            f"""CREATE TRIGGER events_no_{verb.lower()} BEFORE {verb} ON events
            BEGIN SELECT RAISE(ABORT, 'events are never changed or removed'); END"""
        )


def lines_and_origin(db: Connection) -> None:
    """A line for each session to be listed by, and whether it was brought in from another bay."""
    db.execute("ALTER TABLE sessions ADD COLUMN imported_utc TEXT")
    make_listing(db)
    fill_listing(db)


def lines_with_sounds(db: Connection) -> None:
    """The lines made anew, now that they count what sound is kept."""
    db.execute("DROP TABLE listing")
    make_listing(db)
    fill_listing(db)


MIGRATIONS: tuple[Callable[[Connection], None], ...] = (events_and_sessions, lines_and_origin, lines_with_sounds)


def version_of(db: Connection) -> int:
    """How many migrations this file has had."""
    return int(db.execute("PRAGMA user_version").fetchone()[0])


def migrate(db: Connection, *, steps: Sequence[Callable[[Connection], None]] = MIGRATIONS) -> None:
    """Bring the file up to date; killed in between, it stands at a whole step."""
    for number in range(version_of(db), len(steps)):
        db.execute("BEGIN IMMEDIATE")
        try:
            steps[number](db)
            db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            db.execute(f"PRAGMA user_version = {number + 1}")
        except BaseException:
            db.execute("ROLLBACK")
            raise
        db.execute("COMMIT")
