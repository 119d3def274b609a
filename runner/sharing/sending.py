"""Whole sessions sent from a bay's journal to the shared database: as often as one likes, from many bays at once.

Each session goes in one transaction of its own, behind a lock on its row, and only what is not there yet is sent. Cut
off anywhere, the next run goes on from there; run twice, the second finds nothing to do.
"""

import json
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, select
from sqlalchemy.dialects.postgresql import insert

from runner.record.across import asking_of, rows_of
from runner.record.chain import Link
from runner.record.journal import Beginning, Journal
from runner.record.listing import UNFINISHED, Listing, line_of
from runner.sharing.database import SharingError, in_words
from runner.sharing.schema import events, readings, sessions

_LOOKED_UP_AT_ONCE = 500


@dataclass(frozen=True)
class Sent:
    """What one run did. `open`: sessions still running, which go when they are closed."""

    sessions: int = 0
    events: int = 0
    already: int = 0
    open: int = 0
    differing: tuple[str, ...] = ()  # there under the same first event, but not the same further on


def share(
    journal: Path, engine: Engine, *, bay: str, before: Callable[[Sequence[dict[str, Any]]], None] = lambda events: None
) -> Sent:
    """Send every closed session of this bay's own that is not there yet.

    before: called with a session's events before it is sent, for what must be there first, such as its sound.
    """
    done = Sent()
    with Journal.read(journal) as found:
        beginnings = found.beginnings()
        for start in range(0, len(beginnings), _LOOKED_UP_AT_ONCE):
            some = beginnings[start : start + _LOOKED_UP_AT_ONCE]
            with in_words(engine), engine.connect() as connection:
                there = _there(connection, [each.id for each in some])
            for beginning in some:
                done = _after(done, found, beginning, there.get(beginning.id), engine=engine, bay=bay, before=before)
    return done


def _there(connection: Connection, ids: Sequence[str]) -> dict[str, tuple[int, str]]:
    query = select(sessions.c.id, sessions.c.events, sessions.c.head).where(sessions.c.id.in_(ids))
    return {row.id: (row.events, row.head) for row in connection.execute(query)}


def _after(
    done: Sent,
    journal: Journal,
    beginning: Beginning,
    there: tuple[int, str] | None,
    *,
    engine: Engine,
    bay: str,
    before: Callable[[Sequence[dict[str, Any]]], None],
) -> Sent:
    """The count once this session was dealt with."""
    counts = {**asdict(done)}
    if there is not None and there[0] >= beginning.events:
        same = there[0] > beginning.events or there[1] == beginning.head
        counts["already"] += same
        counts["differing"] = done.differing if same else (*done.differing, beginning.session)
        return Sent(**counts)
    links = journal.links(beginning.session)
    told = [json.loads(link.body) for link in links]
    line = line_of(beginning.session, told)
    if line.status in UNFINISHED[:2]:
        counts["open"] += 1
        return Sent(**counts)
    before(told)
    try:
        with in_words(engine), engine.begin() as connection:
            added = send(connection, links, told, line, bay=bay)
    except Differs:
        counts["differing"] = (*done.differing, beginning.session)
        return Sent(**counts)
    counts["sessions"] += bool(added)
    counts["already"] += not added  # another run of this bay sent it meanwhile
    counts["events"] += added
    return Sent(**counts)


class Differs(SharingError):  # noqa: N818  what it does, not that it went wrong
    """What is there is not the beginning of what is here."""


def send(
    connection: Connection, links: Sequence[Link], told: Sequence[dict[str, Any]], line: Listing, *, bay: str
) -> int:
    """Put a session there, or what it has grown by; how many events were added. In the caller's transaction."""
    first = links[0].hash
    row = _locked(connection, first)
    if row is None:
        new = {**_columns(line, told), "id": first, "name": line.session, "bay": bay, "head": GONE, "events": 0}
        for shown in (line.session, f"{line.session}.{first[:12]}"):  # another bay may have drawn the same name
            if row is None:
                connection.execute(insert(sessions).values(**new, session=shown).on_conflict_do_nothing())
                row = _locked(connection, first)
    assert row is not None, f"{line.session} was neither there nor could be put there"
    if row.events and (row.events > len(links) or links[row.events - 1].hash != row.head):
        raise Differs(f"Session {line.session} differs from what is there after event {row.events}.")
    fresh = links[row.events :]
    if not fresh:
        return 0
    _copy_events(connection, first, fresh, told[row.events :])
    _put_readings(connection, first, line, told, after=row.events)
    connection.execute(
        sessions.update()
        .where(sessions.c.id == first)
        .values(**_columns(line, told), events=len(links), head=links[-1].hash)
    )
    return len(fresh)


GONE = "0" * 64  # the head of a session of which nothing is there yet


def _locked(connection: Connection, first: str) -> Any:
    """How much of a session is there, held until the transaction ends; None when nothing is."""
    query = select(sessions.c.events, sessions.c.head).where(sessions.c.id == first).with_for_update()
    return connection.execute(query).one_or_none()


def _columns(line: Listing, told: Sequence[dict[str, Any]]) -> dict[str, Any]:
    facts = {**asdict(line), "attention": line.attention, "words": line.words}
    for name in ("session", "events", "opened_utc", "last_utc"):
        del facts[name]
    asked = asking_of(line.session, line.person, told)
    return {
        **facts,
        "opened_at": _moment(line.opened_utc),
        "last_at": _moment(line.last_utc),
        "readings": asked.readings,
        "calls": asked.calls,
        "above_noise_db": asked.above_noise_db,
    }


def _moment(text: str) -> datetime:
    return datetime.fromisoformat(text)


def _copy_events(connection: Connection, first: str, links: Sequence[Link], told: Sequence[dict[str, Any]]) -> None:
    """PostgreSQL's COPY, some ten times as fast as rows one by one."""
    cursor = connection.connection.cursor()
    names = ", ".join(column.name for column in events.c)
    with cursor.copy(f"COPY events ({names}) FROM STDIN") as copy:  # type: ignore[attr-defined]
        for link, event in zip(links, told, strict=True):
            copy.write_row((first, link.sequence, event["type"], event["at_utc"], link.body, link.hash))


def _put_readings(
    connection: Connection, first: str, line: Listing, told: Sequence[dict[str, Any]], *, after: int
) -> None:
    rows = [
        {
            **{name: value for name, value in asdict(row).items() if name in readings.c},
            "session_id": first,
            "flow": line.flow,
            "at": _moment(row.at_utc),
        }
        for row in rows_of(line.session, told)
    ]
    # A reading of before may have been judged only now, when a session was cut off between the two.
    rows = [row for row in rows if row["sequence"] >= after]
    if not rows:
        return
    put = insert(readings)
    put = put.on_conflict_do_update(
        index_elements=["session_id", "sequence"],
        set_={name: put.excluded[name] for name in ("low", "high", "outcome", "near_limit")},
    )
    connection.execute(put, rows)
