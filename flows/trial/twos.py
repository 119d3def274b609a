"""Two faults at once: is one of them found, and after its repair the other?"""

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

import numpy as np

from flows.network.faults import Fault
from flows.trial.tally import verdict
from flows.trial.walk import Walker

RIGHT, OUTSIDE, FIRST_OPEN, SECOND = SAID = ("right", "blamed outside", "first undecided", "second not found")


@dataclass(frozen=True)
class Two:
    """All walks of one pair. said: right, or what went wrong first."""

    pair: Fault
    said: Counter[str] = field(default_factory=Counter)
    outside: Counter[str] = field(default_factory=Counter)  # findings that blame what neither is


def walk_pairs(walker: Walker) -> Iterator[Two]:
    """Every pair through a walker's flow, twice: the second time without what the first walk blamed.

    right: what is blamed is one of the two (or what no measurement tells from it), and the second walk blames the other
    and nothing outside its class. Where the first walk blames both, the second has to find nothing.
    """
    seconds = _Seconds(walker)
    flow, classes = walker.course.flow, walker.course.circuit.classes()
    for pair in walker.course.circuit.pairs().values():
        made, (one, two) = Two(pair), (fault.name for fault in pair.of)
        for party in walker.walk(pair).ends:
            found, count = flow.findings.get(party.at), len(party.which)
            blamed = {name for name in (found.blames if found else ()) if name in classes}
            if not blamed:
                made.said[FIRST_OPEN] += count
            elif not blamed <= classes[one] | classes[two]:
                said = OUTSIDE if found is not None and not blamed & {one, two} else FIRST_OPEN
                made.said[said] += count
                if said == OUTSIDE:
                    made.outside[party.at] += count
            else:
                left = [name for name in (one, two) if not blamed & classes[name]]
                right = seconds.right(left[0] if left else "none", party.which)
                made.said[RIGHT] += right
                made.said[SECOND] += count - right
        yield made


class _Seconds:
    """What single faults come to, kept: whether an engine's walk with that fault alone is right."""

    def __init__(self, walker: Walker) -> None:
        self._walker = walker
        self._kept: dict[str, np.ndarray] = {}

    def right(self, fault: str, which: np.ndarray) -> int:
        """How many of these engines' walks are right."""
        if fault not in self._kept:
            self._kept[fault] = self._walked(fault)
        return int(self._kept[fault][which].sum())

    def _walked(self, fault: str) -> np.ndarray:
        course = self._walker.course
        classes: Mapping[str, frozenset[str]] = course.circuit.classes()
        right = np.zeros(len(self._walker.engines), dtype=bool)
        for party in self._walker.walk(None if fault == "none" else fault).ends:
            right[party.which] = verdict(course.flow, party.at, fault, classes) == "right"
        return right
