"""`leadsman mic`: check a microphone, fit the ears to a person."""

from pathlib import Path

import click

from runner.cli.shared import PROBLEMS, model_option, plainly, stderr
from runner.errors import RunError


@click.command("mic")
@click.option("--device", help="Microphone, by number or part of the name; see `leadsman devices`.")
@click.option("--loudspeaker", help="Another device to speak through than to hear with.")
@click.option("--person", default="", help="Initials of who speaks; the result is kept for this person and device.")
@click.option("--silent", is_flag=True, help="Print what to do instead of saying it.")
@click.option(
    "--fit", "fits", is_flag=True, help="Fit the ears to --person: ten readings said after the tool, then a wait."
)
@click.option("--forget", "forgets", is_flag=True, help="Take away what was fitted to --person.")
@click.option(
    "--headset-dba",
    type=click.FloatRange(40, 130),
    help="What a sound level meter shows at the earpiece while this command speaks [dB(A)]; keeps `run --headset` at 80.",
)
@model_option
@plainly
def mic_command(
    device: str | None,
    loudspeaker: str | None,
    person: str,
    silent: bool,
    fits: bool,
    forgets: bool,
    headset_dba: float | None,
    model: Path | None,
) -> None:
    """Check a microphone in twenty seconds: the noise, your level, ten call-outs; says what to change.

    Exit 1 when something has to be changed, or when a fit did not help.
    """
    from runner.talk.at_microphone import at_microphone, check_and_keep, fit_and_keep, forget

    who = person.strip().upper()
    if (fits or forgets) and not who:
        raise RunError("whose ears? Give the initials that are spelled when a job begins: --person AB")
    if headset_dba is not None:
        _keep_headset(loudspeaker or device, headset_dba)
    elif forgets:
        stderr().print(f"Forgotten: {forget(who)} of {who}.")
    else:
        with at_microphone(device, loudspeaker or device, silent=silent, model=model) as at:
            if fits:
                from rich.progress import Progress

                from speech.fitting.fit import TICKS

                with Progress(console=stderr(), transient=True) as progress:
                    task = progress.add_task("fitting", total=TICKS)
                    found = fit_and_keep(
                        at.ears,
                        at.voice,
                        at.recogniser,
                        at.source.name,
                        who,
                        tick=lambda: progress.advance(task),
                    )
                if found.fit is not None:
                    worth = f"{found.fit.before:.2f} before, {found.fit.after:.2f} after"
                    stderr().print(
                        f"{found.taken} of 10 taken; doubt about call-outs not fitted to: {worth} (less is better)."
                    )
                stderr().print(found.verdict)
                raise SystemExit(0 if found.fit is not None and found.fit.helps else PROBLEMS)
            check, before = check_and_keep(at, who)
        _tell(check.facts(), before, at.source.name)
        stderr().print(check.verdict)
        raise SystemExit(0 if check.good else PROBLEMS)


def _keep_headset(device: str | None, dba: float) -> None:
    from runner.jobs import home
    from runner.talk.people import PEOPLE, People
    from speech.sound_devices import find_device

    name = find_device(device, output=True)[1]
    People(home() / PEOPLE).keep_headset_dba(name, dba)
    stderr().print(f"Kept: {name} gives {dba:g} dB(A) at full volume.")


def _tell(now: dict[str, object], before: dict[str, object] | None, name: str) -> None:
    from rich.table import Table

    table = Table("microphone", "noise (dBFS)", "voice (dBFS)", "voice over noise (dB)", "right of 10", "seconds")
    for title, facts in (("last time", before), (name, now)):
        if facts:
            columns = ("noise_dbfs", "speech_dbfs", "over_noise_db", "right", "seconds")
            table.add_row(title, *(str(facts.get(column, "")) for column in columns))
    stderr().print(table)
