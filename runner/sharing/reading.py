"""Sessions of all bays as one record: listed, read, audited, and a sensor's spread over all of them."""

import json
from dataclasses import dataclass, fields
from typing import Any

from sqlalchemy import ColumnElement, Connection, Engine, func, select, text

from runner.record.across import Asking, Taken
from runner.record.chain import Audit, Head, Link, audit_links
from runner.record.clock import utc_text
from runner.record.listing import Choices, Listed, Listing, Mark, Wanted
from runner.record.sessions import UnknownSession
from runner.sharing.database import in_words
from runner.sharing.schema import events, readings, sessions


@dataclass(frozen=True)
class Spread:
    """One check's readings over many sessions. Values in `unit`; None when there are none."""

    count: int
    unit: str
    lowest: float | None = None
    p5: float | None = None
    middle: float | None = None
    p95: float | None = None
    highest: float | None = None
    mean: float | None = None
    deviation: float | None = None


_MARKS: dict[Mark, ColumnElement[bool]] = {
    "doubtful": sessions.c.doubtful > 0,
    "corrected": sessions.c.corrected > 0,
    "overridden": sessions.c.overridden > 0,
    "unsigned": sessions.c.attention > 0,
    "sent_back": sessions.c.signed == "sent back",
    "unfinished": sessions.c.status.in_(("open", "paused", "stopped")),
}


class SharedRecords:
    """The shared database, for looking only: a session is written in its bay, and its chain has one writer."""

    def __init__(self, engine: Engine) -> None:
        self._engine = engine

    def listed(self, wanted: Wanted) -> Listed:
        """Sessions in a list, a page of them."""
        where = _where(wanted)
        order = [sessions.c.opened_at.desc()]
        if wanted.order == "needs":
            order.insert(0, sessions.c.attention.desc())
        limit, offset = max(0, wanted.limit), max(0, wanted.offset)
        page = select(sessions).where(*where).order_by(*order).limit(limit).offset(offset)
        with in_words(self._engine), self._engine.connect() as connection:
            rows = connection.execute(page).mappings().all()
            if 0 < len(rows) < limit or (limit and not rows and not offset):
                total = offset + len(rows)  # the page is the end of the list: nothing is left to count
            else:
                total = connection.execute(select(func.count()).select_from(sessions).where(*where)).scalar_one()
            choices = _choices(connection)
        return Listed([_listing(row) for row in rows], total, choices)

    def events(self, session: str) -> list[dict[str, Any]]:
        """A session's events in their order."""
        return [{**json.loads(link.body), "hash": link.hash} for link in self._links(session)[1]]

    def audit(self, session: str) -> Audit:
        """Whether a session is as it was written in its bay."""
        row, links = self._links(session)
        return audit_links(row["name"], links, heads=[Head(row["events"], row["head"], "the list of sessions")])

    def readings_of(self, flow: str, step: str) -> list[Taken]:
        """The latest reading of a flow's step in each session's job, the oldest first."""
        last = (
            select(readings.c.session_id, func.max(readings.c.sequence).label("sequence"))
            .where(*_step(flow, step))
            .group_by(readings.c.session_id)
            .subquery()
        )
        its_own = (readings.c.session_id == last.c.session_id) & (readings.c.sequence == last.c.sequence)
        query = (
            select(readings, sessions.c.session)
            .join(last, its_own)
            .join(sessions, sessions.c.id == readings.c.session_id)
            .order_by(readings.c.at)
        )
        with in_words(self._engine), self._engine.connect() as connection:
            rows = connection.execute(query).mappings().all()
        kept = ("session", "value", "unit", "low", "high", "outcome")
        return [Taken(**{name: row[name] for name in kept}, at_utc=utc_text(row["at"])) for row in rows]

    def askings(self) -> list[Asking]:
        """Who had to call their readings how often, in each session."""
        columns = [sessions.c[each.name] for each in fields(Asking)]
        query = select(*columns).where(sessions.c.readings > 0).order_by(sessions.c.opened_at)
        with in_words(self._engine), self._engine.connect() as connection:
            return [Asking(**row) for row in connection.execute(query).mappings()]

    def spread(self, flow: str, step: str) -> Spread:
        """How one check's readings spread over all sessions' jobs."""
        value = readings.c.value
        shares = func.percentile_cont([0.05, 0.5, 0.95]).within_group(value)
        query = select(
            func.count(value), shares, func.min(value), func.max(value), func.avg(value), func.stddev_samp(value)
        ).where(*_step(flow, step))
        unit = select(readings.c.unit).where(*_step(flow, step)).limit(1)
        with in_words(self._engine), self._engine.connect() as connection:
            connection.execute(text("SET LOCAL work_mem = '128MB'"))  # a million values sorted in memory, not on disk
            count, parts, lowest, highest, mean, deviation = connection.execute(query).one()
            if not count:
                return Spread(0, "")
            name = connection.execute(unit).scalar_one()
        return Spread(count, name, lowest, parts[0], parts[1], parts[2], highest, mean, deviation)

    def _links(self, session: str) -> tuple[Any, list[Link]]:
        query = select(events.c.sequence, events.c.body, events.c.hash).order_by(events.c.sequence)
        with in_words(self._engine), self._engine.connect() as connection:
            row = connection.execute(select(sessions).where(sessions.c.session == session)).mappings().one_or_none()
            if row is None:
                raise UnknownSession(f"There is no session {session!r} in the shared database.")
            found = connection.execute(query.where(events.c.session_id == row["id"]))
            return row, [Link(*each) for each in found]


def _step(flow: str, step: str) -> tuple[ColumnElement[bool], ...]:
    """Readings of a step in the job itself; those after a repair are told apart."""
    return (
        readings.c.flow == flow,
        readings.c.step == step,
        readings.c.phase == "job",
        readings.c.value.is_not(None),
    )


def _where(wanted: Wanted) -> list[ColumnElement[bool]]:
    named = ("flow", "finding", "machine", "person")
    found = [sessions.c[name] == getattr(wanted, name) for name in named if getattr(wanted, name)]
    found += [holds for mark, holds in _MARKS.items() if mark in wanted.marks]
    found += [sessions.c.words.contains(word, autoescape=True) for word in wanted.text.lower().split()]
    return found


def _choices(connection: Connection) -> Choices:
    titled = []
    for flow in _distinct(connection, "flow"):
        title = select(sessions.c.title).where(sessions.c.flow == flow).limit(1)
        titled.append((flow, str(connection.execute(title).scalar_one())))
    named = [_distinct(connection, name) for name in ("finding", "machine", "person")]
    return Choices(tuple(titled), *named)


def _distinct(connection: Connection, name: str) -> tuple[str, ...]:
    """Each value once, by steps through its index: a hundred thousand lines are not read for a dozen words."""
    column = sessions.c[name]
    each = select(func.min(column).label("value")).where(column != "").cte(recursive=True)
    larger = select(func.min(column)).where(column > each.c.value).scalar_subquery()
    each = each.union_all(select(larger).where(each.c.value.is_not(None)))
    return tuple(connection.execute(select(each.c.value).where(each.c.value.is_not(None))).scalars())


def _listing(row: Any) -> Listing:
    times = {"opened_utc": utc_text(row["opened_at"]), "last_utc": utc_text(row["last_at"])}
    kept: dict[str, Any] = {each.name: row[each.name] for each in fields(Listing) if each.name not in times}
    return Listing(**{**kept, **times})
