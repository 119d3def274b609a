"""Another bay's sessions brought into this journal: only whole ones, only what a report can be made of, and once."""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from runner.errors import RunError
from runner.record.chain import Link, event_in
from runner.record.checking import Checked, check_links
from runner.record.clock import utc_text
from runner.record.copies import read_copy
from runner.record.journal import Journal
from runner.record.listing import line_of
from runner.record.session import fold

_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")  # it becomes part of file names
_Number = int | float
# What the state and the report rest on. More keys are kept as they are.
_SHAPES: Mapping[str, Mapping[str, Any]] = {
    "opened": {"flow": str, "session": str},
    "measured": {
        "step": str,
        "quantity": str,
        "value": _Number | None,
        "high": _Number | None,
        "over_range": bool,
        "unit": str,
        "confirmed": str,
        "attempts": int,
        "decimals": int | None,
    },
    "judged": {"step": str, "outcome": str, "low": _Number | None, "high": _Number | None},
    "answered": {"step": str, "answer": str},
    "branched": {"step": str, "outcome": str, "to": str},
    "found": {"finding": str, "say": str, "do": str, "blames": list, "status": str, "proof": list},
    "closed": {"status": str},
}


class NotBroughtIn(RunError):  # noqa: N818  what became of it
    """A file that is no whole session of this program; the text says where."""


@dataclass(frozen=True)
class Brought:
    """What became of one session of the file; `added` is 0 when all of it was here already."""

    checked: Checked
    added: int


def bring_in(file: Path, journal: Path, *, key: str | None = None, render: Callable[..., str]) -> list[Brought]:
    """Bring the sessions of an exported file into a journal. Every one is looked at before any is taken.

    key: public key that must have sealed them. render: makes the report, which must come of it.
    Raises NotBroughtIn, EventError or JournalError, and leaves the journal as it was.
    """
    sessions = read_copy(file)
    checks = [_checked(session, links, key=key, render=render) for session, links in sessions.items()]
    now_utc = utc_text(datetime.now(UTC))
    with Journal.open(journal) as store:
        return [
            Brought(checked, store.take_in(checked.session, sessions[checked.session], now_utc=now_utc))
            for checked in checks
        ]


def _checked(session: str, links: list[Link], *, key: str | None, render: Callable[..., str]) -> Checked:
    if not _NAME.fullmatch(session):
        raise NotBroughtIn(f"{session[:40]!r} is no name of a session: letters, digits, dots and dashes, at most 64.")
    checked = check_links(session, links, key=key)
    if not checked.intact:
        raise NotBroughtIn(f"Session {session} is not as it was written: {checked.breaks[0].what}. Export it again.")
    events = [{**event_in(link), "hash": link.hash} for link in links]
    for event in events:
        _shaped(session, event)
    if events[0]["type"] != "opened":
        raise NotBroughtIn(f"Session {session} begins with {events[0]['type']!r} instead of 'opened'. Export it again.")
    try:
        fold(events)
        line_of(session, events)
        render(events)
    except (LookupError, TypeError, ValueError, AttributeError, ArithmeticError, RecursionError) as error:
        raise NotBroughtIn(
            f"No report can be made of session {session} ({type(error).__name__}: {str(error)[:80]}). "
            "Export it again with the version of this program that wrote it."
        ) from error
    return checked


def _shaped(session: str, event: Mapping[str, Any]) -> None:
    shape = {"type": str, "at_utc": str, "at_mono_s": _Number, **_SHAPES.get(str(event.get("type")), {})}
    for name, kind in shape.items():
        if not isinstance(event.get(name), kind):
            raise NotBroughtIn(
                f"Event {event.get('sequence')} of session {session} has {name} {str(event.get(name))[:40]!r}, "
                "which is none. Export it again."
            )
    try:
        moment = datetime.fromisoformat(event["at_utc"])
    except ValueError:
        moment = None
    if moment is None or moment.tzinfo is None:
        raise NotBroughtIn(
            f"Event {event['sequence']} of session {session} has the time {event['at_utc'][:40]!r}; "
            "want UTC such as 2031-04-05T06:07:08.123Z."
        )
