"""The command line. Machine-readable lines go to standard output, everything else to standard error.

A command's module is imported when that command is wanted: a technician does not wait for the trial's tables.
"""

from importlib import import_module

import click

from runner.jobs import code_version

COMMANDS = {
    **dict.fromkeys(("run", "resume", "devices"), "live"),
    "mic": "microphone",
    "rehearse": "rehearse",
    "practice": "practice",
    "trial": "trial",
    **dict.fromkeys(("check", "hear", "say"), "authoring"),
    **dict.fromkeys(("sessions", "report", "audit", "sign"), "record"),
    **dict.fromkeys(("export", "import", "note"), "copying"),
    "share": "sharing",
    **dict.fromkeys(("review", "users"), "review"),
}
"""Each command and its module; the function there is called NAME_command."""


class _Commands(click.Group):
    """Commands by name, in the order above."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return [*COMMANDS, *self.commands]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return super().get_command(ctx, cmd_name)
        found = getattr(import_module(f"runner.cli.{COMMANDS[cmd_name]}"), f"{cmd_name}_command")
        assert isinstance(found, click.Command)
        return found


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(code_version(), prog_name="leadsman")
def cli() -> None:
    """Voice-guided electrical tests: speaks the step, hears the reading, judges it, names the fault."""


@cli.command("test", context_settings={"ignore_unknown_options": True})
@click.argument("arguments", nargs=-1, type=click.UNPROCESSED)
def test_command(arguments: tuple[str, ...]) -> None:
    """Run the checkout's tests; ARGUMENTS go to pytest."""
    from runner.bootstrap import run_tests

    raise SystemExit(run_tests(arguments))


def main() -> None:
    """Entry point of `leadsman` and of `python3 -m runner`."""
    cli(prog_name="leadsman")
