"""One engine of a flow walked step by step without audio: the reading, the judging and the branch as a run takes them.

Slower than flows.trial and independent of it: what both say of a fault is compared by tests.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np

from flows.bench import Bench
from flows.circuits import NOMINAL, Circuit, Draw, Fault
from flows.judging import Reading, judge
from flows.meter import OVER, Meter
from flows.model import Flow, MachineSheet, Step
from flows.site import Site
from flows.staging import stages
from flows.walking import WalkError, automatic, denied_places, next_step, once_more
from flows.windows import WindowError, compute

SLIPS = ("missed", "ghost", "neighbour", "reversed")
TALK_MIN = 0.12  # a question and its answer


@dataclass(frozen=True)
class World:
    """One engine, one place, one meter, one technician."""

    sheet: MachineSheet
    circuit: Circuit
    flow: Flow
    meter: Meter
    site: Site = field(default_factory=lambda: Site(thermometer_c=15.0))
    draw: Draw = NOMINAL
    gain: float = 0.0
    offset: float = 0.0
    reaches_unit: bool = True
    slip_at: int | None = None  # which measurement goes wrong, counted from 0
    slip: str = "missed"
    ghost_v: float = 0.7
    misses: str | None = None  # a point the probe never touches while its plug is in, however often it is seated
    misses_v: float = 0.0  # what stands on the meter then
    reseats: bool = True  # the dialogue has both probes seated again before a reading decides


@dataclass
class Walked:
    """How a walk ended."""

    finding: str
    blames: tuple[str, ...]
    status: str
    path: list[tuple[str, str]]
    readings: dict[str, float]
    minutes: float
    measured: int
    problem: str = ""


def walk(world: World, fault: Fault | str | None, *, most: int = 120) -> Walked:
    """Walk the flow with this fault in the circuit, to a finding."""
    walker = _Walker(world, fault)
    at = world.flow.start
    while at in world.flow.steps:
        if len(walker.path) >= most:
            return walker.ended("", f"no finding after {most} steps, last {at}")
        step = world.flow.steps[at]
        try:
            outcome = walker.outcome(step)
            walker.path.append((at, outcome))
            at = next_step(world.flow, at, outcome)
        except (WindowError, WalkError) as error:
            return walker.ended("", f"{at}: {error}")
    return walker.ended(at, "")


class _Walker:
    """Answers each step as an honest technician would."""

    def __init__(self, world: World, fault: Fault | str | None) -> None:
        self.world, self.fault = world, fault
        found = world.circuit.faults().get(fault) if isinstance(fault, str) else fault
        self._comes_and_goes = getattr(found, "kind", "") == "intermittent"
        self.path: list[tuple[str, str]] = []
        self.readings: dict[str, float] = {}
        self.bench = Bench()
        self.minutes = 0.0
        self.measured = 0

    def ended(self, name: str, problem: str) -> Walked:
        finding = self.world.flow.findings.get(name)
        blames = finding.blames if finding else ()
        status = finding.status if finding else "cannot_decide"
        return Walked(name, blames, status, self.path, self.readings, self.minutes, self.measured, problem)

    def outcome(self, step: Step) -> str:
        denied = denied_places(self.world.flow, self.path, self.world.sheet)
        known = automatic(step, denied)
        if known is not None:
            return known
        if "unit" in step.places and not self.world.reaches_unit:
            self.minutes += TALK_MIN
            return "cannot"
        self._stage(step)
        if step.kind == "ask":
            return self._answer(step)
        if step.kind == "act":
            return "done"
        if step.look is not None:
            return self.world.circuit.look(self.fault, step.look.place, draw=self.world.draw)
        return self._watch(step) if step.watch is not None else self._check(step)

    def _stage(self, step: Step) -> None:
        self.minutes += TALK_MIN + step.minutes
        for stage in stages(self.bench, step, self.world.sheet):
            self.bench = self.bench.after(stage)
            self.minutes += stage.minutes + stage.wait_s / 60

    def _answer(self, step: Step) -> str:
        assert step.ask is not None
        again = once_more(step, (name for name, _ in self.path))
        if again is not None:
            return again
        if step.ask.reply == "codes":
            return "answered" if self._codes else "none"
        if step.ask.reply == "yes_no":
            return "yes" if self._codes or self._comes_and_goes else "no"  # "a code, or does the trouble come and go?"
        if step.ask.reply == "choice":
            return "cold" if "cold" in step.ask.choices else step.ask.choices[0]
        return "answered"

    @cached_property
    def _codes(self) -> tuple[str, ...]:
        codes: tuple[str, ...] = self.world.circuit.codes(self.fault, site=self.world.site, draw=self.world.draw)
        return codes

    def _watch(self, step: Step) -> str:
        assert step.measure is not None and step.watch is not None
        m = step.measure
        for place in step.watch.places:
            seen = self.world.circuit.watch(
                self.fault, m.red, m.black, m.quantity, m.state, place=place, by=step.watch.by, **self._here()
            )
            if seen == "moved":
                return "moved"
        return "steady"

    def _here(self) -> dict[str, Any]:
        return {"site": self.world.site, "meter_ohm": self.world.meter.input_ohm, "draw": self.world.draw}

    def _check(self, step: Step) -> str:
        """The outcome as the dialogue makes it: a grave reading is taken again with both probes seated anew."""
        assert step.measure is not None
        outcome, shown = self._judged(step, self._shown(step))
        if step.outcomes.get(outcome) in self.world.flow.findings and self.world.reseats:
            outcome, shown = self._judged(step, self._shown(step, again=True))
        if not math.isinf(shown):
            self.readings[step.name] = shown
        return outcome

    def _judged(self, step: Step, shown: float) -> tuple[str, float]:
        assert step.measure is not None
        if not step.expect:
            return "in", shown
        world = self.world
        others = {name: value for name, value in self.readings.items() if name != step.name}
        window = compute(step.expect, sheet=world.sheet, site=world.site, meter=world.meter, readings=others)
        if shown < 0 and window.low is not None and window.low >= 0:
            shown = self._shown(step, again=True)  # "minus, where minus cannot be": the leads are swapped
        over = math.isinf(shown)
        reading = Reading(step.measure.quantity, None if over else shown, over_range=over)
        return judge(reading, window, world.meter).outcome, shown

    def _shown(self, step: Step, *, again: bool = False) -> float:
        assert step.measure is not None
        m, world = step.measure, self.world
        slip = None
        if m.black is not None and not again:
            slip = world.slip if self.measured == world.slip_at else None
            self.measured += 1
        red, black = m.red, m.black
        if world.misses in (red, black) and m.black is not None and _plugged_in(world.misses, m.state, world.sheet):
            return OVER if m.quantity == "resistance" else round(world.misses_v, 3)
        if slip in ("missed", "ghost"):
            if m.quantity == "resistance":
                return OVER
            return 0.0 if slip == "missed" else round(world.ghost_v, 3)
        if slip == "neighbour":
            red = _neighbour(red, world.sheet)
        if slip == "reversed" and black is not None:
            red, black = black, red
        true = world.circuit.reading(self.fault, red, black, m.quantity, m.state, **self._here())
        return float(world.meter.shows(m.quantity, true, gain=world.gain, offset=world.offset))


def _plugged_in(point: str | None, state: Mapping[str, str], sheet: MachineSheet) -> bool:
    """Whether the plug this point belongs to is in, so that only a back probe gets at it."""
    item = sheet.item_of((point or "").partition(".")[0])
    return state.get("plug" if item in ("", "control_unit_plug") else item, "in") == "in"


def _neighbour(point: str, sheet: MachineSheet) -> str:
    """The pin beside this one in the same plug."""
    place, _, wire = point.rpartition(".")
    wires = list(sheet.wires)
    if wire not in wires:
        return point
    i = wires.index(wire)
    return f"{place}.{wires[i + 1 if i + 1 < len(wires) else i - 1]}"


def verdict(walked: Walked, fault: str | None, classes: Mapping[str, frozenset[str]]) -> str:
    """right, wrong or undecided. Undecided: nothing wrong was blamed, and the fault was not pinned down either."""
    blamed = set(walked.blames)
    if fault is None:
        return "wrong" if blamed else "right"
    if fault in blamed and blamed <= classes[fault]:
        return "right"
    if walked.status != "found" and (not blamed or fault in blamed):
        return "undecided"
    return "wrong"


def drawn(rng: np.random.Generator) -> tuple[Draw, Site, float, float]:
    """An engine, a place and a meter, all healthy, within what sheet and meter allow; a fault of a size that counts."""
    shares = [float(x) for x in rng.uniform(-1, 1, 6)]
    names = ("supply", "pressure", "thermistor", "weather", "suction", "battery")
    draw = replace(NOMINAL, severity=float(rng.uniform(0.75, 1.5)), visible=bool(rng.random() < 0.5))
    draw = replace(draw, **dict(zip(names, shares, strict=True)))  # type: ignore[arg-type]
    degrees = float(rng.uniform(-20, 50))
    site = Site(altitude_m=float(rng.uniform(-300, 4500)), outdoor_c=degrees, thermometer_c=round(degrees))
    return draw, site, float(rng.uniform(-1, 1)), float(rng.uniform(-1, 1))
