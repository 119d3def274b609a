"""`leadsman sessions`, `report` and `audit`: what was recorded."""

import json
from pathlib import Path

import click
from rich.table import Table

from runner.cli.shared import PROBLEMS, journal_option, json_option, plainly, stderr


@click.command("sessions")
@journal_option
@plainly
def sessions_command(journal: Path | None) -> None:
    """Sessions in the journal, the newest last."""
    from runner.record.records import known_sessions

    table = Table("session", "opened (UTC)", "flow", "machine", "status", "finding", "events")
    table.columns[0].no_wrap = True
    lines = known_sessions(journal=journal)
    for line in lines:
        table.add_row(
            line.session, line.opened_utc, line.title, line.machine, line.status, line.finding or "", str(line.events)
        )
    stderr().print(table if lines else "No session yet. Start one with `leadsman run manifold-pressure`.")


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
@journal_option
@json_option
@plainly
def audit_command(session: str | None, journal: Path | None, as_json: bool) -> None:
    """Find any changed, missing, reordered or cut event of SESSION, or of every session; exit 1 when there is one."""
    from runner.jobs import journal_path
    from runner.record.journal import Journal
    from runner.record.records import journal_of

    path, name = journal_of(session, journal=journal) if session else (journal or journal_path(), None)
    broken = 0
    with Journal.read(path) as found:
        for each in [name] if name else [line.session for line in found.sessions()]:
            audit = found.audit(each)
            broken += not audit.intact
            if as_json:
                facts = {"session": audit.session, "events": audit.events, "intact": audit.intact}
                click.echo(json.dumps({**facts, "first_broken": audit.first_broken}))
            else:
                click.echo(f"{audit.session}: {audit.events} events, {'intact' if audit.intact else 'BROKEN'}")
                for item in audit.breaks:
                    click.echo(f"  event {item.sequence}: {item.what}")
    raise SystemExit(PROBLEMS if broken else 0)
