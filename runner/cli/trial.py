"""`leadsman trial`: every flow through every fault, many draws, no audio."""

import json
import time
from pathlib import Path

import click
from rich.console import Console

from runner.cli.shared import PROBLEMS, json_option, plainly, stderr
from runner.trial.beyond import COMINGS, PAIRS, beyond_line, beyond_table, run_beyond, worst_of
from runner.trial.tables import confusion_table, fault_table, flow_table, shortfalls
from runner.trial.targets import target_table, targets_of
from runner.trial.trialling import Lot, Trial, line_of, run_trial, unserved_of

PRINTED_WIDTH = 130  # of tables that go to a file


@click.command("trial")
@click.argument("flows", nargs=-1)
@click.option("--draws", type=click.IntRange(1, 1_000_000), default=200, show_default=True, help="Engines a fault.")
@click.option("--seed", type=click.IntRange(0), default=1, show_default=True)
@click.option("--slips", type=click.FloatRange(0, 1), default=0.0, show_default=True, help="Chance a check of a slip.")
@click.option(
    "--stuck", type=click.FloatRange(0, 1), default=0.0, help="Chance that a slip stays while its probe is not moved."
)
@click.option(
    "--beyond-reach",
    type=click.FloatRange(0, 1),
    help="Share of sessions without access to the control unit; the slip rate when left out.",
)
@click.option("--unit-out-of-reach", is_flag=True, help="Nobody can reach the control unit: --beyond-reach 1.")
@click.option(
    "--targets", is_flag=True, help="What is wanted beside what was met, and nothing else; exit 1 if any is missed."
)
@click.option("--come-and-go", is_flag=True, help="Instead: faults under movement, heat, cold, wet and vibration.")
@click.option("--pairs", is_flag=True, help="Instead: two faults at once, the second walk after the first's repair.")
@click.option("--builds", is_flag=True, help="Also with each pull and part of the sheet the other way.")
@click.option(
    "--least", type=click.FloatRange(1, 10), default=1.0, help="Smallest fault, in times the least that counts."
)
@click.option("--machine", default="th2", show_default=True, help="Machine sheet: a name or a YAML file.")
@click.option("--meter", default="bench", show_default=True, help="Meter: a name or a YAML file.")
@click.option(
    "--best-s",
    type=click.FloatRange(0, 600),
    default=5.0,
    show_default=True,
    help="Seconds to search for the best possible, a flow.",
)
@click.option("--workers", type=click.IntRange(1, 64), help="Processes; one a core when left out.")
@click.option(
    "--page", type=click.Path(path_type=Path, dir_okay=False), help="Write an HTML page with graphs and tables."
)
@json_option
@plainly
def trial_command(
    flows: tuple[str, ...],
    draws: int,
    seed: int,
    slips: float,
    stuck: float,
    beyond_reach: float | None,
    unit_out_of_reach: bool,
    targets: bool,
    come_and_go: bool,
    pairs: bool,
    machine: str,
    meter: str,
    builds: bool,
    least: float,
    best_s: float,
    workers: int | None,
    page: Path | None,
    as_json: bool,
) -> None:
    """Walk FLOWS (all that are shipped when none is named) through every fault at many simulated engines.

    Shares are of all walks with a fault. `right`: the fault is blamed and nothing outside its class. `wrong`: something
    is blamed, and not the fault. `undecided`: the rest. Numbers come with the command, whatever they are: exit code 0,
    unless --targets asks for the verdict.
    """
    from flows.source import shipped_flows

    console, began, trials = stderr(), time.monotonic(), []
    if not console.is_terminal:
        console.width = PRINTED_WIDTH
    names = flows or tuple(shipped_flows())
    reach = 1.0 if unit_out_of_reach else slips if beyond_reach is None else beyond_reach
    lots = [Lot(n, machine, meter, draws, seed, slips, stuck, reach, builds, least, best_s) for n in names]
    for what in [name for name, asked in ((COMINGS, come_and_go), (PAIRS, pairs)) if asked]:
        _beyond(console, lots, what, workers=workers, as_json=as_json)
    if come_and_go or pairs:
        console.print(f"[dim]{time.monotonic() - began:.0f} seconds. Engines, faults and hands are simulated.[/]")
        return
    for trial in run_trial(lots, workers=workers):
        trials.append(trial)
        if as_json:
            click.echo(json.dumps(line_of(trial)))
        if not targets:
            _tell(console, trial)
    if not targets:
        console.print(flow_table(trials))
    wanted = targets_of(trials, seconds=time.monotonic() - began)
    console.print(target_table(wanted))
    unserved = {trial.made.flow: len(unserved_of(trial)) for trial in trials}
    if any(unserved.values()):
        each = ", ".join(f"{flow} {count}" for flow, count in unserved.items() if count)
        console.print(f"[yellow]Not walked[/]: faults that no flow looks for yet, {sum(unserved.values())}: {each}.")
    if page:
        from runner.trial.page import render_trials

        page.write_text(render_trials(trials), encoding="utf-8")
        console.print(f"[dim]Page: {page}.[/]")
    console.print(f"[dim]{time.monotonic() - began:.0f} seconds. Engines, faults and hands are simulated.[/]")
    if targets and not all(target.met for target in wanted):
        raise SystemExit(PROBLEMS)


def _beyond(console: Console, lots: list[Lot], what: str, *, workers: int | None, as_json: bool) -> None:
    rows = []
    for row in run_beyond(lots, what, workers=workers):
        rows.append(row)
        if as_json:
            click.echo(json.dumps(beyond_line(row, what)))
    console.print(beyond_table(rows, what))
    for sentence in worst_of(rows, what):
        console.print(sentence)


def _tell(console: Console, trial: Trial) -> None:
    for table in (fault_table(trial), confusion_table(trial)):
        if table.row_count:
            console.print(table)
    for sentence in shortfalls(trial):
        console.print(sentence)
