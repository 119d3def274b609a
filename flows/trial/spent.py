"""Where a flow's minutes go: every walk gone through again, each step's minutes parted by what they are spent on.

check, way and setup are what the search for the best order pays as well. The rest it never pays: a reading of the same
point in the same state once more, putting back and fitting again, and hands that move more than one probe.
"""

from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from flows.acts import Act, acts
from flows.bench import Bench
from flows.model import Measure, Step
from flows.trial.costs import Clock, Hands, least_minutes, setups_of
from flows.trial.engines import draw_engines
from flows.trial.possible import opening_of
from flows.trial.walk import Course, Walker

BOTH = ("opening", "check", "way", "setup")  # what both sides pay
EXTRA = ("again", "back", "asked", "hands")  # what the flow pays beside it
KINDS = (*BOTH, *EXTRA)


@dataclass
class Node:
    """A step on one way through the flow, or a finding: the share of all walks that come here, what they spend here."""

    name: str
    share: float = 0.0
    minutes: dict[str, float] = field(default_factory=lambda: defaultdict(float))  # by kind, times the share
    faults: Counter[str] = field(default_factory=Counter)  # walks
    came: set[str] = field(default_factory=set)  # outcomes of the step before that lead here
    children: dict[str, "Node"] = field(default_factory=dict)  # by step or finding

    def on(self, name: str, outcome: str) -> "Node":
        """The node that this outcome leads to."""
        node = self.children.setdefault(name, Node(name))
        node.came.add(outcome)
        return node

    def below(self) -> Iterator["Node"]:
        """This node and all after it."""
        yield self
        for child in self.children.values():
            yield from child.below()

    @property
    def total(self) -> float:
        """Minutes here and in all after it."""
        return sum(sum(node.minutes.values()) for node in self.below())


class Spending:
    """All faults walked at a few engines that reach everything."""

    def __init__(self, course: Course, *, draws: int = 20, seed: int = 1) -> None:
        self._course, self._clock = course, Clock(course.sheet)
        self._opening = {step.name for step in opening_of(course)}
        self.root = Node("opening")  # all of its steps as one
        self.minutes: dict[str, float] = {}  # mean a fault
        faults = tuple(course.circuit.faults())
        walker = Walker(course, draw_engines(draws, seed=seed))
        for fault in faults:
            for party in walker.walk(fault).ends:
                share = len(party.which) / draws / len(faults)
                self._go(fault, party.path, party.at, share=share, walks=len(party.which))
                spent = party.hands.minutes * len(party.which) / draws
                self.minutes[fault] = self.minutes.get(fault, 0.0) + spent

    def _go(self, fault: str, path: tuple[tuple[str, str], ...], end: str, *, share: float, walks: int) -> None:
        node, hands, done, before = self.root, Hands(), _Done(), ""
        _count(node, fault, share, walks)
        for name, outcome in path:
            if name not in self._opening:
                node = node.on(name, before)
                _count(node, fault, share, walks)
            step = self._course.flow.steps[name]
            later = self._clock.after(hands, step)
            for kind, minutes in self._parted(step, hands, later.minutes - hands.minutes, done).items():
                node.minutes[kind] += minutes * share
            hands, before = later, outcome
        _count(node.on(end, before), fault, share, walks)

    def _parted(self, step: Step, hands: Hands, total: float, done: "_Done") -> dict[str, float]:
        """Minutes of one step by what they are spent on."""
        if step.name in self._opening:
            done.places |= self._clock.places(step, hands.bench)
            return {"opening": total}
        m = step.measure
        if m is None:
            return {"asked": total}
        if done.has(step, m):
            return {"again": total}
        least = least_minutes(m, self._course.sheet) + (0.3 if step.watch else 0.0)
        setups = {s.name: s.minutes for s in setups_of(m, self._course.sheet)}
        new = {name: minutes for name, minutes in setups.items() if name not in done.paid}
        ways = sum(minutes for name, minutes in new.items() if name.startswith("to ") and name[3:] not in done.places)
        made = {"check": min(least, total), "way": ways, "setup": sum(new.values()) - _ways(new)}
        done.take(step, m, setups)
        back = sum(act.minutes for act in self._acts(hands.bench, m) if _of_bench(act)) - made["setup"]
        rest = total - sum(made.values())
        made["back"] = max(0.0, min(back, rest))
        return {**made, "hands": rest - made["back"]}

    def _acts(self, bench: Bench, m: Measure) -> list[Act]:
        gauge = self._course.sheet.points[m.red].kind != "metal"
        return acts(bench, m.state, None if gauge else m, self._course.sheet)


@dataclass
class _Done:
    """What one walk has read and paid for so far."""

    places: frozenset[str] = frozenset()
    paid: set[str] = field(default_factory=set)
    read: set[tuple[object, ...]] = field(default_factory=set)

    def has(self, step: Step, m: Measure) -> bool:
        """Whether this point has been read in this state: with another black probe it is the same reading once more."""
        return _reading(step, m) in self.read

    def take(self, step: Step, m: Measure, setups: dict[str, float]) -> None:
        self.read.add(_reading(step, m))
        self.paid |= set(setups)


def _reading(step: Step, m: Measure) -> tuple[object, ...]:
    """A reading without its reference: battery and engine block are the same to who reads a signal."""
    there = {"battery.negative", "engine.block"} if m.black in ("battery.negative", "engine.block") else {m.black}
    moved = step.watch.places if step.watch else ()
    return (frozenset({m.red, *there}), m.quantity, moved, tuple(sorted(m.state.items())))


def _ways(setups: dict[str, float]) -> float:
    return sum(minutes for name, minutes in setups.items() if name.startswith("to "))


def _of_bench(act: Act) -> bool:
    """Plugs, resistors, settings: not key, meter or probes."""
    return any(item not in ("key", "engine", "dial", "hold") for item in act.changes)


def _count(node: Node, fault: str, share: float, walks: int) -> None:
    node.share += share
    node.faults[fault] += walks


def without_rare(node: Node, least: float) -> Node:
    """The tree without ways that fewer than this share of the walks go."""
    kept = {key: without_rare(child, least) for key, child in node.children.items() if child.share >= least}
    return replace(node, children=kept)
