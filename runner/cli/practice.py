"""`leadsman practice`: a fault is hidden, and a trainee finds it."""

import json
import random
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click
from rich.table import Table

from runner.cli.shared import PROBLEMS, json_option, model_option, plainly, site_from, site_options, stderr

PORT = 8767


@click.command("practice")
@click.argument("flow", required=False)
@click.option("--fault", default="", help="Hide this fault; one by lot when left out.")
@click.option("--seed", type=click.IntRange(0), help="Draws fault, engine and meter; another each time when left out.")
@click.option("--typed", is_flag=True, help="Keyboard and screen instead of microphone and loudspeaker.")
@click.option("--device", help="Microphone and loudspeaker, by number or part of the name; see `leadsman devices`.")
@click.option("--page", "as_page", is_flag=True, help="Serve a page where probe points are clicked instead.")
@click.option("--port", default=PORT, show_default=True, type=click.IntRange(1, 65535), help="Port of that page.")
@json_option
@site_options
@model_option
@plainly
def practice_command(
    flow: str | None,
    fault: str,
    seed: int | None,
    typed: bool,
    device: str | None,
    as_page: bool,
    port: int,
    as_json: bool,
    model: Path | None,
    **place: Any,
) -> None:
    """Find the fault hidden in FLOW's circuit (in any flow's, when left out): choose checks, predict, name it."""
    from flows.source import shipped_flows
    from runner.errors import StopTest
    from runner.jobs import load_job
    from runner.practice.exercise import begin
    from runner.practice.scoring import BestOrder
    from runner.practice.terminal import Trainer
    from runner.talk.live import Devices, open_devices

    if as_page:
        _serve(port, place)
        return
    drawn = seed if seed is not None else random.SystemRandom().randrange(1, 2**31)
    name = flow or random.Random(drawn).choice(shipped_flows())
    job = load_job(name, machine=place["machine"], meter=place["meter"], site=site_from(place))
    exercise = begin(job, seed=drawn, fault=fault)
    devices = Devices(typed=typed, microphone=device, loudspeaker=device, model=model)
    ears, voice = open_devices(devices)
    try:
        result = Trainer(exercise, ears, voice, show=_show, best=BestOrder(exercise)).run()
    except StopTest as stop:
        stderr().print(f"Stopped ({stop.why}). The fault stays hidden; --seed {drawn} brings it back.")
        raise SystemExit(PROBLEMS) from None
    finally:
        ears.close()
        voice.close()
    if as_json:
        click.echo(json.dumps({"flow": name, "seed": drawn, **result.as_json()}))
    raise SystemExit(0 if result.right else PROBLEMS)


def _serve(port: int, place: dict[str, Any]) -> None:
    from runner.web.app import make_app
    from runner.web.practice import Room, section
    from runner.web.serving import Place, serve, setting_for

    where = Place(port=port)
    room = Room(machine=place["machine"], meter=place["meter"], site=site_from(place))
    stderr().print(f"To practise: {where.url} (stop with Ctrl-C)")
    serve(make_app([section(room)], setting=setting_for(where, None)), where)


def _show(heading: str, lines: Sequence[tuple[str, str]]) -> None:
    table = Table("number", heading.lower(), title=heading, show_lines=False)
    for number, words in lines:
        table.add_row(number, words)
    stderr().print(table)
