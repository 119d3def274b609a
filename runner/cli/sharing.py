"""`leadsman share`: this bay's sessions to the database that bays share."""

import platform
from pathlib import Path

import click

from runner.cli.shared import PROBLEMS, journal_option, plainly, stderr
from runner.errors import RunError


@click.command("share")
@click.option(
    "--to",
    "url",
    required=True,
    envvar="LEADSMAN_SHARE_TO",
    show_envvar=True,
    help="Database: postgresql://user@host/database. Its password belongs into the variable or into ~/.pgpass.",
)
@click.option("--audio-to", "place", help="Where sounds go: a folder, or an address such as s3://bucket/folder.")
@click.option("--bay", default=platform.node() or "bay", show_default="this computer's name", help="Name of this bay.")
@journal_option
@plainly
def share_command(url: str, place: str | None, bay: str, journal: Path | None) -> None:
    """Send every closed session that is not there yet. Safe to run at any time, again, and from many bays at once."""
    try:
        from runner.sharing.audio import SharedSounds
        from runner.sharing.database import connect
        from runner.sharing.sending import share
    except ModuleNotFoundError as error:
        raise RunError(f"Sharing needs {error.name}, which is not installed: pip install 'leadsman[share]'.") from None
    from runner.jobs import journal_path
    from runner.record.sounds import sound_store

    sounds = SharedSounds(place, sound_store()) if place else None
    engine = connect(url)
    try:
        sent = share(journal or journal_path(), engine, bay=bay, before=sounds.send if sounds else lambda events: None)
    finally:
        engine.dispose()
    stderr().print(
        f"{sent.sessions} sessions sent ({sent.events} events), {sent.already} were there, {sent.open} still open"
        + (f", {sounds.sent} sounds sent." if sounds else ".")
    )
    for session in sent.differing:
        click.echo(f"leadsman: session {session} differs from what is there; audit it here and there.", err=True)
    raise SystemExit(PROBLEMS if sent.differing else 0)
