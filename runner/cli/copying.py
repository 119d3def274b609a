"""`leadsman export`, `import` and `note`: sessions that go elsewhere, those that come from there, and what a customer gets."""

from pathlib import Path

import click

from runner.cli.shared import journal_option, plainly, stderr


@click.command("export")
@click.argument("session", default="last")
@click.option(
    "--to",
    "file",
    type=click.Path(path_type=Path, dir_okay=False),
    help="File ending in .jsonl (can be audited and imported), .csv (readings), .html or .pdf; SESSION.jsonl when left out.",
)
@journal_option
@plainly
def export_command(session: str, file: Path | None, journal: Path | None) -> None:
    """Write SESSION (or the last one) for others."""
    from runner.record.exporting import export
    from runner.record.journal import Journal
    from runner.record.records import journal_of

    path, name = journal_of(session, journal=journal)
    target = file or Path(f"{name}.jsonl")
    with Journal.read(path) as found:
        told = export(found, name, target)
    stderr().print(f"Session {name}: {told}.")
    click.echo(str(target))


@click.command("import")
@click.argument("file", type=click.Path(path_type=Path, exists=True, dir_okay=False))
@click.option(
    "--key", "told_key", help="Public key (64 digits, or its file) of the bay: everything must be sealed by it."
)
@journal_option
@plainly
def import_command(file: Path, told_key: str | None, journal: Path | None) -> None:
    """Bring the sessions of FILE, which `leadsman export` wrote in another bay, into this journal; twice does no harm."""
    from runner.jobs import journal_path
    from runner.record.importing import bring_in
    from runner.record.signing import public_key_from
    from runner.report import render

    key = public_key_from(told_key) if told_key else None
    for brought in bring_in(file, journal or journal_path(), key=key, render=render):
        checked = brought.checked
        told = f"{brought.added} events brought in" if brought.added else "was here already"
        stderr().print(f"Session {checked.session}: {told}; {checked.in_words}.")
        click.echo(checked.session)


@click.command("note")
@click.argument("session", default="last")
@journal_option
@plainly
def note_command(session: str, journal: Path | None) -> None:
    """What the customer is told of SESSION (or the last one), in 120 words at most."""
    from runner.record.journal import Journal
    from runner.record.note import customers_note
    from runner.record.records import journal_of

    path, name = journal_of(session, journal=journal)
    with Journal.read(path) as found:
        click.echo(customers_note(found.events(name)), nl=False)
