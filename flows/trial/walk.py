"""A flow walked by many engines at once: those with the same answers so far go together, and part where answers differ."""

import zlib
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from flows.judging import IN, NEAR, OUTCOMES, UNSTEADY, judge_many
from flows.meter import Meter
from flows.model import Flow, Step
from flows.network.faults import Fault
from flows.sheet import MachineSheet
from flows.trial.costs import Clock, Hands
from flows.trial.limits import Limits, Windows
from flows.trial.lots import Engines
from flows.trial.slips import BLACK, JUMPY, NONE, REVERSED, SlipLot, Slips, draw_slips, misread, neighbour_of, slipped
from flows.trial.solving import TrueValues
from flows.walking import automatic, denied_places, next_step, once_more

STEPS_MOST = 150  # a walk longer than this goes in circles
NO_END = ""  # its finding
NAMES = (*OUTCOMES, "cannot")
CANNOT = len(OUTCOMES)


@dataclass(frozen=True)
class Course:
    """What is walked: flow, circuit, machine, meter, and how the hands slip."""

    flow: Flow
    circuit: Any  # one of flows.circuits, or anything with its methods
    sheet: MachineSheet
    meter: Meter
    slips: Slips = field(default_factory=Slips)
    seed: int = 0


@dataclass(frozen=True)
class Party:
    """Engines that stand at one step, with the same answers behind them."""

    at: str
    which: np.ndarray
    path: tuple[tuple[str, str], ...] = ()
    hands: Hands = field(default_factory=Hands)
    checks: int = 0


@dataclass
class Walked:
    """How all engines with one fault ended. parties: those that ended alike, at a finding or at NO_END."""

    fault: str
    ends: list[Party] = field(default_factory=list)
    branches: Counter[tuple[str, str]] = field(default_factory=Counter)
    readings: dict[str, np.ndarray] = field(default_factory=dict)

    def finding_of(self, count: int) -> list[str]:
        """Finding an engine."""
        found = [NO_END] * count
        for party in self.ends:
            for i in party.which:
                found[i] = party.at
        return found


class Walker:
    """Walks a course; limits are kept from fault to fault."""

    def __init__(self, course: Course, engines: Engines) -> None:
        self.course, self.engines = course, engines
        self._windows = Windows(course.sheet, course.meter)
        self._clock = Clock(course.sheet)
        self._closed = frozenset(name for name, place in course.sheet.places.items() if place.whole_session)
        digits = {q: np.array([r.resolution for r in ranges]) for q, ranges in course.meter.ranges.items()}
        self._digits = {q: (np.array([r.full_scale for r in course.meter.ranges[q]]), d) for q, d in digits.items()}

    def walk(self, fault: Fault | str | None) -> Walked:
        """All engines, with this fault in them (None: healthy), from the flow's start to its findings."""
        return _Walk(self, fault).run()

    def near(self, quantity: str, shown: np.ndarray, limits: Limits) -> np.ndarray:
        """Whether a reading stands so near a limit that the dialogue wants it twice."""
        value = np.where(np.isfinite(shown), shown, 0.0)
        ends = [np.where(np.isnan(end), np.inf, np.abs(value - end)) for end in (limits.low, limits.high)]
        distance = np.minimum(*ends)
        scales, digits = self._digits[quantity]
        digit = digits[np.minimum(np.searchsorted(scales, np.abs(value)), len(scales) - 1)]
        if limits.simple:
            return distance <= digit / 2
        return distance <= NEAR * self.course.meter.expanded_uncertainty(quantity, value)

    def below_nothing(self, quantity: str, shown: np.ndarray, limits: Limits) -> np.ndarray:
        """Whether a minus sign stands where none can be, so that the dialogue asks for swapped leads."""
        if quantity != "dc_voltage":
            return np.zeros(len(shown), dtype=bool)
        scales, digits = self._digits[quantity]
        digit = digits[np.minimum(np.searchsorted(scales, np.abs(shown)), len(scales) - 1)]
        return (limits.low >= 0) & (shown < -3 * digit)


class _Walk:
    """One fault's walk."""

    def __init__(self, walker: Walker, fault: Fault | str | None) -> None:
        self._of, self._course, self._engines = walker, walker.course, walker.engines
        found = walker.course.circuit.faults()[fault] if isinstance(fault, str) else fault
        name = fault if isinstance(fault, str) else "none" if fault is None else fault.name
        self._values = TrueValues(walker.course.circuit, found, walker.engines, meter_ohm=walker.course.meter.input_ohm)
        self._comes_and_goes = getattr(found, "kind", "") == "intermittent"
        self._walked = Walked(name)
        self._rng = np.random.default_rng([walker.course.seed, zlib.crc32(name.encode())])
        self._stuck = np.full(len(walker.engines), NONE)  # slip an engine's probes still have

    def run(self) -> Walked:
        todo = [Party(self._course.flow.start, np.arange(len(self._engines)))]
        while todo:
            party = todo.pop()
            if party.at not in self._course.flow.steps:
                self._walked.ends.append(party)
            elif len(party.path) >= STEPS_MOST:
                self._walked.ends.append(Party(NO_END, party.which, party.path, party.hands, party.checks))
            else:
                todo.extend(self._step(party))
        return self._walked

    def _step(self, party: Party) -> Iterator[Party]:
        """The parties this one parts into at its step."""
        step = self._course.flow.steps[party.at]
        denied = denied_places(self._course.flow, party.path, self._course.sheet)
        known = automatic(step, denied)
        if known is not None:
            yield self._on(party, step, known, party.which, hands=party.hands)
            return
        closed = bool(self._of._closed.intersection(step.places)) and "cannot" in step.outcomes
        reached = self._engines.reaches[party.which] if closed else np.ones(len(party.which), dtype=bool)
        if not reached.all():
            hands = self._of._clock.refused(party.hands)
            yield self._on(party, step, "cannot", party.which[~reached], hands=hands)
        if reached.any():
            yield from self._done(party, step, party.which[reached])

    def _done(self, party: Party, step: Step, which: np.ndarray) -> Iterator[Party]:
        hands = self._of._clock.after(party.hands, step)
        outcomes = self._outcomes(party, step, which)
        for outcome in sorted(set(outcomes)):
            chosen = which[np.array([o == outcome for o in outcomes])]
            yield self._on(party, step, outcome, chosen, hands=hands, checks=step.kind == "check")

    def _on(
        self, party: Party, step: Step, outcome: str, which: np.ndarray, *, hands: Hands, checks: bool = False
    ) -> Party:
        self._walked.branches[step.name, outcome] += len(which)
        target = next_step(self._course.flow, step.name, outcome)
        return Party(target, which, (*party.path, (step.name, outcome)), hands, party.checks + checks)

    def _outcomes(self, party: Party, step: Step, which: np.ndarray) -> list[str]:
        if step.ask is not None:
            return self._answers(party, step, which)
        if step.look is not None:
            return ["bad" if bad else "fine" for bad in self._values.looks_bad(step.look.place, which)]
        if step.watch is not None:
            return self._movements(step, which)
        if step.measure is None:
            return ["done"] * len(which)
        return self._check(party, step, which)

    def _answers(self, party: Party, step: Step, which: np.ndarray) -> list[str]:
        """What an honest technician answers: a code, or trouble that comes and goes, is a yes; one starts anew once."""
        assert step.ask is not None
        again = once_more(step, (name for name, _ in party.path))
        if again is not None:
            return [again] * len(which)
        reply = step.ask.reply
        if reply in ("codes", "yes_no"):
            if len(set(step.outcomes.values())) == 1:  # the answer leads nowhere else: one asks for all
                which = np.repeat(which[:1], len(which))
            if reply == "yes_no" and self._comes_and_goes:  # "was a code stored, or does the trouble come and go?"
                return ["yes"] * len(which)
            yes, no = ("answered", "none") if reply == "codes" else ("yes", "no")
            return [yes if stored else no for stored in self._values.has_codes(which)]
        if reply == "choice":
            return ["cold" if "cold" in step.ask.choices else step.ask.choices[0]] * len(which)
        if reply == "number" and step.ask.quantity == "temperature":
            self._keep(step, which, np.array([s.outdoor_c for s in self._engines.sites])[self._engines.site_of[which]])
        return ["answered"] * len(which)

    def _movements(self, step: Step, which: np.ndarray) -> list[str]:
        assert step.measure is not None and step.watch is not None
        m, watch, moves = step.measure, step.watch, self._values.watch
        seen = [moves(m.red, m.black, m.quantity, m.state, place, which, by=watch.by) for place in watch.places]
        return ["moved" if moved else "steady" for moved in np.any(seen, axis=0)]

    def _check(self, party: Party, step: Step, which: np.ndarray) -> list[str]:
        assert step.measure is not None
        m, here = step.measure, self._engines
        limits = self._of._windows.limits(step, self._walked.readings, here, which) if step.expect else None
        true = self._values.reading(m.red, m.black, m.quantity, m.state, which)
        gain, offset = here.gain[which], here.offset[which]
        shown = np.asarray(self._course.meter.shows(m.quantity, true, gain=gain, offset=offset))
        codes = self._judged(m.quantity, shown, limits)
        if self._course.slips.rate and m.red != m.black and not m.red.startswith("thermometer."):
            shown, codes = self._with_slips(party, step, which, true, shown, codes, limits)
        if limits is not None:
            codes = np.where(limits.cannot, CANNOT, codes)
        self._keep(step, which, np.where(np.isfinite(shown) & (codes != CANNOT), shown, np.nan))
        return [NAMES[code] for code in codes]

    def _judged(self, quantity: str, shown: np.ndarray, limits: Limits | None) -> np.ndarray:
        if limits is None:
            return np.full(len(shown), IN, dtype=np.int8)
        return judge_many(
            quantity, shown, low=limits.low, high=limits.high, meter=self._course.meter, simple=limits.simple
        )

    def _keep(self, step: Step, which: np.ndarray, values: np.ndarray) -> None:
        kept = self._walked.readings.setdefault(step.name, np.full(len(self._engines), np.nan))
        kept[which] = values

    # -- hands that slip ------------------------------------------------------------------------------------------

    def _with_slips(
        self,
        party: Party,
        step: Step,
        which: np.ndarray,
        true: np.ndarray,
        shown: np.ndarray,
        codes: np.ndarray,
        limits: Limits | None,
    ) -> tuple[np.ndarray, np.ndarray]:
        """Displayed values and outcomes with slips in them, after the dialogue has asked twice where it does."""
        assert step.measure is not None
        m, here, meter = step.measure, self._engines, self._course.meter
        lot = draw_slips(len(which), self._course.slips, self._rng)
        if m.black is not None:
            lot.kind = self._still_stuck(party, step, which, lot)
        if (lot.kind == NONE).all():
            self._stuck[which] = NONE if m.black is not None else self._stuck[which]
            return shown, codes
        about = {"quantity": m.quantity, "meter": meter, "gain": here.gain[which], "offset": here.offset[which]}
        if m.black is None:
            before = self._values.reading(m.red, None, m.quantity, {"key": "on"}, which)
            low, high = misread(lot, true, before, **about)
        else:
            beside = self._values.reading(neighbour_of(m.red, self._course.sheet), m.black, m.quantity, m.state, which)
            low, high = slipped(lot, true, beside, **about)
        ends = self._judged(m.quantity, low, limits), self._judged(m.quantity, high, limits)
        found = np.where(ends[0] == ends[1], ends[0], UNSTEADY)
        cured = lot.kind == NONE
        if limits is not None:
            cured |= self._cured(step, lot, low, found, limits, m.quantity)
        if m.black is not None:
            self._stuck[which] = np.where(cured, NONE, lot.kind)
        return np.where(cured, shown, low), np.where(cured, codes, found)

    def _cured(
        self, step: Step, lot: SlipLot, shown: np.ndarray, found: np.ndarray, limits: Limits, quantity: str
    ) -> np.ndarray:
        grave = np.array([step.outcomes.get(name, "") in self._course.flow.findings for name in NAMES])
        twice = (found != IN) | grave[found] | self._of.near(quantity, shown, limits)
        swapped = (lot.kind == REVERSED) & self._of.below_nothing(quantity, shown, limits)
        return (twice & ~lot.stays) | swapped

    def _still_stuck(self, party: Party, step: Step, which: np.ndarray, lot: SlipLot) -> np.ndarray:
        """Slips of this check, those among them that an unmoved probe has kept from the check before."""
        if not self._course.slips.stuck:
            return lot.kind
        assert step.measure is not None
        bench, before = party.hands.bench, self._stuck[which]
        red_there, black_there = bench.red == step.measure.red, bench.black == step.measure.black
        there = np.where(before == BLACK, black_there, np.where(before == REVERSED, red_there & black_there, red_there))
        keeps = (before != NONE) & (before != JUMPY) & there & (self._rng.random(len(which)) < self._course.slips.stuck)
        return np.where(keeps, before, lot.kind)


def path_of(walked: Walked, engine: int) -> Mapping[str, Any]:
    """One engine's path and finding, for tests and reports."""
    for party in walked.ends:
        if engine in party.which:
            return {"path": party.path, "finding": party.at, "minutes": party.hands.minutes, "checks": party.checks}
    raise KeyError(f"no walk of engine {engine}")
