"""What can be wrong with a journal's file, in sentences that say what to do."""

from pathlib import Path

from runner.errors import RunError
from runner.record.onewriter import read_witness


class JournalError(RunError):
    """The journal could not be opened, read or written."""


class JournalBusy(JournalError):  # noqa: N818  the name its callers use
    """Another program writes this journal."""


def busy(path: Path) -> str:
    """Who holds the journal, as far as its writer's file tells."""
    who = read_witness(path)
    by = (
        f"process {who['process']} ({who.get('command')}) since {who.get('since_utc')}"
        if "process" in who
        else "another"
    )
    return f"The journal {path} is being written by {by}. Stop that one, or give this one its own file with --journal."


def said(path: Path, error: Exception) -> str:
    """The sentence for an error of the database."""
    name = getattr(error, "sqlite_errorname", "") or ""
    if name.startswith("SQLITE_FULL"):
        return (
            f"The disk is full: the last event is not in {path}, all before it are. Make room, then resume the session."
        )
    if name.startswith(("SQLITE_READONLY", "SQLITE_CANTOPEN", "SQLITE_PERM")):
        return f"The journal {path} cannot be written here ({error}). Name another place with --journal."
    if name.startswith("SQLITE_NOTADB"):
        return f"{path} is not a journal, or its beginning is destroyed. Name another file with --journal."
    if name.startswith("SQLITE_BUSY"):
        return f"The journal {path} is held by another program. Close that program, then run this again."
    if name.startswith(("SQLITE_CORRUPT", "SQLITE_IOERR")):
        return f"The journal {path} is damaged or its disk fails ({error}). Copy it away before anything else."
    return f"The journal {path} could not be used: {error}."
