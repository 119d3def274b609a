"""Faults that come and go, walked by many engines: found, left open honestly, or taken for something that they are not."""

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from flows.model import Flow
from flows.network.faults import Fault, about
from flows.trial.walk import Walker

FOUND, NOT_FOUND, UNDECIDED, WRONG = SAID = ("found", "not found", "undecided", "wrong")


@dataclass(frozen=True)
class Coming:
    """All walks of one fault that comes and goes."""

    fault: Fault
    said: Counter[str] = field(default_factory=Counter)
    wrong: Counter[str] = field(default_factory=Counter)  # findings that condemn what it is not


def said_of(
    flow: Flow,
    finding: str,
    fault: Fault,
    *,
    faults: Mapping[str, Fault],
    classes: Mapping[str, frozenset[str]],
) -> str:
    """What a finding is worth for a fault that comes and goes.

    found: the wire or part that it is about is blamed, and nothing but what no measurement tells from that. wrong: another
    is blamed, or another beside it as if it were found. not found: nothing is blamed and the flow says that it found
    nothing today. undecided: the rest.
    """
    end = flow.findings.get(finding)
    if end is None:
        return UNDECIDED
    blamed = {name for name in end.blames if name in faults}
    if not blamed:
        return NOT_FOUND if end.status == "not_found" else UNDECIDED
    mine = {name for name in blamed if about(faults[name]) & about(fault)}
    if not mine:
        return WRONG
    beyond = blamed - mine - {other for name in mine for other in classes[name]}
    if not beyond:
        return FOUND
    return WRONG if end.status == "found" else UNDECIDED


def walk_comings(walker: Walker) -> Iterator[Coming]:
    """Every fault that comes and goes through a walker's flow."""
    course = walker.course
    comings = course.circuit.come_and_go()
    faults = course.circuit.faults(later=True) | comings
    classes = course.circuit.classes() | course.circuit.classes_come_and_go()
    for fault in comings.values():
        made = Coming(fault)
        for party in walker.walk(fault).ends:
            said = said_of(course.flow, party.at, fault, faults=faults, classes=classes)
            made.said[said] += len(party.which)
            if said == WRONG:
                made.wrong[party.at] += len(party.which)
        yield made
