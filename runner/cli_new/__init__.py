"""The command line. Machine-readable lines go to standard output, everything else to standard error."""

import json
import sys
from collections.abc import Callable
from functools import wraps
from pathlib import Path
from typing import Any

import click
from rich.console import Console

from flows.model import FlowError
from flows.site import Site
from runner import jobs
from runner.errors import RunError
from runner.transcript import Transcript
from speech.ports import SpeechError

PROBLEMS, USAGE = 1, 2


def _stderr() -> Console:
    return Console(stderr=True, soft_wrap=True)


def plainly(command: Callable[..., Any]) -> Callable[..., Any]:
    """Errors of ours end in one sentence and exit code 1, never in a traceback."""

    @wraps(command)
    def wrapped(*args: Any, **kwargs: Any) -> Any:
        try:
            return command(*args, **kwargs)
        except (FlowError, SpeechError, RunError) as error:
            click.echo(f"leadsman: {error}", err=True)
            raise SystemExit(PROBLEMS) from None
        except OSError as error:
            where = f"{error.filename}: " if error.filename else ""
            click.echo(f"leadsman: {where}{error.strerror or error}", err=True)
            raise SystemExit(PROBLEMS) from None

    return wrapped


def site_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """The place of the job, the same for run, rehearse and trial."""
    for option in (
        click.option("--altitude-m", type=click.FloatRange(-500, 6000), default=0.0, help="Height above sea level."),
        click.option("--outdoor-c", type=click.FloatRange(-60, 60), default=15.0, help="Outdoor temperature."),
        click.option(
            "--qnh-hpa", type=click.FloatRange(850, 1100), help="Pressure of a weather report, tighter limits."
        ),
        click.option("--machine", default="th2", show_default=True, help="Machine sheet: a name or a YAML file."),
        click.option("--meter", default="bench", show_default=True, help="Meter: a name or a YAML file."),
        click.option(
            "--model", type=click.Path(path_type=Path, exists=True, file_okay=False), help="Another Vosk model."
        ),
    ):
        command = option(command)
    return command


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(jobs.code_version(), prog_name="leadsman")
def cli() -> None:
    """Voice-guided electrical tests: speaks the step, hears the reading, judges it, names the fault."""


@cli.command("rehearse")
@click.argument("flow")
@click.option("--fault", default="none", show_default=True, help="A fault of the circuit, none, or all.")
@click.option("--seed", type=int, default=0, show_default=True)
@click.option("--noise-db", type=click.FloatRange(-10, 60), help="Engine noise, so many dB under the voice.")
@click.option("--voice", help="Voice of the simulated technician.")
@click.option("--no-control-unit", is_flag=True, help="The technician cannot reach the control unit's plug.")
@click.option(
    "--save", type=click.Path(path_type=Path, file_okay=False), help="Folder for the WAV, journal and report."
)
@click.option("--json", "as_json", is_flag=True, help="One JSON line a rehearsal on standard output.")
@site_options
@plainly
def rehearse_command(
    flow: str,
    fault: str,
    seed: int,
    noise_db: float | None,
    voice: str | None,
    no_control_unit: bool,
    save: Path | None,
    as_json: bool,
    **place: Any,
) -> None:
    """Walk FLOW by voice with a simulated technician at a simulated engine."""
    from speech.recogniser import Recogniser

    from runner.rehearsing import Wish, run_wish

    job = jobs.load_job(flow, machine=place["machine"], meter=place["meter"], site=_site(place))
    wish = Wish(
        job=job,
        machine=place["machine"],
        fault=fault,
        seed=seed,
        noise_db=noise_db,
        voice=voice,
        reaches_control_unit=not no_control_unit,
        save=save,
    )
    console = _stderr()
    transcript = Transcript(console, quiet=fault == "all" or as_json)
    wrong = 0
    with Recogniser(model=place["model"]) as recogniser:
        for line in run_wish(wish, recogniser=recogniser, transcript=transcript):
            wrong += not line["right"]
            if as_json:
                click.echo(json.dumps(line))
            _summary(console, line)
    if not as_json:
        console.print(f"[dim]The reading model was trained on: {recogniser.training_voices}.[/]", highlight=False)
        if save:
            console.print(f"[dim]Sound, journal and report are in {save}.[/]", highlight=False)
    raise SystemExit(PROBLEMS if wrong else 0)


def _summary(console: Console, line: dict[str, Any]) -> None:
    verdict = "[green]right[/]" if line["right"] else "[red]wrong[/]"
    blames = ", ".join(line["blames"]) or "nothing"
    console.print(
        f"{line['fault']}: {line['finding']}, blames {blames}: {verdict}. {line['checks']} readings, "
        f"{line['call_outs']} call-outs, {line['seconds']:.1f} s. Session {line['session']}.",
        highlight=False,
    )


def _site(place: dict[str, Any]) -> Site:
    return Site(altitude_m=place["altitude_m"], outdoor_c=place["outdoor_c"], qnh_hpa=place["qnh_hpa"])


@cli.command("check")
@click.argument("files", nargs=-1, type=click.Path(path_type=Path))
@click.option("--machine", default="th2", show_default=True)
@click.option("--json", "as_json", is_flag=True)
@plainly
def check_command(files: tuple[Path, ...], machine: str, as_json: bool) -> None:
    """Check flow FILES (all shipped flows when none is given) without speaking; exit 1 when any has a problem."""
    from flows.rules import lint
    from flows.source import FLOWS, load_sheet

    sheet = load_sheet(machine)
    chosen = files or tuple(sorted(FLOWS.glob("*.yaml")))
    problems = sorted(problem for file in chosen for problem in lint(file, sheet))
    if as_json:
        for p in problems:
            click.echo(json.dumps({k: getattr(p, k) for k in ("file", "line", "column", "rule", "what", "fix")}))
    elif problems:
        for p in problems:
            click.echo(str(p))
    else:
        _stderr().print(f"[green]{len(chosen)} files, no problems[/]")
    raise SystemExit(PROBLEMS if problems else 0)


@cli.command("hear")
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--expect", default="V", show_default=True, help="A unit (V, ohm, kPa, degC, A, Hz ...), digits or commands."
)
@click.option("--model", type=click.Path(path_type=Path, exists=True, file_okay=False))
@click.option("--json", "as_json", is_flag=True)
@plainly
def hear_command(files: tuple[Path, ...], expect: str, model: Path | None, as_json: bool) -> None:
    """What the tool hears in each WAV of FILES."""
    from speech.hearing import hear
    from speech.recogniser import Recogniser

    from speech.sound import read_wav

    failed = 0
    with Recogniser(model=model) as recogniser:
        for file in files:
            try:
                sound = read_wav(file)
            except SpeechError as error:
                failed += 1
                click.echo(f"leadsman: {error}", err=True)
                continue
            line = hear(sound, expect, recogniser=recogniser, file=str(file))
            failed += line.text == ""
            if as_json:
                click.echo(json.dumps(line.as_dict()))
            else:
                click.echo(f"{line.file}: {line.sentence}")
    raise SystemExit(PROBLEMS if failed else 0)


@cli.command("say")
@click.argument("text")
@click.option("--save", type=click.Path(path_type=Path, dir_okay=False), help="WAV file to write instead of playing.")
@click.option("--voice", default="en-us", show_default=True)
@click.option("--device", help="Loudspeaker, by number or part of its name.")
@plainly
def say_command(text: str, save: Path | None, voice: str, device: str | None) -> None:
    """Speak TEXT, to hear how a sentence sounds."""
    from speech.pyttsx3_voice import Synthesiser

    from speech.sound import write_wav

    with Synthesiser(voice=voice) as synthesiser:
        sound = synthesiser.synthesise(text)
    if save:
        write_wav(save, sound)
        click.echo(f"{save}: {sound.duration_s:.2f} s", err=True)
        return
    from speech.sound_devices import play

    play(sound, device=device)


def main() -> None:
    """Entry point of `leadsman` and of `python3 -m runner`."""
    cli()


if __name__ == "__main__":
    sys.exit(main())
