"""What the commands share: options that mean the same everywhere, and errors that end in one sentence."""

from collections.abc import Callable
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from flows.model import FlowError
from flows.site import Site
from runner.errors import RunError
from speech.ports import SpeechError

if TYPE_CHECKING:
    from rich.console import Console

PROBLEMS, USAGE = 1, 2


def stderr() -> "Console":
    """Where everything goes that is for a person."""
    from rich.console import Console  # a run speaks before it prints

    return Console(stderr=True, soft_wrap=True, highlight=False)


def plainly(command: Callable[..., Any]) -> Callable[..., Any]:
    """Errors of ours end in one sentence and exit code 1, never in a traceback."""

    @wraps(command)
    def wrapped(*args: Any, **kwargs: Any) -> Any:
        try:
            return command(*args, **kwargs)
        except (FlowError, SpeechError, RunError) as error:
            click.echo(f"leadsman: {error}", err=True)
        except OSError as error:
            where = f"{error.filename}: " if error.filename else ""
            click.echo(f"leadsman: {where}{error.strerror or error}", err=True)
        except KeyboardInterrupt:
            click.echo("\nStopped. Everything recorded so far is kept; `leadsman resume` goes on.", err=True)
            raise SystemExit(130) from None
        raise SystemExit(PROBLEMS)

    return wrapped


def _all(options: tuple[Callable[..., Any], ...]) -> Callable[..., Any]:
    def decorate(command: Callable[..., Any]) -> Callable[..., Any]:
        for option in reversed(options):
            command = option(command)
        return command

    return decorate


site_options = _all(
    (
        click.option("--machine", default="th2", show_default=True, help="Machine sheet: a name or a YAML file."),
        click.option("--meter", default="bench", show_default=True, help="Meter: a name or a YAML file."),
        click.option("--altitude-m", type=click.FloatRange(-500, 6000), default=0.0, help="Height above sea level."),
        click.option("--outdoor-c", type=click.FloatRange(-60, 60), default=15.0, help="Outdoor temperature."),
        click.option(
            "--qnh-hpa", type=click.FloatRange(850, 1100), help="Pressure of a weather report; tighter limits."
        ),
    )
)
model_option = click.option(
    "--model",
    type=click.Path(path_type=Path, exists=True, file_okay=False),
    help="A general Vosk model folder to hear with instead of our own.",
)
journal_option = click.option(
    "--journal", type=click.Path(path_type=Path, dir_okay=False), help="Journal file; the bay's own when left out."
)
json_option = click.option("--json", "as_json", is_flag=True, help="JSON lines on standard output.")


def site_from(place: dict[str, Any]) -> Site:
    """The site that `site_options` described."""
    return Site(altitude_m=place["altitude_m"], outdoor_c=place["outdoor_c"], qnh_hpa=place["qnh_hpa"])
