"""Right, wrong or undecided: what the walks of one fault, and of a whole flow, come to."""

import math
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np

from flows.model import Flow
from flows.trial.engines import TYPICAL_FROM
from flows.trial.lots import Engines
from flows.trial.walk import Walked

VERDICTS = ("right", "wrong", "undecided")


def verdict(flow: Flow, finding: str, fault: str, classes: Mapping[str, frozenset[str]]) -> str:
    """right: the fault is blamed and nothing outside its class. wrong: something is blamed, and not the fault.

    undecided: anything else, so also a finding that blames the fault beside others. fault "none": right when nothing
    is blamed. A walk without an end is undecided.
    """
    found = flow.findings.get(finding)
    blamed = set(found.blames) if found else set()
    if fault == "none":
        return "wrong" if blamed else ("right" if found else "undecided")
    if fault not in blamed:
        return "wrong" if blamed else "undecided"
    return "right" if blamed <= classes[fault] else "undecided"


@dataclass
class FaultTally:
    """All walks of one fault in one flow."""

    fault: str
    findings: Counter[str] = field(default_factory=Counter)
    verdicts: Counter[str] = field(default_factory=Counter)
    typical: Counter[str] = field(default_factory=Counter)  # of faults of typical size and larger
    reached: Counter[str] = field(default_factory=Counter)  # of those who could reach everything
    typical_reached: Counter[str] = field(default_factory=Counter)
    minutes: float = 0.0  # all walks together, as the next three
    minutes_reached: float = 0.0  # of those who could reach everything
    checks: int = 0
    blamed: int = 0

    @property
    def draws(self) -> int:
        return self.verdicts.total()

    def share(self, said: str) -> float:
        """Share of walks with this verdict."""
        return self.verdicts[said] / max(self.draws, 1)

    def add(self, other: "FaultTally") -> None:
        """Take another block of the same fault in."""
        for name in ("findings", "verdicts", "typical", "reached", "typical_reached"):
            getattr(self, name).update(getattr(other, name))
        for name in ("minutes", "minutes_reached", "checks", "blamed"):
            setattr(self, name, getattr(self, name) + getattr(other, name))


def tally(
    walked: Walked, engines: Engines, flow: Flow, classes: Mapping[str, frozenset[str]], *, sized: bool
) -> FaultTally:
    """What one fault's walks come to. sized: whether the fault has a size, so that it can be of typical size."""
    made = FaultTally(walked.fault)
    for party in walked.ends:
        said, count = verdict(flow, party.at, walked.fault, classes), len(party.which)
        made.findings[party.at] += count
        made.verdicts[said] += count
        typical = engines.severity[party.which] >= TYPICAL_FROM if sized else np.ones(count, dtype=bool)
        reaches = engines.reaches[party.which]
        made.typical[said] += int(typical.sum())
        made.reached[said] += int(reaches.sum())
        made.typical_reached[said] += int((typical & reaches).sum())
        made.minutes += party.hands.minutes * count
        made.minutes_reached += party.hands.minutes * int(reaches.sum())
        made.checks += party.checks * count
        found = flow.findings.get(party.at)
        made.blamed += (len(found.blames) if found else 0) * count
    return made


@dataclass(frozen=True)
class FlowTally:
    """All walks of one flow. The healthy engine is kept apart: rates are over faults."""

    flow: str
    faults: Mapping[str, FaultTally]
    branches: Mapping[tuple[str, str], int]

    @property
    def healthy(self) -> FaultTally:
        return self.faults["none"]

    def faulty(self) -> list[FaultTally]:
        """Every fault, the healthy engine left out."""
        return [row for name, row in self.faults.items() if name != "none"]

    def counts(self, of: str = "verdicts") -> Counter[str]:
        """Verdicts over all faults: of "verdicts", "typical", "reached" or "typical_reached"."""
        return sum((getattr(row, of) for row in self.faulty()), Counter())

    def rate(self, said: str, of: str = "verdicts") -> float:
        """Share of walks with this verdict."""
        counts = self.counts(of)
        return counts[said] / max(counts.total(), 1)

    def mean(self, what: str) -> float:
        """Mean `minutes`, `checks` or `blamed` a walk."""
        rows = self.faulty()
        return sum(getattr(row, what) for row in rows) / max(sum(row.draws for row in rows), 1)

    def mean_minutes_reached(self) -> float:
        """Mean minutes of the walks in which everything could be reached, as the best possible takes it."""
        rows = self.faulty()
        return sum(row.minutes_reached for row in rows) / max(sum(row.reached.total() for row in rows), 1)

    def worst(self) -> FaultTally | None:
        """The fault most often wrong, then least often right."""
        rows = self.faulty()
        return max(rows, key=lambda r: (r.share("wrong"), -r.share("right")), default=None)


def merged(flow: str, parts: Iterable[tuple[FaultTally, Mapping[tuple[str, str], int]]]) -> FlowTally:
    """Blocks of walks joined, faults in the order in which they come."""
    faults: dict[str, FaultTally] = {}
    branches: Counter[tuple[str, str]] = Counter()
    for row, taken in parts:
        if row.fault in faults:
            faults[row.fault].add(row)
        else:
            faults[row.fault] = row
        branches.update(taken)
    return FlowTally(flow, faults, branches)


def upper_bound(hits: int, of: int, *, chance: float = 0.05) -> float:
    """95 % upper bound of a rate after so many hits (Clopper and Pearson 1934, one-sided).

    >>> round(upper_bound(0, 1000), 5), round(upper_bound(1, 1000), 5), upper_bound(5, 5)
    (0.00299, 0.00474, 1.0)
    """
    if of == 0 or hits >= of:
        return 1.0
    low, high = hits / of, 1.0
    for _ in range(50):
        middle = (low + high) / 2
        low, high = (middle, high) if _at_most(hits, of, middle) > chance else (low, middle)
    return high


def _at_most(hits: int, of: int, rate: float) -> float:
    """Chance of at most so many hits."""
    if rate >= 1:
        return 0.0
    k = np.arange(hits + 1)
    choose = math.lgamma(of + 1) - np.array([math.lgamma(i + 1) + math.lgamma(of - i + 1) for i in k])
    return float(np.exp(choose + k * math.log(rate) + (of - k) * math.log1p(-rate)).sum())
