"""An expanded flow filled from a machine sheet: words in braces, complete states, points and units that exist."""

import re
from collections.abc import Collection
from typing import Any

from flows.expanding import Expanded
from flows.model import BRACES, DEFAULT_STATE, LEGAL_STATE, PASSING, Act, Caution, Finding, Flow, Measure, Step, Watch
from flows.problems import did_you_mean
from flows.sensors import RatiometricPressure
from flows.sheet import MachineSheet
from flows.units import QUANTITIES
from flows.windows import STEP_ARGUMENTS, WINDOWS, arguments
from flows.written import WrittenStep

BASE_UNITS = tuple(dict.fromkeys(quantity.base for quantity in QUANTITIES.values()))


class Filling:
    """Makes the Flow; what is wrong is noted where it was written."""

    def __init__(self, expanded: Expanded, *, sheet: MachineSheet, cautions: dict[str, Caution]) -> None:
        self.expanded = expanded
        self.sheet = sheet
        self.cautions = cautions
        self.known_words = sheet_words(sheet)

    def flow(self) -> Flow:
        """The flow; only to be used when no problem was noted."""
        written = self.expanded.written
        steps = {name: self._step(name, step) for name, step in self.expanded.steps.items()}
        findings = {
            name: Finding(
                name=name,
                say=self._words(name, "say", finding.say),
                do=self._words(name, "do", finding.do),
                blames=finding.blames,
                proof=finding.proof,
                status=finding.status,
            )
            for name, finding in self.expanded.findings.items()
        }
        used = {c for step in steps.values() for c in step.cautions}
        return Flow(
            name=written.flow,
            title=written.title,
            circuit=written.circuit,
            codes=written.codes,
            start=self.expanded.start,
            steps=steps,
            findings=findings,
            cautions={name: self.cautions[name] for name in sorted(used) if name in self.cautions},
            closing=written.closing,
        )

    def problem(self, name: str, *below: Any, rule: str, what: str, fix: str) -> None:
        """Note a problem at a step."""
        self.expanded.problem(name, below, rule=rule, what=what, fix=fix)

    def _step(self, name: str, step: WrittenStep) -> Step:
        kind = _kind(step)
        measure = self._measure(name, step)
        self._check_cautions(name, step)
        self._check_expect(name, step)
        made = Step(
            name=name,
            kind=kind,
            say=self._words(name, "say", step.say),
            long=self._words(name, "long", step.long),
            why=self._words(name, "why", step.why),
            cautions=step.cautions,
            ask=step.ask,
            act=Act(state=self._state(name, "act", step.act.state)) if step.act else None,
            look=step.look,
            measure=measure,
            watch=self._watch(name, step),
            expect=_numbers(step.expect),
            outcomes=step.outcomes,
            doubts=step.doubts,
            places=self._places(name, step, measure),
            minutes=step.minutes,
            passing=step.passing or _passing(kind, step),
        )
        self._check_outcomes(name, step, made)
        return made

    def _watch(self, name: str, step: WrittenStep) -> Watch | None:
        if step.watch is None:
            return None
        return Watch(places=tuple(self._words(name, "watch", words) for words in step.watch.places), by=step.watch.by)

    def _measure(self, name: str, step: WrittenStep) -> Measure | None:
        key, written = ("watch", step.watch) if step.watch else ("measure", step.measure)
        if written is None:
            return None
        if written.quantity not in QUANTITIES:
            what = f"step '{name}' measures '{written.quantity}', which is no quantity"
            self.problem(
                name,
                key,
                "quantity",
                rule="unknown-quantity",
                what=what,
                fix=did_you_mean(written.quantity, QUANTITIES),
            )
        for end in ("red", "black"):
            point = getattr(written, end)
            if point is not None and point not in self.sheet.points:
                what = f"step '{name}' puts {end} on '{point}', which is no probe point of {self.sheet.machine}"
                self.problem(
                    name, key, end, rule="unknown-point", what=what, fix=did_you_mean(point, self.sheet.points)
                )
        if written.needs_range is not None and written.quantity in QUANTITIES:
            units = QUANTITIES[written.quantity].units
            if written.needs_range not in units:
                what = f"step '{name}' wants the range '{written.needs_range}', which is no unit of {written.quantity}"
                fix = did_you_mean(written.needs_range, units)
                self.problem(name, key, "needs_range", rule="unknown-unit", what=what, fix=fix)
        given = {k: getattr(written, k) for k in ("quantity", "red", "black", "hold", "needs_range")}
        return Measure(**given, state={**DEFAULT_STATE, **self._state(name, key, written.state)})

    def _state(self, name: str, key: str, state: dict[str, str]) -> dict[str, str]:
        known = {**LEGAL_STATE, **self.sheet.positions}
        for item, value in state.items():
            legal = known.get(item)
            if legal is None:
                what = f"the bench has no '{item}' to set"
                self.problem(name, key, "state", item, rule="unknown-state", what=what, fix=did_you_mean(item, known))
                continue
            allowed = ("none", *self.sheet.jumpers) if item == "jumper" else legal
            if value not in allowed:
                what = f"'{item}' cannot be '{value}'"
                self.problem(
                    name, key, "state", item, rule="unknown-state", what=what, fix=did_you_mean(value, allowed)
                )
        return state

    def _places(self, name: str, step: WrittenStep, measure: Measure | None) -> tuple[str, ...]:
        for i, place in enumerate(step.reach):
            if place not in self.sheet.places:
                what = f"there is no place '{place}'"
                self.problem(
                    name, "reach", i, rule="unknown-place", what=what, fix=did_you_mean(place, self.sheet.places)
                )
        known = tuple(place for place in step.reach if place in self.sheet.places)
        if measure is None:
            return (*known, step.look.place) if step.look and step.look.place in self.sheet.places else known
        points = [self.sheet.points.get(p) for p in (measure.red, measure.black) if p]
        found = [p.place for p in points if p is not None]
        if measure.state.get("control_unit_plug") == "out" and "unit" in self.sheet.places:
            found.append("unit")
        found += [place for item in measure.state if (place := self._closed_place(item, measure.state[item]))]
        return tuple(dict.fromkeys((*known, *found)))

    def _closed_place(self, item: str, value: str) -> str:
        """Place that must be reached to bring a bench item where it is wanted, where "cannot" may close it."""
        if value == self.sheet.home(item):
            return ""
        if item in self.sheet.settings:
            return self.sheet.settings[item].place
        place = self.sheet.plugs.get(item, "")
        return place if place and self.sheet.places[place].whole_session else ""

    def _check_cautions(self, name: str, step: WrittenStep) -> None:
        for i, caution in enumerate(step.cautions):
            if caution not in self.cautions:
                what = f"step '{name}' names the caution '{caution}', which does not exist"
                self.problem(
                    name, "cautions", i, rule="unknown-caution", what=what, fix=did_you_mean(caution, self.cautions)
                )

    def _check_expect(self, name: str, step: WrittenStep) -> None:
        for function, args in (step.expect or {}).items():
            if function not in WINDOWS:
                what = f"step '{name}' expects '{function}', which is no window function"
                self.problem(
                    name, "expect", function, rule="unknown-window", what=what, fix=did_you_mean(function, WINDOWS)
                )
                continue
            taken = arguments(function)
            for key in args:
                if key not in taken:
                    what = f"step '{name}': {function} has no argument '{key}'"
                    fix = did_you_mean(key, taken)
                    self.problem(name, "expect", function, key, rule="unknown-argument", what=what, fix=fix)
                else:
                    self._check_argument(name, (function, key), args[key])
            for key in [key for key, needed in taken.items() if needed and key not in args]:
                what = f"step '{name}': {function} lacks its argument '{key}'"
                self.problem(name, "expect", function, rule="missing-argument", what=what, fix=f"add `{key}:`")

    def _check_argument(self, name: str, where: tuple[str, str], value: Any) -> None:
        known = self._known_arguments(where[1], value)
        if known is None or value in known or str(value).startswith("$"):  # a missing value has been noted
            return
        rule = "unknown-step" if where[1] in STEP_ARGUMENTS else f"unknown-{where[1]}"
        what = f"step '{name}': '{value}' is no {where[1].removesuffix('_from')} this flow knows"
        self.problem(name, "expect", *where, rule=rule, what=what, fix=did_you_mean(str(value), known))

    def _known_arguments(self, key: str, value: Any) -> Collection[str] | None:
        """What an argument may be; None where it is not a name."""
        names: dict[str, Collection[str]] = {
            "sensor": self.sheet.sensors,
            "wire": self.sheet.wires,
            "input": self.sheet.control_unit.inputs,
            "jumper": self.sheet.jumpers,
            "throttle": self.sheet.cranking.drop_kpa,
            "unit": BASE_UNITS,
        }
        if key in STEP_ARGUMENTS:
            return self.expanded.steps
        return names.get(key)

    def _check_outcomes(self, name: str, step: WrittenStep, made: Step) -> None:
        legal = made.legal_outcomes()
        for outcome in step.outcomes:
            if outcome == "open_line" and outcome not in legal:
                what = f"step '{name}' has 'open_line' on {made.measure.quantity if made.measure else made.kind}"
                fix = "an open wire reads nothing or a ghost on volts; only ohms show an open line"
                self.problem(name, "outcomes", outcome, rule="open-line-on-volts", what=what, fix=fix)
            elif outcome not in legal:
                what = f"step '{name}' cannot have the outcome '{outcome}'"
                self.problem(
                    name, "outcomes", outcome, rule="unknown-outcome", what=what, fix=did_you_mean(outcome, legal)
                )
        missing = [o for o in legal if o not in step.outcomes]
        if missing:
            what = f"step '{name}' has no branch for {', '.join(missing)}"
            self.problem(name, "outcomes", rule="outcome-without-branch", what=what, fix="say where each outcome leads")

    def _words(self, name: str, key: str, text: str) -> str:
        """Text with `{signal.colour}`, `{plug.signal}`, `{plug}` filled from the sheet."""
        known = self.known_words

        def word(found: re.Match[str]) -> str:
            wanted = found.group(1)
            if wanted not in known:
                what = f"'{{{wanted}}}' stands for nothing on the sheet"
                self.problem(name, key, rule="unknown-word", what=what, fix=did_you_mean(wanted, known))
                return wanted
            return known[wanted]

        return " ".join(BRACES.sub(word, text).split())


def _passing(kind: str, step: WrittenStep) -> tuple[str, ...]:
    """What passes where the author does not say: any answer to a question, else the good outcome."""
    if kind in PASSING:
        return PASSING[kind]
    return tuple(outcome for outcome in step.outcomes if outcome != "cannot")


def _kind(step: WrittenStep) -> Any:
    for kind in ("ask", "act", "look", "watch"):
        if getattr(step, kind) is not None:
            return kind
    return "check"


def _numbers(expect: dict[str, dict[str, Any]] | None) -> dict[str, dict[str, Any]] | None:
    """Arguments that look like numbers become numbers."""
    if expect is None:
        return None
    return {name: {key: _number(value) for key, value in args.items()} for name, args in expect.items()}


def _number(value: Any) -> Any:
    if not isinstance(value, str) or not re.fullmatch(r"[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?", value):
        return value
    return float(value)


def sheet_words(sheet: MachineSheet) -> dict[str, str]:
    """What may stand in braces, and the words of this machine for it."""
    known = {name: place.spoken for name, place in sheet.places.items()}
    known |= {f"{name}.view": place.view for name, place in sheet.places.items()}
    known |= {f"{name}.colour": wire.colour for name, wire in sheet.wires.items()}
    known |= {f"{name}.end": "unit" if "unit" in wire.pins else "loom" for name, wire in sheet.wires.items()}
    known |= {name: point.spoken for name, point in sheet.points.items()}
    known |= {f"{name}.short": point.short for name, point in sheet.points.items()}
    known |= {f"jumper.{name}": jumper.spoken for name, jumper in sheet.jumpers.items()}
    for name, entry in sheet.control_unit.inputs.items():
        known[f"{name}.pull"] = entry.pull
        sensor = sheet.sensors.get(name)
        if isinstance(sensor, RatiometricPressure):
            # Does a signal without supply fall where a signal without its own contact rises?
            apart = entry.pull == "up" and sensor.unpowered == "sinks"
            known[f"{name}.contacts"] = "apart" if apart else "alike"
    return known
