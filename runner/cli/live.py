"""`leadsman run`, `resume` and `devices`: with a person."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import click

from runner.cli.following import follow_options, following
from runner.cli.shared import PROBLEMS, journal_option, model_option, plainly, site_from, site_options, stderr
from runner.errors import RunError

_device_options = (
    click.option("--typed", is_flag=True, help="Keyboard and screen instead of microphone and loudspeaker."),
    click.option("--device", help="Microphone and loudspeaker, by number or part of the name; see `leadsman devices`."),
    click.option("--loudspeaker", help="Another device to speak through than to hear with."),
    click.option("--button", is_flag=True, help="One key or foot switch: short yes, long no, held to talk."),
    click.option(
        "--headset", is_flag=True, help='Ears open while the tool speaks: "enough" cuts it short. For headsets only.'
    ),
    click.option("--voice", default="en-us", show_default=True, help="Voice of the tool."),
    click.option(
        "--rate-wpm", type=click.IntRange(90, 240), help="Words a minute; as remembered of the person, or 165."
    ),
    click.option("--audio/--no-audio", default=True, help="Ask whether sound of call-outs may be kept; or keep none."),
    click.option(
        "--audio-days", type=click.IntRange(1, 3650), default=90, show_default=True, help="Days it is asked to be kept."
    ),
    click.option("--brief/--full", default=None, help="Leave out what a practised hand knows, or say all of it."),
)


def device_options(command: Any) -> Any:
    """What both run and resume speak and listen with."""
    for option in reversed(_device_options):
        command = option(command)
    return command


@click.command("run")
@click.argument("flow", required=False)
@click.option(
    "--code", "codes", multiple=True, help="A stored code; several together pick the flow that explains them."
)
@device_options
@follow_options
@site_options
@journal_option
@model_option
@plainly
def run_command(
    flow: str | None, codes: tuple[str, ...], journal: Path | None, model: Path | None, **wish: Any
) -> None:
    """Run FLOW with a technician: speaks each step, hears each reading, ends in a finding.

    Without FLOW, the codes pick it, and the tool says why.
    """
    from runner.jobs import journal_path, load_job
    from runner.talk.live import run_new

    why = ""
    if flow is None:
        flow, why = _picked(codes, wish["machine"])
    job = load_job(flow, machine=wish["machine"], meter=wish["meter"], site=site_from(wish))
    path = journal or journal_path()
    more: dict[str, Any] = {"journal": path, "machine": wish["machine"], "meter": wish["meter"]}
    with following(wish) as watchers:
        state = run_new(job, _devices(wish, model), first=why, also=watchers, **more)
    _ended(state, path)


def _picked(codes: tuple[str, ...], machine: str) -> tuple[str, str]:
    from flows.source import load_sheet, shipped_flows
    from runner.talk.picking import pick_flow

    if not codes:
        raise click.UsageError(f"name a flow ({', '.join(shipped_flows())}), or give the stored codes with --code.")
    pick = pick_flow(codes, load_sheet(machine))
    return pick.flow, pick.why


@click.command("resume")
@click.argument("session", required=False)
@click.option(
    "--hand-over", is_flag=True, help="Another person takes over: how the job stands is told, initials asked."
)
@device_options
@follow_options
@journal_option
@model_option
@plainly
def resume_command(session: str | None, hand_over: bool, journal: Path | None, model: Path | None, **wish: Any) -> None:
    """Take up SESSION (or the last one not finished) where it stood; a found fault goes on with the proof of its repair."""
    from runner.jobs import journal_path
    from runner.record.records import journal_of, last_unfinished
    from runner.talk.live import resume

    path, name = (
        journal_of(session, journal=journal)
        if session
        else (journal or journal_path(), last_unfinished(journal=journal))
    )
    with following(wish) as watchers:
        state = resume(name, _devices(wish, model), journal=path, hand_over=hand_over, also=watchers)
    _ended(state, path)


def _devices(wish: dict[str, Any], model: Path | None) -> Any:
    from runner.talk.live import Devices
    from runner.talk.people import Manner

    given = wish["rate_wpm"] is not None or wish["brief"] is not None
    manner = Manner(rate_wpm=wish["rate_wpm"] or Manner.rate_wpm, brief=bool(wish["brief"])) if given else None
    return Devices(
        typed=wish["typed"],
        microphone=wish["device"],
        loudspeaker=wish["loudspeaker"] or wish["device"],
        button=wish["button"],
        headset=wish["headset"],
        model=model,
        voice=wish["voice"],
        manner=manner,
        audio=wish["audio"],
        audio_days=wish["audio_days"],
    )


def _forget_due(journal: Path) -> None:
    """Sound that was kept for as long as it was agreed to goes now; a job never fails by it."""
    from runner.record.sounds import forget, sound_store

    try:
        done = forget([journal], sound_store(), now=datetime.now(UTC))
    except (RunError, OSError) as error:
        stderr().print(f"[yellow]Sound that is due could not be removed:[/] {error}")
        return
    if done.sounds:
        stderr().print(f"[dim]{done.sounds} sounds removed: kept for as long as was agreed to.[/]")


def _ended(state: Any, journal: Path) -> None:
    _forget_due(journal)
    console = stderr()
    console.print(f"Session {state.session}: {state.status}.")
    if state.finding:
        console.print(f"{state.finding['say']} {state.finding['do']}")
    for doubt in state.doubts:
        console.print(f"[yellow]Doubtful:[/] {doubt}")
    console.print(f"[dim]leadsman report {state.session} writes the page; leadsman resume {state.session} goes on.[/]")
    raise SystemExit(PROBLEMS if state.status == "stopped" else 0)


@click.command("devices")
@plainly
def devices_command() -> None:
    """Microphones and loudspeakers of this machine."""
    from rich.table import Table

    from speech.sound_devices import devices

    table = Table("number", "name", "microphone", "loudspeaker", "rate (Hz)")
    found = devices()
    for each in found:
        hears = "default" if each.is_default_input else "yes" if each.inputs else ""
        speaks = "default" if each.is_default_output else "yes" if each.outputs else ""
        table.add_row(str(each.number), each.name, hears, speaks, str(each.rate_hz))
    stderr().print(table if found else "No sound device. `leadsman run FLOW --typed` works without one.")
    raise SystemExit(0 if found else PROBLEMS)
