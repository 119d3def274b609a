"""`leadsman check`, `hear` and `say`: for those who write flows and sentences, and for trying ears and voice."""

import json
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict
from functools import partial
from multiprocessing import get_context
from pathlib import Path

import click

from runner.cli.shared import PROBLEMS, json_option, model_option, plainly, stderr
from speech.ports import SpeechError


@click.command("check")
@click.argument("files", nargs=-1, type=click.Path(path_type=Path))
@click.option("--machine", default="th2", show_default=True, help="Machine sheet the flows are checked with.")
@click.option("--thorough", is_flag=True, help="Also walk each flow on every fault: checks nothing turns, and more.")
@json_option
@plainly
def check_command(files: tuple[Path, ...], machine: str, thorough: bool, as_json: bool) -> None:
    """Check flow FILES (all shipped flows when none is given) without speaking; exit 1 when any has a problem."""
    from flows.rules import lint
    from flows.source import LIBRARY, load_sheet

    sheet = load_sheet(machine)
    chosen = files or tuple(sorted(LIBRARY.glob("*.yaml")))
    checked = partial(lint, sheet=sheet, thoroughly=thorough)
    if thorough and len(chosen) > 1:  # seconds to a minute a flow: on all cores
        with ProcessPoolExecutor(mp_context=get_context("spawn")) as pool:
            problems = sorted(problem for found in pool.map(checked, chosen) for problem in found)
    else:
        problems = sorted(problem for file in chosen for problem in checked(file))
    for p in problems:
        if as_json:
            click.echo(json.dumps({k: getattr(p, k) for k in ("file", "line", "column", "rule", "what", "fix")}))
        else:
            click.echo(str(p))
    if not problems:
        stderr().print(f"[green]{len(chosen)} files, no problems[/]")
    raise SystemExit(PROBLEMS if problems else 0)


@click.command("hear")
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--expect", default="V", show_default=True, help="V, ohm, kPa, degC, A, Hz ..., digits, or commands.")
@model_option
@json_option
@plainly
def hear_command(files: tuple[Path, ...], expect: str, model: Path | None, as_json: bool) -> None:
    """What the tool hears in each WAV of FILES; exit 1 when it hears nothing in one, or one is no sound."""
    from speech.hearing import HearLine, hear
    from speech.recogniser import Recogniser
    from speech.sound import read_wav

    recogniser = Recogniser(model=model)
    failed = 0
    for file in files:
        try:
            line = hear(read_wav(file), expect, recogniser=recogniser, file=str(file))
        except SpeechError as error:
            failed += 1
            click.echo(f"leadsman: {error}", err=True)
            if as_json:  # a line for each file, whatever became of it
                click.echo(json.dumps(asdict(HearLine(str(file), "", None, None, 0.0))))
            continue
        if trouble := trouble_with(line.text, line.value, expect):
            failed += 1
            click.echo(f"leadsman: {file}: {trouble}", err=True)
        if as_json:
            click.echo(json.dumps(asdict(line)))
        else:
            taken = f" = {line.value:g} {line.unit}" if line.value is not None else ""
            click.echo(f"{line.file}: {line.text or '(nothing)'}{taken} [confidence {line.confidence:.2f}]")
    raise SystemExit(PROBLEMS if failed else 0)


def trouble_with(text: str, value: float | None, expect: str) -> str:
    """What to say of a recording that gave no value of what was expected; "" when there is nothing to say."""
    from speech.numbers import NumberProblem, parse_reading
    from speech.units import UNITS, UnitClashError, convert

    if not text:
        return f"nothing was heard that is {'a reading' if expect in UNITS else expect}. Say it again, closer."
    if value is not None or expect not in UNITS:
        return ""
    spoken = parse_reading(text, expected_unit=expect)
    if isinstance(spoken, NumberProblem):
        return f"heard {text!r}. {spoken.ask}"
    try:
        convert(spoken.value or 0.0, spoken.unit or expect, expect)
    except UnitClashError as clash:
        return f"heard {text!r}. {clash}"
    return ""  # over range, or bouncing: a reading without one value


@click.command("say")
@click.argument("text")
@click.option("--save", type=click.Path(path_type=Path, dir_okay=False), help="WAV file to write instead of playing.")
@click.option("--voice", default="en-us", show_default=True)
@click.option("--device", help="Loudspeaker, by number or part of its name.")
@plainly
def say_command(text: str, save: Path | None, voice: str, device: str | None) -> None:
    """Speak TEXT, to hear how a sentence sounds."""
    from speech.pyttsx3_voice import Synthesiser
    from speech.sound import write_wav

    synthesiser = Synthesiser(voice=voice)
    try:
        sound = synthesiser.synthesise(text)
    finally:
        synthesiser.close()
    if save:
        write_wav(save, sound)
        click.echo(f"{save}: {sound.duration_s:.2f} s", err=True)
        return
    from speech.sound_devices import DeviceError, Loudspeaker

    loudspeaker = Loudspeaker(device)
    lost = loudspeaker.play(sound)
    loudspeaker.close()
    if lost:
        raise DeviceError(f"the {lost.device} is gone: {lost.reason}")
