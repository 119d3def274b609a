"""Sessions in a list: one line each, kept up as events are added, so that a hundred thousand are filtered at once."""

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from typing import Any, Literal

from runner.record.connection import Connection

Mark = Literal["doubtful", "corrected", "overridden", "unsigned", "sent_back", "unfinished"]
MARKS: tuple[Mark, ...] = ("unsigned", "doubtful", "corrected", "overridden", "sent_back", "unfinished")
Order = Literal["needs", "newest"]
POORLY_HEARD = 0.6  # a reading heard with less is for a reviewer to hear; it decides nothing
MANY_CALLS = 2
UNFINISHED = ("open", "paused", "stopped")
# Said about a session by those who look at it afterwards: they neither go on with it nor undo a sign-off.
AFTERWARDS = frozenset({"commented", "signed_off", "sent_back", "heard_again", "sealed", "unsealed", "sound_removed"})


@dataclass(frozen=True)
class Listing:
    """One session in the list; counts are of events. A pure fold: `after` each event in turn."""

    session: str
    opened_utc: str = ""
    last_utc: str = ""
    flow: str = ""
    title: str = ""
    machine: str = ""
    person: str = ""  # initials of who works on it now, "" when not told
    status: str = "open"  # open, paused, then the closing words
    finding: str = ""
    events: int = 0
    doubtful: int = 0
    corrected: int = 0
    overridden: int = 0
    near_limit: int = 0
    retakes: int = 0
    low_confidence: int = 0
    signed: str = ""  # "", "signed" or "sent back"
    simulated: bool = False
    sounds: int = 0  # call-outs and notes whose sound is kept

    @property
    def attention(self) -> int:
        """How much a supervisor should look at it: closed and not signed first, the most remarkable of those before."""
        if self.signed or self.status in UNFINISHED[:2]:
            return 0
        return 1 + self.doubtful + self.corrected + self.overridden + self.low_confidence

    @property
    def words(self) -> str:
        """What a search looks through."""
        return " ".join((self.session, self.title, self.flow, self.machine, self.finding, self.person)).lower()

    def after(self, event: Mapping[str, Any]) -> "Listing":
        """The same line once this event has been taken into account."""
        kind, at_utc = event.get("type"), str(event.get("at_utc", self.last_utc))
        line = replace(self, events=self.events + 1, opened_utc=self.opened_utc or at_utc, last_utc=at_utc)
        if isinstance(sound := event.get("sound"), Mapping) and "sha256" in sound:
            line = replace(line, sounds=line.sounds + 1)
        if line.signed and kind not in AFTERWARDS:
            line = replace(line, signed="")  # whoever signed has not seen this
        change = _CHANGES.get(str(kind))
        return replace(line, **change(line, event)) if change else line


def _opened(line: Listing, event: Mapping[str, Any]) -> dict[str, Any]:
    machine = event.get("machine")
    name = machine.get("name", "") if isinstance(machine, Mapping) else machine
    return {
        "flow": str(event.get("flow", "")),
        "title": str(event.get("title", "")),
        "machine": str(name or ""),
        "simulated": bool(event.get("simulated")),
    }


def _answered(line: Listing, event: Mapping[str, Any]) -> dict[str, Any]:
    told = event.get("store") == "who" and event.get("outcome") != "cannot"
    return {"person": str(event.get("answer", ""))} if told else {}


def _judged(line: Listing, event: Mapping[str, Any]) -> dict[str, Any]:
    return {"near_limit": line.near_limit + bool(event.get("near_limit"))}


def _measured(line: Listing, event: Mapping[str, Any]) -> dict[str, Any]:
    attempts = event.get("attempts")
    return {"retakes": line.retakes + (isinstance(attempts, int) and attempts > MANY_CALLS)}


def _heard(line: Listing, event: Mapping[str, Any]) -> dict[str, Any]:
    sure = event.get("confidence")
    poor = event.get("listening") == "reading" and isinstance(sure, int | float) and sure < POORLY_HEARD
    return {"low_confidence": line.low_confidence + poor}


def _sound_removed(line: Listing, event: Mapping[str, Any]) -> dict[str, Any]:
    return {"sounds": max(0, line.sounds - int(event.get("count", len(event.get("sounds", ())))))}


_CHANGES = {
    "opened": _opened,
    "answered": _answered,
    "handed_over": lambda line, event: {"person": str(event.get("to") or line.person)},
    "judged": _judged,
    "measured": _measured,
    "heard": _heard,
    "doubt": lambda line, event: {"doubtful": line.doubtful + 1},
    "corrected": lambda line, event: {"corrected": line.corrected + 1},
    "overridden": lambda line, event: {"overridden": line.overridden + 1},
    "found": lambda line, event: {"finding": str(event.get("finding") or "")},
    "sound_removed": _sound_removed,
    "paused": lambda line, event: {"status": "paused"},
    "resumed": lambda line, event: {"status": "open"},
    "closed": lambda line, event: {"status": str(event.get("status", "closed"))},
    "signed_off": lambda line, event: {"signed": "signed"},
    "sent_back": lambda line, event: {"signed": "sent back"},
}


def line_of(session: str, events: Iterable[Mapping[str, Any]]) -> Listing:
    """The line of a session from all its events."""
    line = Listing(session)
    for event in events:
        line = line.after(event)
    return line


@dataclass(frozen=True)
class Wanted:
    """Which sessions to list; what is empty is not asked for. All marks must hold."""

    text: str = ""
    flow: str = ""
    finding: str = ""
    machine: str = ""
    person: str = ""
    marks: frozenset[Mark] = frozenset()
    order: Order = "needs"
    offset: int = 0
    limit: int = 50


@dataclass(frozen=True)
class Choices:
    """What there is to filter by."""

    flows: tuple[tuple[str, str], ...] = ()  # name and title
    findings: tuple[str, ...] = ()
    machines: tuple[str, ...] = ()
    persons: tuple[str, ...] = ()


@dataclass(frozen=True)
class Listed:
    """A page of the list, how many fit in all, and what there is to filter by."""

    rows: Sequence[Listing]
    total: int
    choices: Choices = field(default_factory=Choices)


# --- in SQLite --------------------------------------------------------------------------------------------------------

_KEPT = tuple(each.name for each in fields(Listing))
_COLUMNS = (*_KEPT, "attention", "words")
_FILTERS = ("flow", "finding", "machine", "person")
MARK_HOLDS: Mapping[Mark, str] = {
    "doubtful": "doubtful > 0",
    "corrected": "corrected > 0",
    "overridden": "overridden > 0",
    "unsigned": "attention > 0",
    "sent_back": "signed = 'sent back'",
    "unfinished": "status IN ('open', 'paused', 'stopped')",
}
_UPSERT = (
    f"INSERT INTO listing ({', '.join(_COLUMNS)}) VALUES ({', '.join('?' * len(_COLUMNS))}) "
    f"ON CONFLICT (session) DO UPDATE SET {', '.join(f'{name} = excluded.{name}' for name in _COLUMNS[1:])}"
)


def make_listing(db: Connection, *, temporary: bool = False) -> None:
    """The empty table. temporary: beside a file that may not be written."""
    number = {"events", "doubtful", "corrected", "overridden", "near_limit", "retakes", "low_confidence", "sounds"}
    typed = [f"{name} {'INTEGER' if name in number | {'simulated'} else 'TEXT'} NOT NULL" for name in _KEPT[1:]]
    db.execute(
        f"""CREATE {"TEMP " * temporary}TABLE listing (number INTEGER PRIMARY KEY, session TEXT NOT NULL UNIQUE,
        {", ".join(typed)}, attention INTEGER NOT NULL, words TEXT NOT NULL) STRICT"""
    )
    db.execute("CREATE INDEX listing_attention ON listing (attention, number)")
    db.execute("CREATE INDEX listing_words ON listing (words, attention, number)")
    for name in _FILTERS:
        db.execute(f"CREATE INDEX listing_{name} ON listing ({name}, attention, number)")


def fill_listing(db: Connection) -> None:
    """A line for every session there is; a damaged event counts as one that tells nothing."""
    for (session,) in db.execute("SELECT session FROM sessions ORDER BY rowid").fetchall():
        bodies = db.execute("SELECT body FROM events WHERE session = ? ORDER BY sequence", (session,)).fetchall()
        put_line(db, line_of(session, map(_event, (body for (body,) in bodies))))


def _event(body: str) -> Mapping[str, Any]:
    try:
        event = json.loads(body)
    except ValueError:
        return {}
    return event if isinstance(event, dict) else {}


def put_line(db: Connection, line: Listing) -> None:
    """Write a session's line over the one before."""
    values = [getattr(line, name) for name in _COLUMNS]
    db.execute(_UPSERT, [int(each) if isinstance(each, bool) else each for each in values])


def line_in(db: Connection, session: str) -> Listing:
    """A session's line, the empty one of a session that begins."""
    row = db.execute(f"SELECT {', '.join(_KEPT)} FROM listing WHERE session = ?", (session,)).fetchone()
    return _line(row) if row else Listing(session)


def lines_in(db: Connection) -> list[Listing]:
    """All lines, the newest last."""
    return [_line(row) for row in db.execute(f"SELECT {', '.join(_KEPT)} FROM listing ORDER BY number").fetchall()]


def _line(row: Sequence[Any]) -> Listing:
    facts = dict(zip(_KEPT, row, strict=True))
    return Listing(**{**facts, "simulated": bool(facts["simulated"])})


def wanted_in(db: Connection, wanted: Wanted) -> Listed:
    """The lines that fit, a page of them, and what there is to filter by."""
    where, values = _where(wanted)
    order = "attention DESC, number DESC" if wanted.order == "needs" else "number DESC"
    limit, offset = max(0, wanted.limit), max(0, wanted.offset)
    numbers = f"SELECT number FROM listing {where} ORDER BY {order} LIMIT ? OFFSET ?"
    rows = db.execute(
        f"SELECT {', '.join(_KEPT)} FROM listing WHERE number IN ({numbers}) ORDER BY {order}", [*values, limit, offset]
    ).fetchall()
    if 0 < len(rows) < limit or (not rows and not offset and limit):
        total = offset + len(rows)  # the page is the end of the list: nothing is left to count
    else:
        total = db.execute(f"SELECT count(*) FROM listing {where}", values).fetchone()[0]
    return Listed([_line(row) for row in rows], total, _choices(db))


def _where(wanted: Wanted) -> tuple[str, list[Any]]:
    parts: list[str] = []
    values: list[Any] = []
    for name in _FILTERS:
        if value := getattr(wanted, name):
            parts.append(f"{name} = ?")
            values.append(value)
    parts += [MARK_HOLDS[mark] for mark in MARKS if mark in wanted.marks]
    for word in wanted.text.lower().split():
        parts.append("instr(words, ?) > 0")
        values.append(word)
    # Text alone is looked for in an index that holds nothing else, a third of the table's size.
    by = "INDEXED BY listing_words " if wanted.text.split() and len(parts) == len(wanted.text.split()) else ""
    return (f"{by}WHERE {' AND '.join(parts)}" if parts else ""), values


def _choices(db: Connection) -> Choices:
    flows = _distinct(db, "flow")
    title = "SELECT title FROM listing WHERE flow = ? ORDER BY attention DESC, number DESC LIMIT 1"
    titled = tuple((flow, str(db.execute(title, (flow,)).fetchone()[0])) for flow in flows)
    return Choices(titled, _distinct(db, "finding"), _distinct(db, "machine"), _distinct(db, "person"))


def _distinct(db: Connection, column: str) -> tuple[str, ...]:
    """Each value once, by steps through its index: a hundred thousand lines are not read for a dozen words."""
    rows = db.execute(
        f"""WITH RECURSIVE each (value) AS (
            SELECT min({column}) FROM listing
            UNION ALL SELECT (SELECT min({column}) FROM listing WHERE {column} > each.value) FROM each
            WHERE each.value IS NOT NULL
        ) SELECT value FROM each WHERE value IS NOT NULL AND value != ''"""
    ).fetchall()
    return tuple(value for (value,) in rows)
