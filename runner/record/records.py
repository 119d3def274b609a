"""Find a session's record again: in the bay's journal, or in the journal a rehearsal left."""

from pathlib import Path

from runner.errors import RunError
from runner.jobs import journal_path, rehearsal_path
from runner.record.across import Asking, Taken, asking_of, each_reading
from runner.record.journal import Journal
from runner.record.listing import Listed, Listing, Wanted


def journal_of(session: str, *, journal: Path | None) -> tuple[Path, str]:
    """The journal that holds a session, and the session's full name. "last" is the newest of the bay's journal, or of the
    rehearsals while there is none.

    Raises RunError when no journal here holds it.
    """
    if journal is None and session == "last" and not journal_path().is_file():
        rehearsals = [path for path in all_journals() if path != journal_path()]
        session = max(rehearsals, key=lambda path: path.stat().st_mtime).stem if rehearsals else session
    if journal is None and rehearsal_path(session).is_file():
        return rehearsal_path(session), session
    path = journal or journal_path()
    with Journal.read(path) as found:
        return path, found.find(session)


def known_sessions(*, journal: Path | None) -> list[Listing]:
    """Sessions of the journal, the newest last; none when there is no journal yet."""
    path = journal or journal_path()
    if not path.exists():
        return []
    with Journal.read(path) as found:
        return found.sessions()


def all_journals() -> list[Path]:
    """The bay's journal and those of its rehearsals, as far as there are any."""
    return [path for path in (journal_path(), *sorted(rehearsal_path("x").parent.glob("*.sqlite"))) if path.is_file()]


def list_sessions(path: Path, wanted: Wanted) -> Listed:
    """Sessions of a journal that fit, a page of them."""
    with Journal.read(path) as found:
        return found.listed(wanted)


def readings_of(path: Path, flow: str, step: str) -> list[Taken]:
    """The latest reading of a flow's step in each session of a journal, the newest last."""
    with Journal.read(path) as found:
        return list(each_reading(found.told("measured", "judged", "proof_begun", flow=flow), step))


def askings(path: Path) -> list[Asking]:
    """Who had to call their readings how often, in each session of a journal."""
    with Journal.read(path) as found:
        persons = {line.session: line.person for line in found.sessions()}
        asked = [asking_of(name, persons[name], events) for name, events in found.told("measured", "heard")]
    return [each for each in asked if each.readings]


def last_unfinished(*, journal: Path | None) -> str:
    """The newest session that is open, stopped, or found and not proved. Raises RunError when there is none."""
    lines = known_sessions(journal=journal)
    for line in reversed(lines):
        if line.status in ("open", "stopped", "paused", "found, not proved"):
            return line.session
    raise RunError("There is no session to resume. Start one with `leadsman run manifold-pressure`.")
