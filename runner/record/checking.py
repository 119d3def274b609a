"""Is a session as it was written, here or in a copy: its chain, what others remember of its end, and its seals."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from runner.record.chain import Audit, Link, audit_links
from runner.record.copies import read_copy
from runner.record.journal import Journal
from runner.record.signing import Seals, check_seals


@dataclass(frozen=True)
class Checked(Audit):
    """An audit with its seals, whose breaks count as well; `sealed_upto` is the last event a seal holds, 0 for none."""

    sealed_upto: int = 0
    keys: tuple[str, ...] = ()

    @property
    def in_words(self) -> str:
        """How it stands, for a line in a list."""
        if self.breaks:
            return "BROKEN"
        if not self.sealed_upto:
            return "intact, not sealed"
        by = " and ".join(key[:8] for key in self.keys)
        upto = "" if self.sealed_upto == self.events else f" up to event {self.sealed_upto}"
        return f"intact, sealed by key {by}{upto}"


def check_session(journal: Journal, session: str, *, key: str | None = None) -> Checked:
    """A session of a journal; key: the public key that must have sealed all of it."""
    return _put_together(journal.audit(session), check_seals(session, journal.links(session), key=key))


def check_copy(file: Path, *, key: str | None = None) -> Iterator[Checked]:
    """Every session of a file that was exported, in the order they stand there."""
    for session, links in read_copy(file).items():
        yield check_links(session, links, key=key)


def check_links(session: str, links: list[Link], *, key: str | None = None) -> Checked:
    """The events of one session, wherever they come from."""
    return _put_together(audit_links(session, links), check_seals(session, links, key=key))


def _put_together(audit: Audit, seals: Seals) -> Checked:
    breaks = {each.sequence: each for each in (*seals.breaks, *audit.breaks)}
    in_order = tuple(breaks[number] for number in sorted(breaks))
    return Checked(audit.session, audit.events, in_order, seals.upto, seals.keys)
