"""`leadsman sessions`, `report`, `audit` and `sign`: what was recorded, and whether it is as it was written."""

import json
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click
from rich.table import Table

from runner.cli.shared import PROBLEMS, journal_option, json_option, plainly, stderr

if TYPE_CHECKING:
    from runner.record.checking import Checked


@click.command("sessions")
@click.option(
    "--forget-audio-after",
    type=click.FloatRange(0, 1e5),
    metavar="DAYS",
    help="Remove the sound of call-outs that is older; what was heard stays on the record.",
)
@journal_option
@plainly
def sessions_command(forget_audio_after: float | None, journal: Path | None) -> None:
    """Sessions in the journal, the newest last."""
    from runner.record.records import known_sessions

    if forget_audio_after is not None:
        _forget(forget_audio_after, journal)
        return
    table = Table("session", "opened (UTC)", "flow", "machine", "status", "finding", "events")
    table.columns[0].no_wrap = True
    lines = known_sessions(journal=journal)
    for line in lines:
        table.add_row(
            line.session, line.opened_utc, line.title, line.machine, line.status, line.finding, str(line.events)
        )
    stderr().print(table if lines else "No session yet. Start one with `leadsman run manifold-pressure`.")


def _forget(days: float, journal: Path | None) -> None:
    from runner.record.records import all_journals
    from runner.record.sounds import forget, sound_store

    journals = [journal] if journal else all_journals()
    done = forget(journals, sound_store(), older_than_days=days, now=datetime.now(UTC))
    stderr().print(f"{done.sounds} sounds removed, older than {days:g} days; {done.sessions} sessions say so.")


@click.command("report")
@click.argument("session", default="last")
@click.option("--save", type=click.Path(path_type=Path, dir_okay=False), help="HTML file; SESSION.html when left out.")
@journal_option
@plainly
def report_command(session: str, save: Path | None, journal: Path | None) -> None:
    """Write SESSION (or the last one) as one HTML page that needs nothing else."""
    from runner.record.journal import Journal
    from runner.record.records import journal_of
    from runner.report import render

    path, name = journal_of(session, journal=journal)
    with Journal.read(path) as found:
        page = render(found.events(name))
    target = save or Path(f"{name}.html")
    target.write_text(page, encoding="utf-8")
    click.echo(str(target))


@click.command("audit")
@click.argument("session", required=False)
@click.option("--key", "told_key", help="Public key (64 digits, or its file): every event must be sealed by it.")
@journal_option
@json_option
@plainly
def audit_command(session: str | None, told_key: str | None, journal: Path | None, as_json: bool) -> None:
    """Find any changed, missing, reordered or cut event of SESSION, or of every session; exit 1 when there is one.

    SESSION may be a file that `leadsman export` wrote, anywhere; with --key its seals are checked as well.
    """
    from runner.record.signing import public_key_from

    key = public_key_from(told_key) if told_key else None
    broken = 0
    for checked in _checked(session, journal, key):
        broken += not checked.intact
        if as_json:
            facts = {"session": checked.session, "events": checked.events, "intact": checked.intact}
            more = {"first_broken": checked.first_broken, "sealed_upto": checked.sealed_upto, "keys": checked.keys}
            click.echo(json.dumps({**facts, **more}))
        else:
            click.echo(f"{checked.session}: {checked.events} events, {checked.in_words}")
            for item in checked.breaks:
                click.echo(f"  event {item.sequence}: {item.what}")
    raise SystemExit(PROBLEMS if broken else 0)


def _checked(session: str | None, journal: Path | None, key: str | None) -> "Iterator[Checked]":
    from runner.jobs import journal_path
    from runner.record.checking import check_copy, check_session
    from runner.record.journal import Journal
    from runner.record.records import journal_of

    if session and Path(session).is_file():
        yield from check_copy(Path(session), key=key)
        return
    path, name = journal_of(session, journal=journal) if session else (journal or journal_path(), None)
    with Journal.read(path) as found:
        for each in [name] if name else [line.session for line in found.sessions()]:
            yield check_session(found, each, key=key)


@click.command("sign")
@click.argument("session", required=False)
@click.option("--show-key", is_flag=True, help="Print this bay's public key, to be given to who checks copies.")
@journal_option
@plainly
def sign_command(session: str | None, show_key: bool, journal: Path | None) -> None:
    """Put this bay's signature under SESSION; closed sessions of `leadsman run` have it already."""
    from runner.record.journal import Journal
    from runner.record.records import journal_of
    from runner.record.signing import own_key, public_hex, seal

    key = own_key()
    if show_key:
        click.echo(public_hex(key))
    if session is None:
        if not show_key:
            raise click.UsageError("name a session (`leadsman sessions` lists them), or give --show-key.")
        return
    path, name = journal_of(session, journal=journal)
    with Journal.open(path, name) as store:
        stored = seal(store, key)
    told = f"sealed up to event {stored['upto']}" if stored else "was sealed already"
    stderr().print(f"Session {name} {told} by key {public_hex(key)[:8]}.")
