"""The trial of flows: which faults go to which process, what is joined, and the line a flow comes to."""

import math
import os
from collections.abc import Iterable, Iterator, Mapping
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import lru_cache
from multiprocessing import get_context
from typing import Any

from flows.circuits import CIRCUITS, variants
from flows.meter import load_meter
from flows.sheet import MachineSheet
from flows.source import load_flow, load_sheet
from flows.trial.engines import SEVERITY, draw_engines
from flows.trial.lots import Engines
from flows.trial.possible import Best, best_possible
from flows.trial.slips import Slips
from flows.trial.tally import FaultTally, FlowTally, merged, tally, upper_bound
from flows.trial.walk import Course, Walker
from runner.errors import RunError

BLOCK = 1000  # engines at a time: what a circuit keeps solved has to fit in memory
MOST_WORKERS = 8
Part = tuple[FaultTally, Mapping[tuple[str, str], int]]  # a block of one fault's walks, and the branches they took


@dataclass(frozen=True)
class Lot:
    """How a flow is tried: the same lot in every process."""

    flow: str
    machine: str = "th2"
    meter: str = "bench"
    draws: int = 1000
    seed: int = 1
    slips: float = 0.0
    stuck: float = 0.0
    beyond_reach: float = 0.0  # share of sessions in which the control unit cannot be reached
    builds: bool = False  # on every build of the sheet, a share of the draws each
    least: float = 1.0  # smallest fault size, in times the least that counts on a nominal engine
    best_s: float = 5.0  # seconds to look for the best possible; 0: not at all


@dataclass(frozen=True)
class Trial:
    """What became of one lot."""

    lot: Lot
    course: Course
    made: FlowTally
    best: Best | None

    @property
    def ratio(self) -> float | None:
        """Mean minutes of those who could reach everything, over the best possible."""
        return self.made.mean_minutes_reached() / self.best.lower_minutes if self.best else None


def course_of(lot: Lot) -> Course:
    """Flow, circuit, sheet and meter of a lot, as built. Raises the errors of the flows room."""
    return _course(lot, load_sheet(lot.machine))


def _course(lot: Lot, sheet: MachineSheet) -> Course:
    flow = load_flow(lot.flow, sheet)
    if flow.circuit not in CIRCUITS:
        raise RunError(f"flow {flow.name} wants circuit {flow.circuit!r}; there is {', '.join(CIRCUITS)}")
    slips = Slips(lot.slips, lot.stuck)
    return Course(flow, CIRCUITS[flow.circuit](sheet), sheet, load_meter(lot.meter), slips, lot.seed)


def builds_of(lot: Lot, sheet: MachineSheet, circuit: str) -> list[tuple[str, MachineSheet]]:
    """The sheets a lot is tried on: as built, or with each pull and each part the other way too."""
    if not lot.builds:
        return [("as built", sheet)]
    return list(variants(circuit, sheet))


def faults_of(course: Course) -> tuple[str, ...]:
    """`none` and every fault of the circuit."""
    return ("none", *course.circuit.faults())


@dataclass(frozen=True)
class Build:
    """One sheet with its share of the engines; walkers keep the limits from fault to fault."""

    course: Course
    classes: Mapping[str, frozenset[str]]
    walkers: tuple[tuple[Walker, Engines], ...]


@lru_cache(maxsize=2)
def _at_hand(lot: Lot) -> tuple[Build, ...]:
    """What a process keeps between two faults of one lot."""
    base = course_of(lot)
    sheets = builds_of(lot, base.sheet, base.flow.circuit)
    severity = (SEVERITY[0] * lot.least, max(SEVERITY[1], SEVERITY[0] * lot.least))
    engines = draw_engines(lot.draws, seed=lot.seed, severity=severity, beyond_reach=lot.beyond_reach)
    size = min(BLOCK, math.ceil(lot.draws / len(sheets)))
    blocks = list(engines.blocks(size))
    made = []
    for i, (_, sheet) in enumerate(sheets):
        course = base if sheet is base.sheet else _course(lot, sheet)
        mine = tuple((Walker(course, block), block) for block in blocks[i :: len(sheets)])
        made.append(Build(course, course.circuit.classes(), mine))
    return tuple(made)


def try_fault(lot: Lot, fault: str) -> list[Part]:
    """All draws of one fault, build by build and block by block."""
    made: list[Part] = []
    for build in _at_hand(lot):
        faults = {"none": None, **build.course.circuit.faults()}
        if fault not in faults:
            continue  # this build has no such part
        sized = getattr(faults[fault], "grows", None) is not None
        for walker, block in build.walkers:
            walked = walker.walk(None if fault == "none" else fault)
            row = tally(walked, block, build.course.flow, build.classes, sized=sized)
            made.append((row, walked.branches))
    return made


def try_faults(lot: Lot, faults: Iterable[str]) -> list[Part]:
    """All draws of some faults."""
    return [part for fault in faults for part in try_fault(lot, fault)]


def find_best(lot: Lot) -> Best | None:
    """The best possible minutes of a lot's flow."""
    return best_possible(course_of(lot), seconds=lot.best_s) if lot.best_s > 0 else None


def workers_wanted() -> int:
    """One process a core, within reason."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    return max(1, min(MOST_WORKERS, cores or 1))


def run_trial(lots: Iterable[Lot], *, workers: int | None = None) -> Iterator[Trial]:
    """Each lot's trial, in order; faults, and the search for the best possible, are shared among processes."""
    courses = {lot: course_of(lot) for lot in lots}
    workers = workers_wanted() if workers is None else workers
    if workers == 1:
        for lot, course in courses.items():
            made = merged(course.flow.name, (part for name in faults_of(course) for part in try_fault(lot, name)))
            yield Trial(lot, course, made, find_best(lot))
        return
    shares = workers if len(courses) < 2 * workers else 1  # many flows: a flow to a process, so that all is kept there
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        searched, waiting = {}, {}
        for lot, course in courses.items():
            names = faults_of(course)
            searched[lot] = pool.submit(find_best, lot)
            waiting[lot] = [pool.submit(try_faults, lot, names[i::shares]) for i in range(shares)]
        for lot, futures in waiting.items():
            parts = _by_fault(future.result() for future in futures)
            ordered = (part for name in faults_of(courses[lot]) for part in parts[name])
            yield Trial(lot, courses[lot], merged(courses[lot].flow.name, ordered), searched[lot].result())


def _by_fault(shares: Iterable[list[Part]]) -> dict[str, list[Part]]:
    made: dict[str, list[Part]] = {}
    for share in shares:
        for part in share:
            made.setdefault(part[0].fault, []).append(part)
    return made


def unserved_of(trial: Trial) -> list[str]:
    """Faults of its circuit that the flow does not look for yet, and that were not walked."""
    circuit = trial.course.circuit
    return sorted(set(circuit.faults(later=True)) - set(circuit.faults()))


def line_of(trial: Trial) -> dict[str, Any]:
    """The flow's JSON line. right, wrong, undecided and what ends in _bound are shares of all walks with a fault.

    best_minutes is a lower bound; best_found_minutes is what an order that was found takes; best_exact: they are one.
    """
    lot, made, best = trial.lot, trial.made, trial.best
    counts, walks = made.counts(), made.counts().total()
    healthy = made.healthy
    worst = made.worst()
    line: dict[str, Any] = {
        "flow": made.flow,
        "faults": len(made.faulty()),
        "unserved": len(unserved_of(trial)),
        "draws": lot.draws,
        "right": round(made.rate("right"), 6),
        "wrong": round(made.rate("wrong"), 6),
        "undecided": round(made.rate("undecided"), 6),
        "mean_checks": round(made.mean("checks"), 2),
        "mean_minutes": round(made.mean("minutes"), 2),
        "best_minutes": round(best.lower_minutes, 2) if best else None,
        "mean_blamed": round(made.mean("blamed"), 3),
        "walks": walks,
        "builds": [name for name, _ in builds_of(lot, trial.course.sheet, trial.course.flow.circuit)],
        "slips": lot.slips,
        "least": lot.least,
        "beyond_reach": lot.beyond_reach,
        "mean_minutes_reached": round(made.mean_minutes_reached(), 2),
        "best_found_minutes": round(best.found_minutes, 2) if best else None,
        "best_exact": best.exact if best else None,
        "minutes_ratio": round(trial.ratio, 3) if trial.ratio else None,
        "wrong_bound": round(upper_bound(counts["wrong"], walks), 6),
        "not_right_bound": round(upper_bound(walks - counts["right"], walks), 6),
        "healthy_blamed": round(healthy.verdicts["wrong"] / max(healthy.draws, 1), 6),
        "healthy_blamed_bound": round(upper_bound(healthy.verdicts["wrong"], healthy.draws), 6),
        "worst_fault": worst.fault if worst else None,
        "worst_fault_wrong": round(worst.verdicts["wrong"] / max(worst.draws, 1), 6) if worst else None,
    }
    for of in ("typical", "reached", "typical_reached"):
        line[f"right_{of}"] = round(made.rate("right", of), 6)
        line[f"wrong_{of}"] = round(made.rate("wrong", of), 6)
    return line
