"""What is wanted of all flows together, beside what a trial came to: one row a target, the worst flow named."""

from collections.abc import Sequence
from dataclasses import dataclass

from rich import box
from rich.markup import escape
from rich.table import Table

from flows.trial.tally import upper_bound
from runner.trial.tables import (
    HEALTHY_WRONG_MOST,
    ONE_FAULT_WRONG_MOST,
    RATIO_MOST,
    RIGHT_LEAST,
    RIGHT_LEAST_SLIPS,
    WRONG_MOST,
    WRONG_MOST_SLIPS,
    percent,
)
from runner.trial.trialling import Trial

SECONDS_MOST = 300  # all flows at a thousand draws on two cores
DRAWS = 1000


@dataclass(frozen=True)
class Target:
    """One target: what is wanted, what all flows together came to, and the flow (or fault) farthest from it."""

    what: str
    wanted: str
    came_to: str
    met: bool
    worst: str
    met_by: str  # so many flows of so many


def targets_of(trials: Sequence[Trial], *, seconds: float | None = None) -> list[Target]:
    """Every target, for a trial without slips or with them, as its lots have it. No trials, no targets."""
    if not trials:
        return []
    slips = trials[0].lot.slips > 0
    wrong_most, right_least = (WRONG_MOST_SLIPS, RIGHT_LEAST_SLIPS) if slips else (WRONG_MOST, RIGHT_LEAST)
    made = [_wrong(trials, wrong_most), _right(trials, right_least), _one_fault(trials), _healthy(trials)]
    if any(trial.ratio for trial in trials):
        made.append(_minutes(trials))
    draws = min(trial.lot.draws for trial in trials)
    if seconds is not None and draws >= DRAWS:
        what = f"seconds, {len(trials)} flows at {draws:,} draws"
        made.append(Target(what, f"at most {SECONDS_MOST}", f"{seconds:.0f}", seconds <= SECONDS_MOST, "", ""))
    return made


def _wrong(trials: Sequence[Trial], most: float) -> Target:
    hits = sum(t.made.counts()["wrong"] for t in trials)
    walks = sum(t.made.counts().total() for t in trials)
    shares = {t.made.flow: t.made.rate("wrong") for t in trials}
    came_to = f"{percent(hits / max(walks, 1))} (95 %: at most {percent(upper_bound(hits, walks))})"
    return _target("wrong, percent", f"at most {percent(most)}", came_to, hits <= most * walks, shares, most)


def _right(trials: Sequence[Trial], least: float) -> Target:
    hits = sum(t.made.counts()["right"] for t in trials)
    walks = sum(t.made.counts().total() for t in trials)
    shares = {t.made.flow: -t.made.rate("right") for t in trials}
    came_to = f"{percent(hits / max(walks, 1))} (95 %: at least {percent(1 - upper_bound(walks - hits, walks))})"
    return _target("right, percent", f"at least {percent(least)}", came_to, hits >= least * walks, shares, -least)


def _one_fault(trials: Sequence[Trial]) -> Target:
    shares = {f"{t.made.flow}: {row.fault}": row.share("wrong") for t in trials for row in t.made.faulty()}
    worst = max(shares.values(), default=0.0)
    wanted = f"at most {percent(ONE_FAULT_WRONG_MOST)}"
    met = worst <= ONE_FAULT_WRONG_MOST
    return _target("wrong, worst single fault", wanted, percent(worst), met, shares, ONE_FAULT_WRONG_MOST)


def _healthy(trials: Sequence[Trial]) -> Target:
    hits, walks = (sum(counts) for counts in zip(*((t.made.healthy.verdicts["wrong"], t.made.healthy.draws) for t in trials), strict=True))  # fmt: skip
    shares = {t.made.flow: t.made.healthy.share("wrong") for t in trials}
    came_to = f"{percent(hits / max(walks, 1))} (95 %: at most {percent(upper_bound(hits, walks))})"
    wanted = f"at most {percent(HEALTHY_WRONG_MOST)}"
    return _target(
        "healthy engine condemned", wanted, came_to, hits <= HEALTHY_WRONG_MOST * walks, shares, HEALTHY_WRONG_MOST
    )


def _minutes(trials: Sequence[Trial]) -> Target:
    shares = {t.made.flow: t.ratio for t in trials if t.ratio}
    mean = sum(shares.values()) / len(shares)
    wanted = f"at most {RATIO_MOST}"
    return _target("minutes over best possible, mean", wanted, f"{mean:.2f}", mean <= RATIO_MOST, shares, RATIO_MOST)


def _target(what: str, wanted: str, came_to: str, met: bool, shares: dict[str, float], most: float) -> Target:
    """shares: the higher, the worse."""
    name, worst = max(shares.items(), key=lambda item: item[1])
    said = f"{worst:.2f}" if most == RATIO_MOST else percent(abs(worst))
    good = sum(share <= most for share in shares.values())
    return Target(what, wanted, came_to, met, f"{name} {said}" if worst else "", f"{good} of {len(shares)}")


def target_table(targets: Sequence[Target]) -> Table:
    """The targets for the terminal."""
    table = Table(title="Targets, all flows together", box=box.SIMPLE, title_justify="left", title_style="bold")
    for name in ("what", "wanted", "came to", "met", "met by", "worst"):
        table.add_column(name, overflow="fold")
    for target in targets:
        met = "[green]yes[/]" if target.met else "[red]no[/]"
        table.add_row(target.what, target.wanted, target.came_to, met, target.met_by, escape(target.worst))
    return table
