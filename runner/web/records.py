"""Where the sessions lie that the pages show: a bay's journal, or the database that bays share, for looking only."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from runner.errors import RunError
from runner.record import reviewing
from runner.record.across import Asking, Taken
from runner.record.chain import Audit
from runner.record.journal import Journal
from runner.record.listing import Listed, Wanted
from runner.record.records import askings, list_sessions, readings_of
from runner.record.sounds import SoundStore
from runner.report.story import Event
from speech.sound import Sound


@dataclass(frozen=True)
class Seen:
    """The last event a reviewer was shown, so that nobody signs what they have not seen."""

    upto: int
    head: str


class Looking(RunError):  # noqa: N818  what may be done
    """Something was to be written where only looking is possible."""


class Records(Protocol):
    """Where sessions lie. Errors are RunErrors; a session that is not there is UnknownSession, or has no events."""

    writes: bool  # whether a review can be put on the record here

    def listed(self, wanted: Wanted) -> Listed:
        """Sessions in a list."""

    def events(self, session: str) -> Sequence[Event]:
        """A session's events in their order."""

    def audit(self, session: str) -> Audit:
        """Whether the session is as it was written."""

    def sound(self, digest: str) -> bytes | None:
        """A call-out as FLAC by the hash of its content; None when it is not kept here."""

    def samples(self, digest: str) -> Sound | None:
        """The same, decoded."""

    def comment(self, session: str, *, by: str, words: str, about: int | None) -> None:
        """Put a comment on the record, on one event or on the whole session."""

    def sign_off(self, session: str, *, by: str, words: str, seen: Seen) -> None:
        """Sign the session as it was seen."""

    def send_back(self, session: str, *, by: str, words: str, seen: Seen) -> None:
        """Send the session back to who did it, saying why."""

    def heard_again(self, session: str, *, by: str, about: int, words: str, confidence: float) -> None:
        """Put on the record what the present recogniser makes of a call-out."""

    def readings(self, flow: str, step: str) -> Iterable[Taken]:
        """The job's reading of a step in each session that has one."""

    def askings(self) -> Iterable[Asking]:
        """Each person's calls in each session."""


class BayRecords:
    """A bay's own journal and its folder of sounds."""

    writes = True

    def __init__(self, journal: Path, sounds: SoundStore) -> None:
        self._journal, self._sounds = journal, sounds

    def listed(self, wanted: Wanted) -> Listed:
        return list_sessions(self._journal, wanted)

    def events(self, session: str) -> Sequence[Event]:
        with Journal.read(self._journal) as found:
            return found.events(session)

    def audit(self, session: str) -> Audit:
        with Journal.read(self._journal) as found:
            return found.audit(session)

    def sound(self, digest: str) -> bytes | None:
        return self._sounds.read(digest)

    def samples(self, digest: str) -> Sound | None:
        return self._sounds.sound(digest)

    def comment(self, session: str, *, by: str, words: str, about: int | None) -> None:
        reviewing.comment(self._journal, session, by=by, words=words, about=about)

    def sign_off(self, session: str, *, by: str, words: str, seen: Seen) -> None:
        reviewing.sign_off(self._journal, session, by=by, words=words, upto=seen.upto, head=seen.head)

    def send_back(self, session: str, *, by: str, words: str, seen: Seen) -> None:
        reviewing.send_back(self._journal, session, by=by, words=words, upto=seen.upto, head=seen.head)

    def heard_again(self, session: str, *, by: str, about: int, words: str, confidence: float) -> None:
        reviewing.heard_again(self._journal, session, by=by, about=about, words=words, confidence=confidence)

    def readings(self, flow: str, step: str) -> Iterable[Taken]:
        return readings_of(self._journal, flow, step)

    def askings(self) -> Iterable[Asking]:
        return askings(self._journal)


class SharedForLooking:
    """The database that bays share. A session's chain has one writer, its bay: a review is written there."""

    writes = False

    def __init__(self, shared: Any, sounds: SoundStore) -> None:
        self._shared, self._sounds = shared, sounds

    def listed(self, wanted: Wanted) -> Listed:
        return self._shared.listed(wanted)  # type: ignore[no-any-return]

    def events(self, session: str) -> Sequence[Event]:
        return self._shared.events(session)  # type: ignore[no-any-return]

    def audit(self, session: str) -> Audit:
        return self._shared.audit(session)  # type: ignore[no-any-return]

    def sound(self, digest: str) -> bytes | None:
        return self._sounds.read(digest)

    def samples(self, digest: str) -> Sound | None:
        return self._sounds.sound(digest)

    def _refuse(self) -> None:
        raise Looking(
            "The shared database is for looking. Review this session in its own bay: `leadsman review` there."
        )

    def comment(self, session: str, *, by: str, words: str, about: int | None) -> None:
        self._refuse()

    def sign_off(self, session: str, *, by: str, words: str, seen: Seen) -> None:
        self._refuse()

    def send_back(self, session: str, *, by: str, words: str, seen: Seen) -> None:
        self._refuse()

    def heard_again(self, session: str, *, by: str, about: int, words: str, confidence: float) -> None:
        self._refuse()

    def readings(self, flow: str, step: str) -> Iterable[Taken]:
        return self._shared.readings_of(flow, step)  # type: ignore[no-any-return]

    def askings(self) -> Iterable[Asking]:
        return self._shared.askings()  # type: ignore[no-any-return]
