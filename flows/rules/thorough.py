"""Rules that walk the flow on every fault of its circuit: for `leadsman check --thorough`, seconds to a minute a flow.

Every fault goes through the flow in engines of its own, on every build of the sheet, with and without what can be closed
for a whole session, with hands that never slip and with hands that slip often. What none of these walks does, no suspect
and no slip calls for.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from flows.circuits import CIRCUITS, Circuit, Fault, variants
from flows.judging import decides
from flows.meter import Meter, load_meter
from flows.model import Flow, Step
from flows.rules.subject import Subject
from flows.source import load_flow
from flows.trial.engines import draw_engines
from flows.trial.slips import Slips
from flows.trial.walk import NO_END, Course, Walked, Walker
from flows.windows import STEP_ARGUMENTS, WindowError, compute
from flows.windows.window import Window

DRAWS = 24
ENOUGH = 100  # walks with slips that come to a step before it is called wasted: some steps are there for slips alone
SLIPS = Slips(rate=0.15)
SEED = 5
PLACE = draw_engines(1, seed=SEED).sites[0]  # of the first engine


@dataclass
class Walks:
    """What all walks of a flow came to."""

    branches: dict[str, Counter[str]] = field(default_factory=lambda: defaultdict(Counter))
    slipping: Counter[str] = field(default_factory=Counter)  # step -> times that hands which slip came to it
    came: dict[str, set[str]] = field(default_factory=lambda: defaultdict(set))  # step -> faults that came to it
    found: Counter[str] = field(default_factory=Counter)  # walks that ended at a finding
    blamed: dict[str, Counter[str]] = field(default_factory=lambda: defaultdict(Counter))  # finding -> faults
    endless: Counter[str] = field(default_factory=Counter)  # fault -> walks without an end
    walks: list[tuple[Course, Walked]] = field(default_factory=list)  # without slips

    def add(self, course: Course, walked: Walked) -> None:
        for (step, outcome), count in walked.branches.items():
            self.branches[step][outcome] += count
            self.slipping[step] += count if course.slips.rate else 0
            self.came[step].add(walked.fault)
        for party in walked.ends:
            count = len(party.which)
            if party.at == NO_END:
                self.endless[walked.fault] += count
            else:
                self.found[party.at] += count
                self.blamed[party.at][walked.fault] += count


def walked(subject: Subject, *, draws: int = DRAWS, meter: Meter | None = None) -> Walks:
    """Every fault and the healthy engine, on every build of the sheet."""
    made, meter = Walks(), meter or load_meter()
    for seed, (_, sheet) in enumerate(variants(subject.flow.circuit, subject.sheet), SEED):
        flow = subject.flow if sheet is subject.sheet else load_flow(subject.filling.expanded.document.file, sheet)
        circuit = CIRCUITS[flow.circuit](sheet)
        engines = draw_engines(draws, seed=seed, beyond_reach=0.5)  # engines and slips of their own in every build
        for slips in (Slips(), SLIPS):
            course = Course(flow, circuit, sheet, meter, slips, seed)
            walker = Walker(course, engines)
            for fault in (None, *circuit.faults(), *_blamed_that_come_and_go(flow, circuit)):
                one = walker.walk(fault)
                made.add(course, one)
                if not slips.rate:
                    made.walks.append((course, one))
    return made


def _blamed_that_come_and_go(flow: Flow, circuit: Circuit) -> list[Fault]:
    """Faults that only movement, heat, cold or wet brings out, of those that a finding of the flow blames."""
    named = {name for finding in flow.findings.values() for name in finding.blames}
    return [fault for name, fault in circuit.come_and_go().items() if name in named - set(circuit.faults())]


def thorough(subject: Subject) -> None:
    """wasted-check, unfound-finding, endless-walk, narrow-window, unlisted-code, code-without-words."""
    if subject.circuit is None:
        return  # told by `unknown-circuit` or `broken-circuit`
    made = walked(subject)
    _wasted(subject, made)
    _unfound(subject, made)
    _endless(subject, made)
    _narrow(subject, made)
    _codes(subject)


def _codes(subject: Subject) -> None:
    """A code that a fault stores, and that the flow does not begin with or the sheet has no words for."""
    stored = {code for fault in subject.circuit.faults().values() for code in subject.circuit.codes(fault)}
    for code in sorted(stored - set(subject.flow.codes)):
        what = f"a fault of this circuit stores {code}, which does not lead to this flow"
        subject.file_problem(("codes",), rule="unlisted-code", what=what, fix=f"add {code} to `codes:`")
    for code in sorted(stored - set(subject.sheet.codes)):
        what = f"code {code} has no words on the sheet of {subject.sheet.machine}"
        subject.file_problem(
            ("codes",), rule="code-without-words", what=what, fix="write them under the sheet's `codes:`"
        )


def _wasted(subject: Subject, made: Walks) -> None:
    """A check that can lead two ways, and that no suspect still possible there turns, nor a slip.

    The meter's own checks are none of these, nor is a reading that a later window rests on, nor the speed of the engine,
    which a hand makes and no fault.
    """
    flow, rested_on = subject.flow, _rested_on(subject.flow)
    for name, step in flow.steps.items():
        taken = made.branches.get(name, Counter())
        m = step.measure
        if m is None or m.red == m.black or len(set(step.outcomes.values())) == 1:
            continue
        if name in rested_on or m.quantity == "engine_speed" or made.slipping[name] < ENOUGH:
            continue
        ways = {step.outcomes[outcome] for outcome in taken if outcome in step.outcomes}
        if len(ways) == 1 and "cannot" not in taken and not _confirms(flow, step, *ways):
            what = f"step '{name}' leads to '{ways.pop()}' whatever is wrong: no fault that is left there turns it"
            fix = "take it out, or put it where its answer still matters"
            subject.problem(name, rule="wasted-check", what=what, fix=fix)


def _rested_on(flow: Flow) -> set[str]:
    """Steps whose reading the window of another step is made from."""
    given = [args for step in flow.steps.values() if step.expect for args in step.expect.values()]
    return {str(value) for args in given for key, value in args.items() if key in STEP_ARGUMENTS}


def _confirms(flow: Flow, step: Step, way: str) -> bool:
    """Whether a part is blamed right after this look at a display, at a clamp or at what moves.

    The trial's hands never slip there, so nothing in it turns the step; a person may, and a part is not blamed unseen.
    """
    unslipped = step.watch is not None or (step.measure is not None and step.measure.black is None)
    return unslipped and way in flow.findings and bool(flow.findings[way].blames)


def _unfound(subject: Subject, made: Walks) -> None:
    """A finding that blames something, and that no fault it blames ever comes to, nor could by a "cannot"."""
    for name, finding in subject.flow.findings.items():
        blamed = set(finding.blames)
        refused = any(
            step.outcomes.get("cannot") == name and blamed & made.came[step.name]
            for step in subject.flow.steps.values()
        )  # the trial's person says so only where a place is closed; another may anywhere
        if blamed and name in subject.reached and not refused and not blamed & set(made.blamed.get(name, ())):
            what = f"no walk of {_few(finding.blames)} comes to finding '{name}'"
            fix = "lead their readings to it, or take it out"
            subject.problem(name, rule="unfound-finding", what=what, fix=fix)


def _endless(subject: Subject, made: Walks) -> None:
    if made.endless:
        what = f"walks of {_few(made.endless)} go in circles"
        subject.file_problem(("steps",), rule="endless-walk", what=what, fix="count the tries: a second miss leads on")


def _narrow(subject: Subject, made: Walks) -> None:
    """A check whose window is narrower than twice what the meter can tell, wherever it is come to."""
    for name, step in subject.flow.steps.items():
        windows = list(_windows(name, made)) if step.measure is not None and step.expect is not None else []
        if not windows or any(passes for _, passes in windows):
            continue
        width, unit = max(((window.high or 0.0) - (window.low or 0.0), window.unit) for window, _ in windows)
        what = f"the window of step '{name}' is at most {width:.3g} {unit} wide: no reading of this meter passes it"
        fix = "measure the drop itself, or over more of the wire, or take another check"
        subject.problem(name, "expect", rule="narrow-window", what=what, fix=fix)


def _windows(name: str, made: Walks) -> Iterator[tuple[Window, bool]]:
    """Windows of a step in the first engine of each walk that came to it, and whether the meter can pass one."""
    for course, one in made.walks:
        step = course.flow.steps.get(name)
        if step is None or step.measure is None or name not in one.readings:
            continue
        had = {n: float(v[0]) for n, v in one.readings.items() if n != name and v[0] == v[0]}
        try:
            assert step.expect is not None
            window = compute(step.expect, sheet=course.sheet, site=PLACE, meter=course.meter, readings=had)
        except WindowError:
            continue
        yield window, decides(step.measure.quantity, window, course.meter)


def _few(names: Iterable[str]) -> str:
    listed = sorted(names)
    return ", ".join(listed[:3]) + (f" and {len(listed) - 3} more" if len(listed) > 3 else "")
