"""One exercise: the hidden fault, the checks a trainee may choose, what each reads, and what each told."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from flows.acts import DIALS
from flows.circuits import CIRCUITS
from flows.meter import OVER
from flows.model import BRINGING_OUT, DEFAULT_STATE, Flow, Measure, Step
from flows.rules.hazards import needed
from flows.sheet import MachineSheet
from flows.trial.costs import Clock, Hands
from flows.trial.engines import engines_at
from flows.trial.suspects import Standing, Told, Weights
from runner.errors import RunError
from runner.job import Job
from runner.practice.dangers import danger_of
from runner.rehearsal.engine import SimulatedEngine, drawn
from runner.report.figures import THIN, number, symbol
from runner.report.story import first_sentence

ENGINES = 12  # sampled engines a fault is weighed in
CLOSE_SHARE = 0.1  # a prediction this near counts; common practice, no source
CLOSE = {"dc_voltage": 0.1, "ac_voltage": 0.1, "resistance": 1.0, "current": 0.1}  # or this near, base unit
CLOSE_ELSE = 3.0
OVER_RANGE = math.inf  # as a prediction: the meter will show that it is open or over its range


class PracticeError(RunError):
    """Something a trainee asked for that cannot be done; the text says what can."""


@dataclass(frozen=True)
class Choice:
    """A check the flow offers: its number, how it is put, and where the probes go with what on the bench."""

    number: int
    step: Step
    words: str
    detail: str


@dataclass(frozen=True)
class Done:
    """One check that was made."""

    words: str
    shown: str  # the reading or answer, as it is written
    value: float | None  # base unit; inf over range; None for a look or a watch
    predicted: float | str | None
    close: bool | None  # whether the prediction was near; None when there was none
    due: tuple[str, ...]  # cautions that belonged before it and were not yet given
    minded: bool  # whether the trainee said that a caution comes first
    minutes: float
    before: int  # suspects left, a sound engine among them
    after: int
    bits: float  # what it told: by how much the odds' entropy fell

    @property
    def respected(self) -> bool:
        return self.minded or not self.due


@dataclass
class Exercise:
    """A job with one hidden fault, as far as a trainee has come."""

    job: Job
    circuit: Any
    hidden: str
    flow: Flow  # a copy of the job's, with the trainee's own probings among its steps
    engine: SimulatedEngine
    weights: Weights
    gain: float
    offset: float
    choices: tuple[Choice, ...]
    codes: tuple[str, ...]
    pending: Step | None = None
    done: list[Done] = field(default_factory=list)
    told: list[Told] = field(default_factory=list)
    hands: Hands = field(default_factory=Hands)
    given: set[str] = field(default_factory=set)  # cautions
    refused: list[str] = field(default_factory=list)  # what was asked for and would have been dangerous
    named: str | None = None

    # -- choosing -------------------------------------------------------------------------------------------------

    def choose(self, number: int) -> Step:
        """The check with this number is the one to be made next."""
        found = next((choice for choice in self.choices if choice.number == number), None)
        if found is None:
            raise PracticeError(f"There is no check {number}. Choose 1 to {len(self.choices)}.")
        self.pending = found.step
        return found.step

    def probe(self, red: str, black: str, quantity: str, state: Mapping[str, str]) -> Step:
        """A reading of the trainee's own between two points is the one to be made next."""
        points = self.job.sheet.points
        for point in (red, black):
            if point not in points or points[point].kind != "metal":
                raise PracticeError(f"A probe cannot go to {point or 'nowhere'}. Choose a red and a black point.")
        if red == black:
            raise PracticeError("Both probes are on one point. Choose two.")
        if quantity not in ("dc_voltage", "ac_voltage", "resistance"):
            raise PracticeError("The probes read volts or ohms here. Choose one of these.")
        whole = {**DEFAULT_STATE, **{item: value for item, value in state.items() if self._may_be(item, value)}}
        if whole["engine"] != "off":
            whole["key"] = "on"  # it does not turn without
        measure = Measure(quantity=quantity, red=red, black=black, state=whole)
        if text := danger_of(measure, self.job.sheet):
            self.refused.append(text)
            raise PracticeError(text)
        words = f"{short_of(red, self.job.sheet)} to {short_of(black, self.job.sheet)}"
        name = f"own-{len(self.done) + 1}"
        step = Step(name=name, kind="check", say=f"{words[:1].upper()}{words[1:]}.", measure=measure, outcomes={})
        self.flow.steps[name] = self.pending = step
        return step

    def _may_be(self, item: str, value: str) -> bool:
        return value in {"key": ("off", "on"), **self.job.sheet.positions}.get(item, ())

    def put_back(self) -> None:
        """Choose again."""
        self.pending = None

    # -- making ---------------------------------------------------------------------------------------------------

    def cautions_due(self) -> tuple[str, ...]:
        """Cautions that belong before the chosen check and were not given yet."""
        assert self.pending is not None
        wanted = dict.fromkeys((*self.pending.cautions, *sorted(needed(self.pending, self.job.sheet))))
        return tuple(name for name in wanted if name in self.job.flow.cautions and name not in self.given)

    def make(self, *, predicted: float | str | None = None, minded: bool = False) -> Done:
        """Make the chosen check. predicted: the reading in its base unit, OVER_RANGE, or the word of an answer."""
        step = self.pending
        if step is None:
            raise PracticeError("No check is chosen. Choose one first.")
        due, before = self.cautions_due(), self.standing()
        told, shown, value = self._found(step)
        self.given.update(due)
        self.told.append(told)
        hands = Clock(self.job.sheet).after(self.hands, step)
        after = self.standing()
        made = Done(
            words=first_sentence(step.say).rstrip(".:"),
            shown=shown,
            value=value,
            predicted=predicted,
            close=_close(predicted, value, shown, step),
            due=due,
            minded=minded,
            minutes=hands.minutes - self.hands.minutes,
            before=len(before.left),
            after=len(after.left),
            bits=max(0.0, _entropy(before) - _entropy(after)),
        )
        self.hands, self.pending = hands, None
        self.done.append(made)
        return made

    def standing(self) -> Standing:
        """Odds of every fault after what was told so far."""
        return self.weights.standing(self.told)

    def name(self, fault: str) -> None:
        """Name the fault ("none": a sound engine); the exercise is over."""
        if fault != "none" and fault not in self.circuit.faults():
            raise PracticeError(f"This circuit has no fault {fault!r}. Choose one of the list.")
        self.named, self.pending = fault, None

    def _found(self, step: Step) -> tuple[Told, str, float | None]:
        if step.look is not None:
            seen = self.engine.looks(step.look.place)
            return Told(step.name, outcome=seen), seen, None
        m = step.measure
        assert m is not None
        if step.watch is not None:
            watch = step.watch
            moved = any(self.engine.moves(p, m.red, m.black, m.quantity, m.state, by=watch.by) for p in watch.places)
            word = "moved" if moved else "steady"
            return Told(step.name, outcome=word), word, None
        true = self.engine.true_value(m.red, m.black, m.quantity, m.state, hold=m.hold)
        shown = float(self.job.meter.shows(m.quantity, true, gain=self.gain, offset=self.offset))
        if abs(shown) == OVER:
            return Told(step.name, over_range=True), "OL", OVER_RANGE
        face = self.job.meter.face(m.quantity, shown)
        return Told(step.name, shown), f"{number(face.value, face.decimals)}{THIN}{symbol(face.unit)}", shown

    @property
    def minutes(self) -> float:
        """Minutes of work so far."""
        return self.hands.minutes


def begin(job: Job, *, seed: int, fault: str = "") -> Exercise:
    """A new exercise. fault: hide this one rather than one drawn by the seed.

    Raises PracticeError for a flow whose circuit is not known, and for a fault there is not.
    """
    if job.flow.circuit not in CIRCUITS:
        raise PracticeError(f"Flow {job.flow.name} has no circuit to hide a fault in. Choose another flow.")
    circuit = CIRCUITS[job.flow.circuit](job.sheet)
    rng = np.random.default_rng([seed, 5])
    faults = circuit.faults()
    hidden = fault or str(rng.choice(sorted(faults)))
    if hidden not in faults:
        raise PracticeError(f"This circuit has no fault {hidden!r}. It has {', '.join(sorted(faults))}.")
    draw = replace(drawn(seed), severity=float(rng.uniform(1, 2.5)))
    engine = SimulatedEngine(circuit, faults[hidden], site=job.site, meter=job.meter, draw=draw)
    flow = job.flow.model_copy(update={"steps": dict(job.flow.steps)})
    gain, offset = rng.uniform(-0.8, 0.8, 2)
    return Exercise(
        job=job,
        circuit=circuit,
        hidden=hidden,
        flow=flow,
        engine=engine,
        weights=Weights(flow, circuit, engines=engines_at(job.site, ENGINES), meter=job.meter),
        gain=float(gain),
        offset=float(offset),
        choices=offered(job),
        codes=engine.codes(),
    )


def offered(job: Job) -> tuple[Choice, ...]:
    """Checks, watches and looks of the flow, each once: not the meter's own, nor what only says "once more"."""
    seen: set[Any] = set()
    found: list[Choice] = []
    for step in job.flow.steps.values():
        m = step.measure
        if step.name.startswith("meter") or (m is None and step.look is None) or (m and m.red == m.black):
            continue
        what = (m.quantity, m.red, m.black, tuple(sorted(m.state.items()))) if m else step.look
        key = (what, (step.watch.places, step.watch.by) if step.watch else None)
        if key not in seen:
            seen.add(key)
            found.append(Choice(len(found) + 1, step, first_sentence(step.say).rstrip(".:"), detail(step, job.sheet)))
    return tuple(found)


def short_of(point: str, sheet: MachineSheet) -> str:
    """A point in a few words: its wire and where that is; the picture shows the pin."""
    place, _, name = point.partition(".")
    if name in sheet.wires and place in sheet.places:
        return f"{name.replace('-', ' ')} at {sheet.places[place].spoken}"
    return sheet.points[point].spoken if point in sheet.points else point


def detail(step: Step, sheet: MachineSheet) -> str:
    """Where the probes go and how the bench stands, for who reads the list."""
    m = step.measure
    if m is None:
        return "look"
    spoken = {name: point.spoken for name, point in sheet.points.items()}
    where = f"red on {spoken[m.red]}; black on {spoken[m.black]}" if m.black else f"read {spoken[m.red]}"
    if step.watch is not None:
        verb = BRINGING_OUT[step.watch.by][0].lower()
        where = f"{where}; {verb} the {', '.join(step.watch.places)}"
    out = [f"{item.replace('_', ' ')} {value}" for item, value in m.state.items() if value != sheet.home(item)]
    return "; ".join([DIALS.get(m.quantity, m.quantity), where, *([", ".join(out)] if out else [])])


def _entropy(standing: Standing) -> float:
    return -sum(share * math.log2(share) for share in standing.odds.values() if share > 0)


def _close(predicted: float | str | None, value: float | None, shown: str, step: Step) -> bool | None:
    if predicted is None:
        return None
    if isinstance(predicted, str) or value is None:
        return predicted == shown
    if math.isinf(predicted) or math.isinf(value):
        return predicted == value
    quantity = step.measure.quantity if step.measure else ""
    return abs(predicted - value) <= max(CLOSE_SHARE * abs(value), CLOSE.get(quantity, CLOSE_ELSE))
