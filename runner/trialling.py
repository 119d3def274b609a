"""The trial of flows: which faults go to which process, what is joined, and the line a flow comes to."""

import os
from collections.abc import Iterable, Iterator, Mapping
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import cache
from multiprocessing import get_context
from typing import Any

from flows.circuits import CIRCUITS
from flows.meter import load_meter
from flows.source import load_flow, load_sheet
from flows.trial.engines import Engines, draw_engines
from flows.trial.slips import Slips
from flows.trial.tally import FaultTally, FlowTally, merged, tally, upper_bound
from flows.trial.walk import Course, Walker
from runner.errors import RunError

BLOCK = 250  # engines at a time: a circuit keeps some thousand solved states, and they are asked for again
MOST_WORKERS = 8
Branches = Mapping[tuple[str, str], int]


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


def course_of(lot: Lot) -> Course:
    """Flow, circuit, sheet and meter of a lot. Raises the errors of the flows room."""
    sheet = load_sheet(lot.machine)
    flow = load_flow(lot.flow, sheet)
    if flow.circuit not in CIRCUITS:
        raise RunError(f"flow {flow.name} wants circuit {flow.circuit!r}; there is {', '.join(CIRCUITS)}")
    slips = Slips(lot.slips, lot.stuck)
    return Course(flow, CIRCUITS[flow.circuit](sheet), sheet, load_meter(lot.meter), slips, lot.seed)


def faults_of(course: Course) -> tuple[str, ...]:
    """`none` and every fault of the circuit."""
    return ("none", *course.circuit.faults())


@cache
def _at_hand(lot: Lot) -> tuple[Course, tuple[Engines, ...], dict[int, Walker], dict[str, frozenset[str]]]:
    """What a process keeps between two faults of one lot."""
    course = course_of(lot)
    blocks = tuple(draw_engines(lot.draws, seed=lot.seed).blocks(BLOCK))
    return course, blocks, {}, course.circuit.classes()


def try_fault(lot: Lot, fault: str) -> list[tuple[FaultTally, Branches]]:
    """All draws of one fault, block by block."""
    course, blocks, walkers, classes = _at_hand(lot)
    made = []
    for number, block in enumerate(blocks):
        walker = walkers.setdefault(number, Walker(course, block))
        walked = walker.walk(None if fault == "none" else fault)
        found = None if fault == "none" else course.circuit.faults()[fault]
        sized = getattr(found, "grows", None) is not None
        made.append((tally(walked, block, course.flow, classes, sized=sized), walked.branches))
    return made


def _tried(job: tuple[Lot, str]) -> list[tuple[FaultTally, Branches]]:
    os.nice(0)
    return try_fault(*job)


def workers_wanted() -> int:
    """One process a core, within reason."""
    return max(1, min(MOST_WORKERS, len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1))


def run_trial(lots: Iterable[Lot], *, workers: int | None = None) -> Iterator[tuple[Lot, FlowTally]]:
    """Each lot's tally, in order; faults are shared among processes."""
    lots = list(lots)
    jobs = {lot: faults_of(course_of(lot)) for lot in lots}
    workers = workers_wanted() if workers is None else workers
    if workers == 1:
        for lot, names in jobs.items():
            yield lot, merged(lot.flow, (part for name in names for part in try_fault(lot, name)))
        return
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        waiting = {lot: [pool.submit(_tried, (lot, name)) for name in names] for lot, names in jobs.items()}
        for lot, futures in waiting.items():
            yield lot, merged(lot.flow, (part for future in futures for part in future.result()))


def line_of(lot: Lot, made: FlowTally) -> dict[str, Any]:
    """The flow's JSON line. right, wrong, undecided and what ends in _bound are shares of all walks with a fault."""
    counts, walks = made.counts(), made.counts().total()
    healthy = made.healthy
    worst = made.worst()
    line: dict[str, Any] = {
        "flow": made.flow,
        "faults": len(made.faulty()),
        "draws": lot.draws,
        "right": round(made.rate("right"), 6),
        "wrong": round(made.rate("wrong"), 6),
        "undecided": round(made.rate("undecided"), 6),
        "mean_checks": round(made.mean("checks"), 2),
        "mean_minutes": round(made.mean("minutes"), 2),
        "mean_blamed": round(made.mean("blamed"), 3),
        "walks": walks,
        "wrong_bound": round(upper_bound(counts["wrong"], walks), 6),
        "not_right_bound": round(upper_bound(walks - counts["right"], walks), 6),
        "healthy_blamed": round(healthy.verdicts["wrong"] / max(healthy.draws, 1), 6),
        "healthy_blamed_bound": round(upper_bound(healthy.verdicts["wrong"], healthy.draws), 6),
        "worst_fault": worst.fault if worst else None,
        "worst_fault_wrong": round(worst.verdicts["wrong"] / max(worst.draws, 1), 6) if worst else None,
    }
    for name, of in (("typical", "typical"), ("reached", "reached"), ("typical_reached", "typical_reached")):
        line[f"right_{name}"] = round(made.rate("right", of), 6)
        line[f"wrong_{name}"] = round(made.rate("wrong", of), 6)
    return line
