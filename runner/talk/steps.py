"""One step of each kind as a piece of conversation: ask, act, look, check, watch. Each ends in an outcome."""

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import Protocol

from flows.bench import Stage
from flows.judging import Reading
from flows.model import Flow, Step
from flows.staging import STEADY
from flows.units import QUANTITIES, figure
from flows.windows import Window, WindowError, compute
from runner.errors import MissingReading
from runner.job import Job
from runner.record.logbook import Logbook
from runner.talk import wording
from runner.talk.ahead import may_follow
from runner.talk.answers import ANSWERS, Answer
from runner.talk.asking import Asker, question_of
from runner.talk.cautions import breaths
from runner.talk.line import Line
from runner.talk.readings import ReadingTaker, Sure, anything_goes, facts
from runner.talk.workbench import CANNOT, Workbench, measuring_place, patience_s
from speech.commands import parse_command
from speech.ports import Heard

_MOVEMENTS = {"steady": "steady", "yes": "steady", "moved": "moved", "no": "moved", CANNOT: CANNOT}
_LOOKS = {"fine": "fine", "yes": "fine", "bad": "bad", "no": "bad", "cant_see": CANNOT, CANNOT: CANNOT}
_OBJECTIONS = ("wrong", "no", "correction", "disregard")
_OBJECTION_S = 1.2


class Explains(Protocol):
    """Who knows which readings a fault that is still suspected, or a sound engine, could give; see runner.talk.advice."""

    def look_ahead(self, step: str) -> None:
        """Work out what can be read at this step while the person gets there."""

    def explains(self, step: str, reading: Reading) -> bool:
        """Whether anything that is left could give this reading. It may be asked for again, never refused or changed."""


class StepTalk:
    """Carries out steps; what is learned goes into the logbook, what comes of it is returned."""

    def __init__(
        self,
        job: Job,
        *,
        line: Line,
        asker: Asker,
        logbook: Logbook,
        workbench: Workbench,
        advisor: Explains | None = None,
    ) -> None:
        """advisor: knows which readings a fault that is still suspected could give."""
        self._job = job
        self._advisor = advisor
        self._line = line
        self._asker = asker
        self._book = logbook
        self._bench = workbench
        self._taker = ReadingTaker(line, asker, meter=job.meter)
        self._decides = True
        self._kinds = {
            "ask": self._ask,
            "act": self._act,
            "look": self._look,
            "check": self._check,
            "watch": self._watch,
        }

    def outcome(self, step: Step, *, decides: bool = True) -> str:
        """Have the step done and return its outcome. Raises GoBack, StopTest or MissingReading.

        decides: False for a check after the finding, whose reading can end nothing and so need not be called twice.
        """
        self._decides = decides
        self._cautions(step)
        return self._kinds[step.kind](step)

    def _cautions(self, step: Step) -> None:
        """Each danger once a session, before the step that has it, and acknowledged; each on the record by its name."""
        told = self._asker.told
        due = [name for name in step.cautions if name not in self._book.state.acknowledged]
        for breath in breaths(
            [self._job.flow.cautions[name] for name in due], told=bool(self._book.state.acknowledged)
        ):
            question = replace(question_of(step, breath.text, "acknowledge", "yes_no"), long=breath.long)
            self._asker.ask(question, lambda heard, command: True if command in ("yes", "set") else None)
            if wording.DEFERS in breath.text:
                told.add(wording.DEFERS)
            for name, words in breath.cautions:
                self._book.write("caution", name=name, text=words, acknowledged=True)

    def _ask(self, step: Step) -> str:
        assert step.ask is not None
        if step.ask.reply == "number":
            return self._ask_number(step)
        asked = step.ask
        rule = ANSWERS[asked.reply]
        while True:
            question = question_of(step, step.say, asked.reply, rule.kind)
            answer = self._asker.ask(question, lambda heard, command: rule.take(asked, heard, command))
            if not answer.read_back or self._stands(answer):
                break
        self._book.write("answered", step=step.name, answer=answer.answer, outcome=answer.outcome, store=asked.store)
        return answer.outcome

    def _stands(self, answer: Answer) -> bool:
        """Read an answer back and leave a moment to object; what was typed stands as it is seen."""
        self._line.read_back(answer.read_back)
        if answer.typed:
            return True
        heard = self._line.listen("commands", timeout_s=_OBJECTION_S)
        return not (isinstance(heard, Heard) and parse_command(heard.words) in _OBJECTIONS)

    def _ask_number(self, step: Step) -> str:
        """A value that is asked for, not judged: the outdoor temperature, say. Later windows may rest on it."""
        assert step.ask is not None and step.ask.quantity is not None
        window = recorded(step.ask.quantity)
        question = question_of(step, step.say, "reading", "reading")
        sure = self._taker.take(question, quantity=step.ask.quantity, window=window)
        if isinstance(sure, str):
            return CANNOT
        self._book.write("measured", **facts(sure, question, window.unit))
        return "answered"

    def _act(self, step: Step) -> str:
        said = Stage("Say set.", {}, self._bench.now.red, self._bench.now.black, 0, 0, "set")
        for stage, text in list(self._bench.stages(step)) or [(said, f"{step.say} {said.say}")]:
            if not self._bench.have_done(step, stage, text):
                self._book.write("overridden", step=step.name, why=f"not done, and gone on: {step.say}")
                return CANNOT
        return "done"

    def _look(self, step: Step) -> str:
        question = question_of(step, step.say, "look", "commands")
        answer = self._asker.ask(question, lambda heard, command: _LOOKS.get(command or ""))
        self._book.write("answered", step=step.name, answer=answer, outcome=answer, store=None)
        return answer

    def _watch(self, step: Step) -> str:
        for stage, text in self._bench.stages(step):
            if stage.reply != "movement":
                if not self._bench.have_done(step, stage, text):
                    return CANNOT
                continue
            question = question_of(step, text, "watch", "commands", again=stage.full, place=measuring_place(step))
            command = self._asker.ask(question, lambda heard, command: _MOVEMENTS.get(command or ""))
            place = stage.full.partition(f" {STEADY}")[0]
            self._book.write("answered", step=step.name, answer=f"{place} {command}", outcome=command, store=None)
            self._bench.is_read(step, stage)
            if command != "steady":
                return str(command)
        return "steady"

    def _check(self, step: Step) -> str:
        try:
            window = self._window(step)
        except WindowError as missing:
            raise MissingReading(str(missing), missing.reading) from missing
        for stage, text in self._bench.stages(step):
            if stage.reply == "reading":
                self._bench.is_read(step, stage)
                return self._measure(step, window, stage, text)
            if not self._bench.have_done(step, stage, text):
                return CANNOT
        raise AssertionError(f"{step.name} has no stage that asks for a reading")

    def _measure(self, step: Step, window: Window, stage: Stage, text: str) -> str:
        assert step.measure is not None
        question = question_of(
            step,
            text,
            "reading",
            "reading",
            again=stage.full,
            limits=limits_in_words(window),
            place=measuring_place(step),
            timeout_s=patience_s(stage),
        )
        self._prepare(step)
        take = partial(
            self._taker.take,
            question,
            quantity=step.measure.quantity,
            window=window,
            grave=grave_outcomes(self._job.flow, step.name) if self._decides else (),
            by_eye=self._job.sheet.points[step.measure.red].kind != "metal",
            explains=self._explains(step),
        )
        sure = take()
        minus = isinstance(sure, Sure) and self._minus_where_it_cannot_be(sure, window)
        if minus:
            self._bench.swap_leads(step)
            sure = take()
        if isinstance(sure, str):
            return CANNOT
        self._book.write("measured", **facts(sure, question, QUANTITIES[step.measure.quantity].base))
        self._judged(step, sure, window)
        if sure.insisted:
            self._overridden(step, "no fault left explains the reading", wording.FITS_NOTHING_STILL)
        elif minus and self._minus_where_it_cannot_be(sure, window):
            self._overridden(
                step, "minus, where minus cannot be, after the leads were to be swapped", wording.STILL_MINUS
            )
        return sure.judgement.outcome

    def _explains(self, step: Step) -> Callable[[Reading], bool]:
        """Which readings of this step are possible; of a check after the finding nothing is known: it may be repaired."""
        if self._advisor is None or not self._decides:
            return anything_goes
        self._advisor.look_ahead(step.name)
        return partial(self._advisor.explains, step.name)

    def _overridden(self, step: Step, why: str, text: str) -> None:
        """The technician goes on against what the tool said: taken as called, said, and for the supervisor to see."""
        self._line.say(text)
        self._book.write("overridden", step=step.name, why=why)
        if f"{step.name}: {why}" not in self._book.state.doubts:
            self._book.write("doubt", why=f"{step.name}: {why}")

    def _prepare(self, step: Step) -> None:
        """Have the voice make what may be said next while the technician measures."""
        texts = may_follow(
            self._job.flow,
            step,
            self._bench.now,
            self._job.sheet,
            acknowledged=self._book.state.acknowledged,
            known=self._bench.known,
            brief=self._line.manner.brief,
        )
        self._line.prepare(texts)

    def _judged(self, step: Step, sure: Sure, window: Window) -> None:
        judged, reading = sure.judgement, sure.taken.reading
        self._book.write(
            "judged",
            step=step.name,
            outcome=judged.outcome,
            low=window.low,
            high=window.high,
            unit=window.unit,
            because=window.because,
            guard=judged.guard,
            near_limit=judged.near_limit,
            probability=judged.probability,
            sentence=judged.sentence,
            value=reading.value,
            quantity=reading.quantity,
        )

    def _window(self, step: Step) -> Window:
        assert step.measure is not None
        if not step.expect:
            return recorded(step.measure.quantity)
        job = self._job
        return compute(step.expect, sheet=job.sheet, site=job.site, meter=job.meter, readings=self._book.state.readings)

    def _minus_where_it_cannot_be(self, sure: Sure, window: Window) -> bool:
        reading = sure.taken.reading
        if reading.quantity != "dc_voltage" or reading.value is None or window.low is None or window.low < 0:
            return False
        return reading.value < -3 * self._job.meter.range_for("dc_voltage", abs(reading.value)).resolution


def grave_outcomes(flow: Flow, step: str) -> tuple[str, ...]:
    """Outcomes of a step on which the flow ends in a finding."""
    return tuple(outcome for outcome, to in flow.steps[step].outcomes.items() if to in flow.findings)


def recorded(quantity: str) -> Window:
    """A window that everything passes: the value is kept, not judged."""
    return Window(low=None, high=None, unit=QUANTITIES[quantity].base, because="Recorded, not judged.")


def limits_in_words(window: Window) -> str:
    """The window in words: both ends, and where it comes from."""
    decimals = 3 if window.unit == "V" else 1
    ends = [
        f"{word} {figure(end, window.unit, decimals=decimals)}"
        for word, end in (("from", window.low), ("to", window.high))
        if end is not None
    ]
    return f"{' '.join(ends).capitalize()}. {window.because}" if ends else window.because
