"""`leadsman rehearse`: a flow walked by voice by a simulated technician."""

import json
from pathlib import Path
from typing import Any

import click
from rich.console import Console

from runner.cli.shared import PROBLEMS, json_option, model_option, plainly, site_from, site_options, stderr


@click.command("rehearse")
@click.argument("flow")
@click.option("--fault", default="none", show_default=True, help="A fault of the circuit, none, or all.")
@click.option(
    "--part",
    type=(click.IntRange(0), click.IntRange(1)),
    default=(0, 1),
    metavar="K N",
    help="Of all faults only part K of N, from 0 on.",
)
@click.option("--seed", type=int, default=0, show_default=True, help="Draws the meter's error and the voice.")
@click.option("--noise-db", type=click.FloatRange(-10, 60), help="Engine noise, so many dB under the voice.")
@click.option(
    "--beside",
    type=click.Choice(["talk", "radio"]),
    help="Ears open all the while beside three people or a radio, 20 dB under the voice or as --noise-db says.",
)
@click.option("--voice", help="Voice of the simulated technician.")
@click.option("--no-control-unit", is_flag=True, help="The technician cannot reach the control unit's plug.")
@click.option("--save", type=click.Path(path_type=Path, file_okay=False), help="Folder for WAV, journal and report.")
@click.option(
    "--audio/--no-audio", default=True, help="Keep the call-outs of a single rehearsal, for the pages to play."
)
@json_option
@site_options
@model_option
@plainly
def rehearse_command(
    flow: str,
    fault: str,
    part: tuple[int, int],
    seed: int,
    noise_db: float | None,
    beside: str | None,
    voice: str | None,
    no_control_unit: bool,
    save: Path | None,
    audio: bool,
    as_json: bool,
    model: Path | None,
    **place: Any,
) -> None:
    """Walk FLOW by voice with a simulated technician at a simulated engine; exit 1 when a finding is wrong."""
    from runner.jobs import load_job
    from runner.rehearsal.open_ears import BESIDE_DB
    from runner.rehearsal.wishes import Wish, run_wish
    from runner.talk.transcript import Transcript

    if part[0] >= part[1]:
        raise click.BadParameter(f"{part[0]} of {part[1]}: parts are counted from 0", param_hint="--part")
    if beside and noise_db is None:
        noise_db = BESIDE_DB
    job = load_job(flow, machine=place["machine"], meter=place["meter"], site=site_from(place))
    wish = Wish(
        job=job,
        machine=place["machine"],
        meter=place["meter"],
        fault=fault,
        part=part,
        seed=seed,
        noise_db=noise_db,
        beside=beside,
        voice=voice,
        reaches_control_unit=not no_control_unit,
        save=save,
        audio=audio,
    )
    console = stderr()
    transcript = Transcript(console, quiet=fault == "all" or as_json)
    wrong = 0
    for line in run_wish(wish, model=model, transcript=transcript):
        wrong += not line["right"]
        if as_json:
            click.echo(json.dumps(line))
        _summary(console, line)
    heard_by = "" if model else ", by a voice like those the reading model learned from; it hears people less well"
    console.print(f"[dim]Engine and technician are simulated{heard_by}.[/]")
    if save:
        console.print(f"[dim]Sound, journal and report are in {save}.[/]")
    elif fault != "all":
        console.print(f"[dim]`leadsman report {line['session']}` writes it as a page.[/]")
    raise SystemExit(PROBLEMS if wrong else 0)


def _summary(console: Console, line: dict[str, Any]) -> None:
    verdict = "[green]right[/]" if line["right"] else "[red]wrong[/]"
    blames = ", ".join(line["blames"]) or "nothing"
    console.print(
        f"{line['fault']}: {line['finding']}, blames {blames}: {verdict}. {line['checks']} readings, "
        f"{line['call_outs']} call-outs, {line['seconds']:.1f} s of computing for {line['sound_s']:.0f} s of talk. "
        f"Session {line['session']}."
    )
