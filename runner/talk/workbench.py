"""The bench as the session knows it, and the talk that changes it: probes, plugs, key, and putting everything right."""

from collections.abc import Iterator
from dataclasses import asdict

from flows.bench import Bench, Stage
from flows.model import DEFAULT_STATE, MachineSheet, Step
from flows.staging import put_right, stages
from runner.record.logbook import Logbook
from runner.talk import wording
from runner.talk.asking import Asker, Place, Question, question_of
from runner.talk.line import Line

_REPLY_WORDS = {"set": ("set", "yes"), "clear": ("clear", "yes")}
CANNOT = "cannot"


class Workbench:
    """Asks for one stage after the other and keeps the record of where everything is."""

    def __init__(self, sheet: MachineSheet, *, line: Line, asker: Asker, logbook: Logbook) -> None:
        self._sheet = sheet
        self._line = line
        self._asker = asker
        self._book = logbook

    @property
    def now(self) -> Bench:
        """The bench as the record has it."""
        return Bench(**{"state": dict(DEFAULT_STATE), **self._book.state.bench})

    def is_now(self, bench: Bench) -> None:
        """Put a change on the record."""
        if bench != self.now:
            self._book.write("bench", bench=asdict(bench))

    def stages(self, step: Step) -> Iterator[tuple[Stage, str]]:
        """Stages from the bench as it is, each with what to say; the step's own sentence leads the first, unless brief."""
        for number, stage in enumerate(stages(self.now, step, self._sheet)):
            leads = number == 0 and not (self._line.manner.brief and self._said_by_stages(step))
            yield stage, f"{step.say} {stage.say}" if leads else stage.say

    def _said_by_stages(self, step: Step) -> bool:
        """The stages say all there is to do: probes on metal. What is read off a display needs the step's own words."""
        measure = step.measure
        return measure is not None and step.kind == "check" and self._sheet.points[measure.red].kind == "metal"

    def have_done(self, step: Step, stage: Stage, text: str) -> bool:
        """Ask for one stage and wait until it is done; False when the technician cannot."""
        if stage.changes.get("engine") == "cranking" or stage.reply == "clear":
            self._rest_the_starter(step)
        bench = self.now.after(stage)
        wanted = _REPLY_WORDS[stage.reply]
        question = question_of(step, text, stage.reply, "commands", place=place_of(bench))
        command = self._asker.ask(question, lambda heard, command: command if command in (*wanted, CANNOT) else None)
        if command == CANNOT:
            return False
        self.is_now(bench)
        return True

    def swap_leads(self, step: Step) -> None:
        """The reading was negative where it cannot be: have both leads put where they belong."""
        assert step.measure is not None
        names = [
            (colour, point) for colour, point in (("red", step.measure.red), ("black", step.measure.black)) if point
        ]
        places = "; ".join(f"{colour} to {self._sheet.points[point].spoken}" for colour, point in names)
        question = question_of(
            step, wording.SWAPPED.format(places=f"{places}."), "swap", "commands", place=measuring_place(step)
        )
        self._asker.ask(question, lambda heard, command: True if command in ("set", "yes") else None)

    def put_right(self) -> None:
        """Read back what is unplugged, fitted or switched on, and have each put right."""
        out = self.now.out_of_place()
        if out:
            self._line.say(f"Put right: {wording.listing(out)}.")
        for stage in put_right(self.now, self._sheet):
            bench = self.now.after(stage)
            question = Question(stage.say, "set", "commands", long=stage.say, place=place_of(bench))
            self._asker.ask(question, lambda heard, command: True if command in ("set", "yes") else None)
            self.is_now(bench)

    def _rest_the_starter(self, step: Step) -> None:
        """Between two cranks the starter rests; the tool does not go on before the technician says so."""
        if not self._book.state.cranks:
            return
        text = wording.STARTER_RESTS.format(seconds=f"{self._sheet.cranking.rest_s:.0f}")
        question = question_of(step, text, "set", "commands", place=place_of(self.now))
        self._asker.ask(question, lambda heard, command: True if command in ("set", "yes") else None)


def place_of(bench: Bench) -> Place:
    """Where the probes are and how the circuit stands, for the record and the technician."""
    return Place(bench.red, bench.black, tuple(sorted(bench.state.items())))


def measuring_place(step: Step) -> Place:
    """Where the step wants the probes and the circuit."""
    assert step.measure is not None
    return Place(step.measure.red, step.measure.black, tuple(sorted(step.measure.state.items())))
