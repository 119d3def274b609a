"""What a reviewer puts on the record: comments, a sign-off, a sending back, a second hearing; all in the session's own chain.

Whoever signs names the last event they were shown. When the session has grown since, nothing is written.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from runner.errors import RunError
from runner.record.journal import Journal, Stored
from runner.record.signing import own_key, seal

LONGEST_WORDS = 2000
LONGEST_NAME = 80


class NotReviewed(RunError):  # noqa: N818  what became of it
    """A review that cannot be put on the record; the text says why."""


def comment(journal: Path, session: str, *, by: str, words: str, about: int | None = None) -> Stored:
    """A comment on the session, or on the event with the number `about`."""
    facts = {"by": _name(by), "words": _words(words, needed="A comment")}
    with _session(journal, session) as store:
        _holds(store, about)
        return _put(store, {"type": "commented", **facts, "about": about})


def sign_off(journal: Path, session: str, *, by: str, upto: int, head: str, words: str = "") -> Stored:
    """Accept the session as it was shown, up to the event `upto` with the hash `head`."""
    facts = {"by": _name(by), "words": _words(words)}
    with _session(journal, session) as store:
        if store.line(session).status in ("open", "paused"):
            raise NotReviewed(f"Session {session} is not closed yet. Let it end, then read it again and sign.")
        _as_seen(store, upto, head)
        return _put(store, {"type": "signed_off", **facts, "upto": upto, "head": head})


def send_back(journal: Path, session: str, *, by: str, words: str, upto: int, head: str) -> Stored:
    """Send the session back to the bay, saying what is to be done."""
    facts = {"by": _name(by), "words": _words(words, needed="Sending back")}
    with _session(journal, session) as store:
        _as_seen(store, upto, head)
        return _put(store, {"type": "sent_back", **facts, "upto": upto, "head": head})


def heard_again(
    journal: Path, session: str, *, by: str, about: int, words: str, confidence: float, recogniser: str = ""
) -> Stored:
    """What the present recogniser makes of the sound of the event `about`; what was recorded stays as it is."""
    facts = {"by": _name(by), "words": _words(words), "confidence": round(confidence, 4), "recogniser": recogniser}
    with _session(journal, session) as store:
        _holds(store, about)
        return _put(store, {"type": "heard_again", **facts, "about": about})


def _put(store: Journal, event: dict[str, Any]) -> Stored:
    stored = store.append(event)
    seal(store, own_key())
    return stored


@contextmanager
def _session(journal: Path, session: str) -> Iterator[Journal]:
    """The session, open for writing, after it was found to be there and whole."""
    with Journal.read(journal) as found:
        found.line(session)
    with Journal.open(journal, session) as store:
        audit = store.audit()
        if not audit.intact:
            raise NotReviewed(f"Session {session} is not as it was written: {audit.breaks[0].what}. Nothing was added.")
        yield store


def _as_seen(store: Journal, upto: int, head: str) -> None:
    """Nothing but seals has come since the event that the reviewer saw last."""
    events = store.events()
    seen = next((event for event in events if event["sequence"] == upto), None)
    since = [event for event in events if event["sequence"] > upto and event["type"] != "sealed"]
    if seen is None or seen["hash"] != head:
        raise NotReviewed(f"Session {store.session} is not the one you were shown. Read it again, then sign.")
    if since:
        raise NotReviewed(f"Session {store.session} has grown by {len(since)} since you read it. Read it again first.")


def _holds(store: Journal, about: int | None) -> None:
    if about is not None and not 1 <= about <= store.line(str(store.session)).events:
        raise NotReviewed(f"Session {store.session} has no event {about}. Comment on one that is there.")


def _name(by: str) -> str:
    name = " ".join(by.split())
    if not name or len(name) > LONGEST_NAME:
        raise NotReviewed(f"A review needs who made it, in 1 to {LONGEST_NAME} letters; initials will do.")
    return name


def _words(words: str, *, needed: str = "") -> str:
    told = words.strip()
    if needed and not told:
        raise NotReviewed(f"{needed} needs words: say what you saw and what is to be done.")
    if len(told) > LONGEST_WORDS:
        raise NotReviewed(f"{len(told):,} letters are too many; say it in {LONGEST_WORDS:,}.")
    return told
