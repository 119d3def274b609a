"""The tables of a trial for the terminal, and what falls short of the targets, in sentences."""

from collections.abc import Iterable, Iterator

from rich import box
from rich.markup import escape
from rich.table import Table

from flows.trial.tally import FaultTally, upper_bound
from flows.trial.walk import NO_END
from runner.trial.trialling import Trial

WRONG_MOST, RIGHT_LEAST = 0.001, 0.99  # without slips
WRONG_MOST_SLIPS, RIGHT_LEAST_SLIPS = 0.003, 0.97  # with a slip in one check of thirty
ONE_FAULT_WRONG_MOST = 0.01
HEALTHY_WRONG_MOST = 0.001
RATIO_MOST = 1.15


def percent(share: float) -> str:
    """A share in percent, a small one not rounded away.

    >>> percent(0.99), percent(0.00042), percent(0)
    ('99.0', '0.042', '0.0')
    """
    return f"{share * 100:.1f}" if share == 0 or share >= 0.0095 else f"{share * 100:.3g}"


def _table(title: str, *columns: str) -> Table:
    """Words to the left, numbers to the right."""
    table = Table(title=title, box=box.SIMPLE, title_justify="left", title_style="bold")
    for name in columns:
        words = name in ("flow", "fault", "ends", "blamed instead")
        table.add_column(name, justify="left" if words else "right", overflow="fold", no_wrap=name in ("flow", "fault"))
    return table


def flow_table(trials: Iterable[Trial]) -> Table:
    """One row a flow. Shares in percent; "sure" is right where all is in reach and the fault of typical size."""
    table = _table(
        "Trial, in percent of walks with a fault", "flow", "faults", "draws", "right", "wrong", "at most", "undecided",
        "sure", "checks", "minutes", "best", "ratio",
    )  # fmt: skip
    for trial in trials:
        made, best = trial.made, trial.best
        counts = made.counts()
        table.add_row(
            made.flow,
            str(len(made.faulty())),
            str(trial.lot.draws),
            percent(made.rate("right")),
            percent(made.rate("wrong")),
            percent(upper_bound(counts["wrong"], counts.total())),
            percent(made.rate("undecided")),
            percent(made.rate("right", "typical_reached")),
            f"{made.mean('checks'):.1f}",
            f"{made.mean('minutes'):.1f}",
            f"{'' if best.exact else '≥ '}{best.lower_minutes:.1f}" if best else "",
            f"{'' if best and best.exact else '≤ '}{trial.ratio:.2f}" if trial.ratio else "",
        )
    return table


def fault_table(trial: Trial) -> Table:
    """Faults that were not always right, the worst first."""
    rows = [row for row in trial.made.faults.values() if row.verdicts["right"] < row.draws]
    title = f"{trial.made.flow}: faults not always right, in percent (sure: typical size and all in reach)"
    table = _table(title, "fault", "right", "wrong", "undecided", "sure", "minutes", "ends")
    for row in sorted(rows, key=lambda r: (-r.share("wrong"), r.share("right"))):
        typical = row.typical_reached
        table.add_row(
            row.fault,
            percent(row.share("right")),
            percent(row.share("wrong")),
            percent(row.share("undecided")),
            percent(typical["right"] / max(typical.total(), 1)),
            f"{row.minutes / max(row.draws, 1):.1f}",
            escape(ends_of(row)),
        )
    return table


def confusion_table(trial: Trial, *, most: int = 12) -> Table:
    """Injected fault against what was blamed instead, where the fault was not among it."""
    table = _table(f"{trial.made.flow}: taken for another", "fault", "blamed instead", "times", "of")
    for fault, finding, times, of in list(confusions(trial))[:most]:
        table.add_row(fault, escape(finding), str(times), str(of))
    return table


def confusions(trial: Trial) -> Iterator[tuple[str, str, int, int]]:
    """Fault, wrong finding, times, of so many; the most frequent first."""
    found = trial.course.flow.findings
    wrong = [
        (row.fault, finding, times, row.draws)
        for row in trial.made.faults.values()
        for finding, times in row.findings.items()
        if finding in found and found[finding].blames and row.fault not in found[finding].blames
    ]
    yield from sorted(wrong, key=lambda w: -w[2] / w[3])


def ends_of(row: FaultTally, *, most: int = 4) -> str:
    """How a fault's walks ended, in words."""
    return ", ".join(
        f"{name if name != NO_END else 'no end'} {times}" for name, times in row.findings.most_common(most)
    )


def missed(trial: Trial) -> list[str]:
    """What does not meet the targets, with numbers."""
    made, slips = trial.made, trial.lot.slips > 0
    wrong_most, right_least = (WRONG_MOST_SLIPS, RIGHT_LEAST_SLIPS) if slips else (WRONG_MOST, RIGHT_LEAST)
    said = [
        (made.rate("wrong") > wrong_most, f"wrong {percent(made.rate('wrong'))} %, wanted at most {percent(wrong_most)} %"),
        (made.rate("right") < right_least, f"right {percent(made.rate('right'))} %, wanted at least {percent(right_least)} %"),
        (made.healthy.share("wrong") > HEALTHY_WRONG_MOST, f"healthy engine blamed {percent(made.healthy.share('wrong'))} %"),
        ((trial.ratio or 0) > RATIO_MOST, f"minutes {trial.ratio or 0:.2f} times the best possible, wanted {RATIO_MOST}"),
    ]  # fmt: skip
    endless = [row.fault for row in made.faults.values() if row.findings[NO_END]]
    if endless:
        said.append((True, f"walks without an end: {', '.join(endless)}"))
    over = [row for row in made.faulty() if row.share("wrong") > ONE_FAULT_WRONG_MOST]
    if over:
        names = ", ".join(f"{row.fault} {percent(row.share('wrong'))} %" for row in over)
        said.append((True, f"faults wrong in more than {percent(ONE_FAULT_WRONG_MOST)} %: {names}"))
    return [sentence for short, sentence in said if short]


def shortfalls(trial: Trial) -> Iterator[str]:
    """What does not meet the targets, for the terminal; one line that all is met otherwise."""
    for sentence in missed(trial):
        yield f"[red]Falls short[/] {trial.made.flow}: {escape(sentence)}."
    if not missed(trial):
        yield f"[green]All targets met[/] {trial.made.flow}."
