"""What reviewers wrote into a session's record: comments, a signature, a sending back. Pure."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from runner.record.listing import AFTERWARDS
from runner.report.story import Event


@dataclass(frozen=True)
class Reviewed:
    """Where the review of a session stands. verdict: the signature or sending back that is the last word, if one is."""

    verdict: Event | None
    verdicts: tuple[Event, ...]
    comments: Mapping[int, Sequence[Event]]  # by the number of the event commented on; 0: on the session
    again: Mapping[int, Event]  # what a later recogniser made of a call-out, by the number of its event
    outdated: bool  # something was added to the session since it was signed

    @property
    def word(self) -> str:
        """In a word or two."""
        if self.verdict is None:
            return "not signed"
        if self.verdict["type"] == "sent_back":
            return "sent back"
        return "signed, then gone on" if self.outdated else "signed"

    @property
    def signed(self) -> bool:
        """Whether somebody has signed the session as it stands."""
        return self.word == "signed"


def reviewed(events: Iterable[Event]) -> Reviewed:
    """The review in a session's events."""
    verdicts: list[Event] = []
    comments: dict[int, list[Event]] = {}
    again: dict[int, Event] = {}
    outdated = False
    for event in events:
        kind = event.get("type")
        if kind == "commented":
            about = event.get("about")
            comments.setdefault(about if isinstance(about, int) else 0, []).append(event)
        elif kind == "heard_again" and isinstance(event.get("about"), int):
            again[int(event["about"])] = event
        elif kind in ("signed_off", "sent_back"):
            verdicts.append(event)
            outdated = False
        elif kind not in AFTERWARDS:
            outdated = bool(verdicts)
    return Reviewed(verdicts[-1] if verdicts else None, tuple(verdicts), comments, again, outdated)
