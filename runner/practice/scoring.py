"""What an exercise comes to: right, minutes against the best possible, cautions, predictions, and where the information was."""

import threading
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from flows.acts import DIALS
from flows.model import Measure
from flows.sheet import MachineSheet
from flows.trial.checks import CheckTable
from flows.trial.optimum import Search, Set
from runner.practice.dangers import danger_of
from runner.practice.exercise import Done, Exercise, short_of
from runner.report.page import suspect_words

SEARCH_S = 6.0
WAIT_S = 90.0


@dataclass(frozen=True)
class Best:
    """Expected minutes for engines with these codes: no order needs less than lower, one that needs found was found."""

    lower_minutes: float
    found_minutes: float
    exact: bool
    first: str


class Lawful(CheckTable):
    """Every check the circuit allows, without those that a caution forbids."""

    def _measures(self, red: str, black: str, state: dict[str, str]) -> Iterator[Measure]:
        yield from (m for m in super()._measures(red, black, state) if not danger_of(m, self.sheet))


class BestOrder:
    """The best order, worked out beside the exercise. Codes are told at the start, here as there."""

    def __init__(self, exercise: Exercise) -> None:
        self.classes: Mapping[str, frozenset[str]] = {}
        self._best: Best | None = None
        self._thread = threading.Thread(target=self._work, args=(exercise,), name="best order", daemon=True)
        self._thread.start()

    def result(self, *, wait_s: float = WAIT_S) -> Best | None:
        """The best order, or None when it is not known after so long."""
        self._thread.join(wait_s)
        return self._best

    def _work(self, exercise: Exercise) -> None:
        job = exercise.job
        self.classes = exercise.circuit.classes()
        table = Lawful(exercise.circuit, job.sheet, job.meter, job.flow, site=job.site)
        search = Search(table.rows, table.checks(), self.classes)
        whole = search.everything()
        hidden = sum(1 << i for i, row in enumerate(table.rows) if row.fault == exercise.hidden)
        parts = [Set(true, left, 0) for true, left in search.part(whole, table.codes().labels)]
        here = [part for part in parts if part.true & hidden]
        weight = sum(search.weight(part.true) for part in here)
        found = search.best(here, seconds=SEARCH_S)
        first = plain(found.first, job.sheet)
        self._best = Best(found.lower_minutes / weight, found.found_minutes / weight, found.exact, first)


@dataclass(frozen=True)
class Score:
    """How it went."""

    hidden: str
    named: str
    right: bool
    same: tuple[str, ...]  # faults that no check can tell from the hidden one, itself left out
    minutes: float
    checks: tuple[Done, ...]
    best: Best | None
    cautions_due: int
    cautions_kept: int
    refused: int
    predicted: int
    close: int
    codes: tuple[str, ...] = field(default=())

    def as_json(self) -> dict[str, Any]:
        """For a line of JSON."""
        return {
            "hidden": self.hidden,
            "named": self.named,
            "right": self.right,
            "checks": len(self.checks),
            "minutes": round(self.minutes, 2),
            "best_minutes": round(self.best.lower_minutes, 2) if self.best else None,
            "best_found_minutes": round(self.best.found_minutes, 2) if self.best else None,
            "cautions_due": self.cautions_due,
            "cautions_kept": self.cautions_kept,
            "refused": self.refused,
            "predicted": self.predicted,
            "close": self.close,
            "told": [{"check": c.words, "reading": c.shown, "bits": round(c.bits, 2)} for c in self.checks],
        }


def score(exercise: Exercise, best: BestOrder, *, wait_s: float = WAIT_S) -> Score:
    """The score of an exercise whose fault has been named; the best order is waited for so long."""
    assert exercise.named is not None
    order = best.result(wait_s=wait_s)
    classes = best.classes or exercise.circuit.classes()
    same = classes[exercise.hidden]
    with_caution = [done for done in exercise.done if done.due]
    guessed = [done for done in exercise.done if done.close is not None]
    return Score(
        hidden=exercise.hidden,
        named=exercise.named,
        right=exercise.named in same,
        same=tuple(sorted(same - {exercise.hidden})),
        minutes=exercise.minutes,
        checks=tuple(exercise.done),
        best=order,
        cautions_due=len(with_caution),
        cautions_kept=sum(done.minded for done in with_caution),
        refused=len(exercise.refused),
        predicted=len(guessed),
        close=sum(bool(done.close) for done in guessed),
        codes=exercise.codes,
    )


def verdict(result: Score) -> str:
    """Right or wrong, in a sentence."""
    hidden, named = suspect_words(result.hidden), suspect_words(result.named)
    if result.named == result.hidden:
        return f"Right. The fault was {hidden}."
    if result.right:
        return f"Right. The fault was {hidden}, and no check can tell {named} from it."
    return f"Wrong. You named {named}. The fault was {hidden}."


def debrief(result: Score) -> list[str]:
    """The score in sentences, at most 25 words each."""
    lines = [verdict(result), _against_best(result)]
    if result.best and result.best.first:
        lines.append(f"That order begins with: {result.best.first}.")
    if result.cautions_due:
        lines.append(f"Cautions remembered before the check: {result.cautions_kept} of {result.cautions_due}.")
    if result.refused:
        lines.append(f"Ohms asked for where they are forbidden: {result.refused}.")
    if result.predicted:
        lines.append(f"Predictions near the reading: {result.close} of {result.predicted}.")
    told = max(result.checks, key=lambda done: done.bits, default=None)
    if told is not None and told.bits > 0.05:
        lines.append(f"Most was told by: {told.words}. It left {told.after} of {told.before} suspects.")
    empty = sum(done.bits <= 0.05 for done in result.checks)
    if empty:
        lines.append(f"Checks that told nothing new: {empty}.")
    return lines


def _against_best(result: Score) -> str:
    count = len(result.checks)
    yours = f"{count} check{'s' if count != 1 else ''}, {result.minutes:.1f} minutes of work."
    if result.best is None:
        return f"{yours} The best order is not worked out yet."
    low, found = result.best.lower_minutes, result.best.found_minutes
    if found - low < 0.05:
        return f"{yours} With these codes the best order needs {found:.1f} minutes on average."
    return f"{yours} With these codes the best order needs {low:.1f} to {found:.1f} minutes on average."


def plain(name: str, sheet: MachineSheet) -> str:
    """A check of the search ("resistance plug.a unit.a [key on]") in words a person can read."""
    check, _, state = name.partition(" [")
    quantity, *points = check.split()
    if not points or any(point not in sheet.points for point in points):
        return name.replace("_", " ")  # a look or a movement, in words as it is
    dial, places = DIALS.get(quantity, quantity), " to ".join(short_of(point, sheet) for point in points)
    return ", ".join(part for part in (dial, places, state.rstrip("]").replace("_", " ")) if part)
