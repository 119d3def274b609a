"""The command line. Machine-readable lines go to standard output, everything else to standard error."""

import click

from runner.cli.authoring import check_command, hear_command, say_command
from runner.cli.copying import export_command, import_command, note_command
from runner.cli.live import devices_command, mic_command, resume_command, run_command
from runner.cli.practice import practice_command
from runner.cli.record import audit_command, report_command, sessions_command, sign_command
from runner.cli.rehearse import rehearse_command
from runner.cli.review import review_command, users_command
from runner.cli.sharing import share_command
from runner.cli.trial import trial_command
from runner.jobs import code_version


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(code_version(), prog_name="leadsman")
def cli() -> None:
    """Voice-guided electrical tests: speaks the step, hears the reading, judges it, names the fault."""


@click.command("test", context_settings={"ignore_unknown_options": True})
@click.argument("arguments", nargs=-1, type=click.UNPROCESSED)
def test_command(arguments: tuple[str, ...]) -> None:
    """Run the checkout's tests; ARGUMENTS go to pytest."""
    from runner.bootstrap import run_tests

    raise SystemExit(run_tests(arguments))


for _command in (
    run_command,
    resume_command,
    rehearse_command,
    practice_command,
    trial_command,
    check_command,
    hear_command,
    say_command,
    devices_command,
    mic_command,
    sessions_command,
    report_command,
    audit_command,
    sign_command,
    export_command,
    import_command,
    note_command,
    share_command,
    review_command,
    users_command,
    test_command,
):
    cli.add_command(_command)


def main() -> None:
    """Entry point of `leadsman` and of `python3 -m runner`."""
    cli(prog_name="leadsman")
