"""The record of every session: one SQLite file, one writer, every event on disk before the next step is spoken."""

import json
import threading
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from pathlib import Path
from typing import Any, Self

from runner.record import listing
from runner.record.chain import GENESIS, OWN_KEYS, Audit, EventError, Head, Link, audit_links, canonical, digest, plain
from runner.record.clock import Clock, SystemClock, utc_text
from runner.record.connection import Connection
from runner.record.database import in_words, one_transaction, open_to_read, open_to_write, refuse_other_files
from runner.record.listing import Listed, Listing, Wanted
from runner.record.migrations import version_of
from runner.record.onewriter import WriterLock, read_witness
from runner.record.sessions import UnknownSession, fitting_name, new_session_name
from runner.record.troubles import JournalBusy, JournalError, busy

Stored = dict[str, Any]


@dataclass(frozen=True)
class Beginning:
    """A session as others know it: by the hash of its first event, and how far it has come."""

    session: str
    id: str
    events: int
    head: str


class Journal:
    """Events of all sessions in one file; `open` to write one session, `read` to look at any."""

    def __init__(
        self, path: Path, db: Connection, *, session: str | None, lock: WriterLock | None, clock: Clock
    ) -> None:
        self.path = path
        self.session = session
        self._db, self._lock, self._clock = db, lock, clock
        self._one_at_a_time = threading.Lock()

    @classmethod
    def open(cls, path: Path | str, session: str | None = None, *, clock: Clock | None = None) -> "Journal":
        """Open for writing to a session, new or known (None: a new name). Only one program may at a time."""
        path, clock = Path(path), clock or SystemClock()
        refuse_other_files(path)
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            lock = WriterLock(path)
        except BlockingIOError as error:
            raise JournalBusy(busy(path)) from error
        except OSError as error:
            raise JournalError(
                f"The journal {path} cannot be written here ({error.strerror}). Name another place with --journal."
            ) from error
        try:
            db = open_to_write(path)
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
        return cls(path, open_to_read(path), session=None, lock=None, clock=SystemClock())

    def append(self, event: Mapping[str, Any]) -> Stored:
        """Put one event on disk; when this returns, it is there. Returns it as stored."""
        if self._lock is None or self.session is None:
            raise JournalError(f"{self.path} was opened for looking only; open it for writing to add to it.")
        facts = self._checked(event)
        with self._one_at_a_time:
            with one_transaction(self._db, self.path):
                stored = self._insert(facts)
            self._lock.witness(session=self.session, events=stored["sequence"], head=stored["hash"])
        return stored

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
        last = self._last_of_this_bay()
        if last is not None:
            if last[0] != self.session:  # ties the sessions together, so that the end of the one before is witnessed
                body["before"] = {"session": last[0], "sequence": last[1], "hash": last[2]}
            back_s = (datetime.fromisoformat(json.loads(last[3])["at_utc"]) - now).total_seconds()
            if back_s > 0.001:
                body["clock_back_s"] = round(back_s, 3)
        text = canonical(body)
        hashed = digest(text)
        self._put(Link(number + 1, text, hashed), body)
        return {**body, "hash": hashed}

    def _put(self, link: Link, event: Mapping[str, Any], *, imported_utc: str | None = None) -> None:
        """The event itself, how far its session is now, and its line in the list: all of them or none."""
        session, number = str(event["session"]), link.sequence
        if number > 1:
            self._db.execute("UPDATE sessions SET events = ?, head = ? WHERE session = ?", (number, link.hash, session))
        else:
            self._db.execute(
                "INSERT INTO sessions (session, opened_utc, events, head, imported_utc) VALUES (?, ?, 1, ?, ?)",
                (session, event["at_utc"], link.hash, imported_utc),
            )
        self._db.execute(
            "INSERT INTO events (session, sequence, type, body, hash) VALUES (?, ?, ?, ?, ?)",
            (session, number, event["type"], link.body, link.hash),
        )
        listing.put_line(self._db, listing.line_in(self._db, session).after(event))

    def _last_of_this_bay(self) -> tuple[str, int, str, str] | None:
        """The newest event that was written here; what came from another bay says nothing of this one's clock."""
        row = self._db.execute(
            "SELECT session, sequence, hash, body, position FROM events ORDER BY position DESC LIMIT 1"
        ).fetchone()
        brought = "SELECT 1 FROM sessions WHERE session = ? AND imported_utc IS NOT NULL"
        if row is None or self._db.execute(brought, (row[0],)).fetchone() is None:
            return row[:4] if row else None
        own = self._db.execute(
            """SELECT e.session, e.sequence, e.hash, e.body, max(e.position) FROM sessions s
            JOIN events e ON e.session = s.session AND e.sequence = s.events WHERE s.imported_utc IS NULL"""
        ).fetchone()
        return own[:4] if own and own[0] else None

    def take_in(self, session: str, links: Sequence[Link], *, now_utc: str) -> int:
        """Add another bay's events as they are, behind those of the session that lie here; how many were added.

        The caller has audited them. Raises JournalError when the session here is not the same one.
        """
        if self._lock is None:
            raise JournalError(f"{self.path} was opened for looking only; open it for writing to add to it.")
        with self._one_at_a_time, one_transaction(self._db, self.path):
            added = self._behind(session, links)
            for link in added:
                self._put(link, json.loads(link.body), imported_utc=now_utc)
        return len(added)

    def _behind(self, session: str, links: Sequence[Link]) -> Sequence[Link]:
        known = self._db.execute(
            "SELECT hash FROM events WHERE session = ? ORDER BY sequence LIMIT ?", (session, len(links))
        ).fetchall()
        for (here,), link in zip(known, links, strict=False):
            if here != link.hash:
                raise JournalError(
                    f"Session {session} is here already and differs from event {link.sequence} on. "
                    "Nothing was brought in; compare the two with `leadsman audit`."
                )
        return links[len(known) :]

    # --- looking ------------------------------------------------------------------------------------------------------

    def events(self, session: str | None = None) -> list[Stored]:
        """A session's events in their order; of the session being written when none is named."""
        wanted = self._named(session)
        with in_words(self.path):
            rows = self._db.execute(
                "SELECT body, hash FROM events WHERE session = ? ORDER BY sequence", (wanted,)
            ).fetchall()
        try:
            return [{**json.loads(body), "hash": hashed} for body, hashed in rows]
        except ValueError as error:
            raise JournalError(
                f"Session {wanted} in {self.path} holds an event that cannot be read. Audit it."
            ) from error

    def told(self, *kinds: str, flow: str = "", with_sound: bool = False) -> Iterator[tuple[str, list[Stored]]]:
        """Each session's events of these kinds, of one flow or of all; sessions without any are left out.

        with_sound: only sessions of which some sound is kept.
        """
        holds = [*(["l.flow = ?"] if flow else []), *(["l.sounds > 0"] if with_sound else [])]
        where = f"WHERE {' AND '.join(holds)}" if holds else ""
        with in_words(self.path):
            rows = self._db.execute(
                f"""SELECT e.session, e.body FROM listing l JOIN events e
                ON e.session = l.session AND e.type IN ({", ".join("?" * len(kinds))}) {where}
                ORDER BY l.number, e.sequence""",
                [*kinds, *([flow] if flow else [])],
            )
            for session, told in groupby(rows, key=lambda row: str(row[0])):
                yield session, [json.loads(body) for _session, body in told]

    def sessions(self) -> list[Listing]:
        """All sessions, the newest last."""
        with in_words(self.path):
            return listing.lines_in(self._db)

    def beginnings(self) -> list[Beginning]:
        """Sessions that were written here, not brought in from elsewhere; the newest last."""
        with in_words(self.path):
            where = "WHERE s.imported_utc IS NULL" if version_of(self._db) > 1 else ""
            rows = self._db.execute(
                f"""SELECT s.session, e.hash, s.events, s.head FROM sessions s
                JOIN events e ON e.session = s.session AND e.sequence = 1 {where} ORDER BY s.rowid"""
            ).fetchall()
        return [Beginning(*row) for row in rows]

    def listed(self, wanted: Wanted) -> Listed:
        """Sessions that fit, a page of them."""
        with in_words(self.path):
            return listing.wanted_in(self._db, wanted)

    def line(self, session: str) -> Listing:
        """One session's line. Raises UnknownSession when it is not here."""
        with in_words(self.path):
            line = listing.line_in(self._db, session)
        if not line.events:
            raise UnknownSession(f"There is no session {session!r} in {self.path}.")
        return line

    def find(self, name: str) -> str:
        """The full name of a session from its beginning or its end; "last" is the newest."""
        with in_words(self.path):
            names = [each for (each,) in self._db.execute("SELECT session FROM sessions ORDER BY rowid").fetchall()]
        return fitting_name(name, names, where=str(self.path))

    def links(self, session: str | None = None) -> list[Link]:
        """A session's events as they lie in the store, in the order they were stored in."""
        wanted = self._named(session)
        with in_words(self.path):
            rows = self._db.execute(
                "SELECT sequence, body, hash FROM events WHERE session = ? ORDER BY position", (wanted,)
            ).fetchall()
        return [Link(*row) for row in rows]

    def audit(self, session: str | None = None) -> Audit:
        """Whether anything was changed, taken out, put in another order or cut off since it was written."""
        wanted = self._named(session)
        links = self.links(wanted)
        with in_words(self.path):
            heads = list(self._heads(wanted))
        return audit_links(wanted, links, heads=heads)

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
