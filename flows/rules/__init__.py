"""Rules of lint beyond what loading refuses: one rule a function, each with the id it reports. `lint` runs them all."""

from collections.abc import Callable
from pathlib import Path

from flows.problems import Problem
from flows.rules import blame, circuit, ends, fits, hazards, live, sentences, spots
from flows.rules.subject import Subject
from flows.sheet import MachineSheet
from flows.source import check_document

RULES: dict[str, Callable[[Subject], None]] = {
    "circuit": circuit.circuit,
    "unreachable": ends.unreachable,
    "no-end": ends.no_end,
    "blame": blame.blame,
    "finding": blame.finding,
    "sentence": sentences.sentences,
    "live-ohms": live.live_ohms,
    "hazard": hazards.hazards,
    "place-by-colour": spots.place_by_colour,
    "fits": fits.fits,
}

__all__ = ["RULES", "Subject", "lint"]


def lint(file: Path | str, sheet: MachineSheet, *, thoroughly: bool = False) -> list[Problem]:
    """Everything wrong with a flow, a shared part, a machine sheet or the cautions, sorted by place. Never raises.

    thoroughly: also walks a flow that has no other problem through every fault, which takes seconds to a minute.
    """
    flow, problems, filling = check_document(Path(file), sheet)
    if flow is not None and filling is not None:
        subject = Subject(flow, sheet, filling)
        for rule in RULES.values():
            rule(subject)
        if thoroughly and not filling.expanded.problems:
            from flows.rules.thorough import thorough  # the trial is needed for nothing else here

            thorough(subject)
        problems = filling.expanded.problems
    return sorted(set(problems))
