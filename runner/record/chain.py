"""What makes a record trustworthy: canonical JSON, the hash of the event before, and the audit of both. Pure."""

import hashlib
import json
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from runner.errors import RunError

GENESIS = "0" * 64
# Put on by the journal; an event that brings one of its own would lie about where it stands.
OWN_KEYS = frozenset({"sequence", "at_utc", "at_mono_s", "clock_back_s", "before", "previous", "hash"})


class EventError(RunError):
    """An event that cannot be put in a record."""


def plain(value: Any, *, at: str) -> Any:
    """The value as JSON can hold it: tuples as lists, a number that is not finite as null."""
    if value is None or isinstance(value, bool | int):
        return value
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, str):
        return value.encode("utf-8", "replace").decode("utf-8")
    if isinstance(value, Mapping):
        odd = [key for key in value if not isinstance(key, str)]
        if odd:
            raise EventError(f"{at} has the key {odd[0]!r}; keys in a record are words. Name it with a word.")
        return {key: plain(each, at=f"{at}.{key}") for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [plain(each, at=f"{at}[{index}]") for index, each in enumerate(value)]
    if isinstance(value, set | frozenset):
        return sorted(plain(each, at=at) for each in value)
    raise EventError(
        f"{at} is a {type(value).__name__}; a record holds text, numbers, yes/no, lists and tables of them."
    )


def canonical(event: Mapping[str, Any]) -> str:
    """One spelling for one event: sorted keys, no spaces, UTF-8, no NaN."""
    return json.dumps(event, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def digest(body: str) -> str:
    """SHA-256 over the canonical JSON of an event without its hash."""
    return hashlib.sha256(body.encode("utf-8")).hexdigest()


@dataclass(frozen=True)
class Link:
    """An event as it lies in the store: its canonical JSON, its hash, and where the store says it stands."""

    sequence: int
    body: str
    hash: str


def event_in(link: Link) -> dict[str, Any]:
    """The event of a link; empty when it is damaged."""
    try:
        event = json.loads(link.body)
    except (ValueError, RecursionError):
        return {}
    return event if isinstance(event, dict) else {}


@dataclass(frozen=True)
class Head:
    """How far a session had come, as something other than its own events remembers it."""

    events: int
    hash: str
    told_by: str


@dataclass(frozen=True)
class Break:
    """One place where the record is not as it was written."""

    sequence: int
    what: str


@dataclass(frozen=True)
class Audit:
    """Result of checking one session; `events` counts those that are there."""

    session: str
    events: int
    breaks: tuple[Break, ...] = ()

    @property
    def intact(self) -> bool:
        """Nothing changed, missing, reordered or cut."""
        return not self.breaks

    @property
    def first_broken(self) -> int | None:
        """Sequence number of the first event that is not as written; None when all are."""
        return min((each.sequence for each in self.breaks), default=None)


def audit_links(session: str, links: Sequence[Link], *, heads: Iterable[Head] = ()) -> Audit:
    """Check links in the order they were stored in against each other and against what others remember of their end."""
    found: list[Break] = []
    in_order = sorted(links, key=lambda link: link.sequence)
    for stored, wanted in zip(links, in_order, strict=True):
        if stored is not wanted:
            found.append(Break(wanted.sequence, f"event {wanted.sequence} is out of its order"))
            break
    previous, number = GENESIS, 0
    for link in in_order:
        for gone in range(number + 1, link.sequence):
            found.append(Break(gone, f"event {gone} is missing"))
        found.extend(_check_one(session, link, previous, follows=number == link.sequence - 1))
        previous, number = link.hash, link.sequence
    found.extend(_check_end(in_order, heads))
    seen: dict[int, Break] = {}
    for each in found:
        seen.setdefault(each.sequence, each)
    return Audit(session, len(links), tuple(seen[number] for number in sorted(seen)))


def _check_one(session: str, link: Link, previous: str, *, follows: bool) -> Iterable[Break]:
    number = link.sequence
    try:
        event = json.loads(link.body)
        whole = isinstance(event, dict) and canonical(event) == link.body and digest(link.body) == link.hash
    except (ValueError, RecursionError):
        whole = False
    if not whole:
        return [Break(number, f"event {number} was changed")]
    if event.get("session") != session:
        return [Break(number, f"event {number} is from session {_shown(event.get('session'))}")]
    if event.get("sequence") != number:
        return [Break(number, f"event {number} holds what was event {_shown(event.get('sequence'))}: reordered")]
    if follows and event.get("previous") != previous:
        if number == 1:
            return [Break(1, "event 1 is not the first of this session")]
        return [Break(number - 1, f"event {number - 1} is not the one that event {number} was written after: changed")]
    return []


def _shown(value: Any) -> str:
    """A value of an event that may say anything, as it can be printed."""
    text = str(value)[:40]
    return text if text.isprintable() else ascii(text)


def _check_end(in_order: Sequence[Link], heads: Iterable[Head]) -> Iterable[Break]:
    by_number = {link.sequence: link for link in in_order}
    last = in_order[-1].sequence if in_order else 0
    for head in heads:
        if head.events > last:
            for gone in range(last + 1, head.events + 1):
                yield Break(gone, f"event {gone} was cut off: {head.told_by} knows of {head.events} events")
        elif head.events and head.events in by_number and by_number[head.events].hash != head.hash:
            yield Break(head.events, f"event {head.events} is not the one {head.told_by} knows: changed")


def read_export(lines: Iterable[str]) -> list[tuple[str, Link]]:
    """Session and link of each line of an export, so that a copy can be audited anywhere."""
    found = []
    for number, line in enumerate(lines, start=1):
        if not line.strip():
            continue
        try:
            event = json.loads(line)
            body = {key: value for key, value in event.items() if key != "hash"}
            session = event["session"]
            if not isinstance(session, str) or not session.isprintable():
                raise ValueError("its session has no name that can be printed")
            found.append((session, Link(int(event["sequence"]), canonical(body), str(event["hash"]))))
        except (ValueError, LookupError, TypeError, AttributeError, ArithmeticError, RecursionError) as error:
            raise EventError(f"line {number} of the export is no event ({error}); export the session again.") from error
    return found
