"""The conversation: walks a flow step by step, speaks, listens, judges and branches, with every event on disk first."""

from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from typing import Any

from flows.windows import Window, WindowError, compute

from flows.judging import Judgement
from flows.meter import Meter
from flows.model import DEFAULT_STATE, Flow, MachineSheet, Step
from flows.site import Site
from flows.staging import Bench, Stage, put_right, stages
from flows.units import QUANTITIES, figure
from runner import wording
from runner.answers import ANSWERS
from runner.asking import Asker, Question
from runner.errors import GoBack, StopTest
from runner.line import Line
from runner.logbook import Logbook
from runner.machine import FlowMachine
from runner.readings import CANNOT, ReadingTaker, Sure, facts
from speech.commands import parse_command
from speech.ports import Heard

_REPLY_WORDS = {"set": ("set", "yes"), "clear": ("clear",)}
_MOVEMENTS = ("steady", "moved", CANNOT)


@dataclass(frozen=True)
class Job:
    """What is tested, on what, where and with which meter."""

    flow: Flow
    sheet: MachineSheet
    site: Site
    meter: Meter


class Conversation:
    """One session of one flow, from where its logbook stands to its end."""

    def __init__(self, job: Job, *, line: Line, logbook: Logbook) -> None:
        self._job = job
        self._line = line
        self._book = logbook
        self._asker = Asker(line, logbook)
        self._taker = ReadingTaker(line, self._asker, meter=job.meter)
        at = logbook.state.step or job.flow.start
        self._machine = FlowMachine(job.flow.table, job.flow.findings, at=at)

    def run(self) -> None:
        """Walk until a finding is reached and the job is put right and closed, or the technician stops."""
        try:
            while self._machine.state in self._job.flow.steps:
                self._one(self._job.flow.steps[self._machine.state])
            self._finish()
        except StopTest as stop:
            self._stop(stop.why)
        finally:
            self._line.phase.now("finish")

    def prove(self) -> bool:
        """Run the checks that prove the repair; True when every one of them passes."""
        finding = self._job.flow.findings[self._machine.state]
        results: dict[str, str] = {}
        try:
            self._line.say("Proof of the repair.")
            for name in finding.proof:
                results[name] = self._until_answered(self._job.flow.steps[name])
            self._put_right()
        except StopTest as stop:
            self._stop(stop.why)
            return False
        finally:
            self._line.phase.now("finish")
        passed = all(_passes(self._job.flow.steps[name], outcome) for name, outcome in results.items())
        self._book.write("proof_run", steps=results, passed=passed)
        status = "proved" if passed else "found, not proved"
        self._line.phase = type(self._line.phase)()
        self._line.say(
            "Proved. The repair holds." if passed else "Not proved. The fault is still there, or there is another."
        )
        self._close(status)
        return passed

    def _one(self, step: Step) -> None:
        try:
            outcome = self._outcome(step)
        except GoBack:
            self._go_back()
            return
        self._branch(step, outcome)

    def _until_answered(self, step: Step) -> str:
        while True:
            try:
                return self._outcome(step)
            except GoBack:
                self._line.say(wording.NOTHING_BEFORE)

    def _outcome(self, step: Step) -> str:
        if self._book.state.unreachable.intersection(step.places):
            return CANNOT
        self._cautions(step)
        handler: dict[str, Callable[[Step], str]] = {
            "ask": self._ask,
            "act": self._act,
            "look": self._look,
            "check": self._check,
            "watch": self._watch,
        }
        outcome = handler[step.kind](step)
        if outcome == CANNOT:
            self._remember_unreachable(step)
        return outcome

    def _branch(self, step: Step, outcome: str) -> None:
        if step.doubts.get(outcome):
            self._book.write("doubt", why=step.doubts[outcome])
        elif outcome == "doubtful":
            self._line.say(wording.NO_DECISION)
            self._book.write("doubt", why=f"{step.name}: the meter could not decide")
        to = self._machine.move(outcome)
        self._book.write("branched", step=step.name, outcome=outcome, to=to)

    def _go_back(self) -> None:
        path = self._book.state.path
        if not path:
            self._line.say(wording.NOTHING_BEFORE)
            return
        self._book.write("went_back", to=path[-1])
        self._machine.stand_at(path[-1])

    def _remember_unreachable(self, step: Step) -> None:
        for place in step.places:
            if self._job.sheet.places[place].whole_session and place not in self._book.state.unreachable:
                self._book.write("unreachable", place=place)
                self._line.say(wording.UNREACHABLE)

    # --- the kinds of step -------------------------------------------------------------------------------------------

    def _cautions(self, step: Step) -> None:
        for name in step.cautions:
            if name in self._book.state.acknowledged:
                continue
            text = self._job.flow.cautions[name].text
            question = Question(
                f"Caution. {text} {wording.ACKNOWLEDGE}", "acknowledge", "yes_no", step=step.name, long=text
            )
            self._asker.ask(question, lambda heard, command: True if command in ("yes", "set") else None)
            self._book.write("caution", name=name, text=text, acknowledged=True)

    def _question(self, step: Step, text: str, want: str, kind: Any, *, again: str = "", **more: Any) -> Question:
        """A question of this step; `again` is what is repeated at "say again" after the long form."""
        long = f"{step.long or step.say} {again}".strip() if again else step.long or text
        return Question(text, want, kind, step=step.name, long=long, why=step.why, **more)

    def _ask(self, step: Step) -> str:
        assert step.ask is not None
        if step.ask.reply == "number":
            return self._ask_number(step)
        asked = step.ask
        rule = ANSWERS[asked.reply]
        question = self._question(step, step.say, asked.reply, rule.kind)
        answer = self._asker.ask(question, lambda heard, command: rule.accept(asked, heard, command))
        if answer.read_back:
            self._line.read_back(answer.read_back)
            heard = self._line.listen("commands", timeout_s=1.2)
            if isinstance(heard, Heard) and parse_command(heard.words) in ("wrong", "no", "correction", "disregard"):
                return self._ask(step)
        self._book.write("answered", step=step.name, answer=answer.answer, outcome=answer.outcome, store=step.ask.store)
        return answer.outcome

    def _ask_number(self, step: Step) -> str:
        """A value that is asked for, not judged: the outdoor temperature, say. Later windows may rest on it."""
        assert step.ask is not None and step.ask.quantity is not None
        quantity = step.ask.quantity
        window = Window(low=None, high=None, unit=QUANTITIES[quantity].base, because="Recorded, not judged.")
        question = self._question(step, step.say, "reading", "reading")
        sure = self._taker.take(question, quantity=quantity, window=window, grave={})
        if isinstance(sure, str):
            return CANNOT
        self._book.write("measured", **facts(sure, question, window.unit))
        return "answered"

    def _act(self, step: Step) -> str:
        made = list(self._stages(step)) or [(Stage("Say set.", {}, None, None, 0, 0, "set"), f"{step.say} Say set.")]
        for stage, text in made:
            if not self._one_stage(step, stage, text):
                return CANNOT
        return "done"

    def _look(self, step: Step) -> str:
        question = self._question(step, step.say, "look", "commands")
        names = {"fine": "fine", "yes": "fine", "bad": "bad", "no": "bad", "cant_see": CANNOT, CANNOT: CANNOT}
        answer = self._asker.ask(question, lambda heard, command: names.get(command or ""))
        self._book.write("answered", step=step.name, answer=answer, outcome=answer, store=None)
        return answer

    def _watch(self, step: Step) -> str:
        for stage, text in self._stages(step):
            if stage.reply == "movement":
                question = self._question(step, text, "watch", "commands", **self._where(step))
                command = self._asker.ask(question, lambda heard, command: command if command in _MOVEMENTS else None)
                place = text.removesuffix("Steady or moved?").strip()
                self._book.write("answered", step=step.name, answer=f"{place} {command}", outcome=command, store=None)
                self._bench_is(self._bench().after(stage))
                if command != "steady":
                    return str(command)
            elif not self._one_stage(step, stage, text):
                return CANNOT
        return "steady"

    def _check(self, step: Step) -> str:
        window = self._window(step)
        for stage, text in self._stages(step):
            if stage.reply != "reading":
                if not self._one_stage(step, stage, text):
                    return CANNOT
                continue
            self._bench_is(self._bench().after(stage))
            question = self._question(
                step, text, "reading", "reading", limits=self._limits(window), again=stage.say, **self._where(step)
            )
            sure = self._read(step, question, window)
            if isinstance(sure, Sure) and self._minus_where_it_cannot_be(sure, window, step):
                self._swap_leads(step)
                sure = self._read(step, question, window)
            if isinstance(sure, str):
                return CANNOT
            return self._record(step, question, sure, window)
        raise AssertionError(f"{step.name} has no stage that asks for a reading")

    def _read(self, step: Step, question: Question, window: Window) -> Sure | str:
        assert step.measure is not None
        grave = {outcome: to in self._job.flow.findings for outcome, to in step.outcomes.items()}
        return self._taker.take(question, quantity=step.measure.quantity, window=window, grave=grave)

    def _record(self, step: Step, question: Question, sure: Sure, window: Window) -> str:
        assert step.measure is not None
        unit = QUANTITIES[step.measure.quantity].base
        self._book.write("measured", **facts(sure, question, unit))
        judged: Judgement = sure.judgement
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
            sentence=judged.sentence,
            value=sure.taken.reading.value,
            quantity=step.measure.quantity,
        )
        return judged.outcome

    def _window(self, step: Step) -> Window:
        if not step.expect:
            unit = QUANTITIES[step.measure.quantity].base if step.measure else "V"
            return Window(low=None, high=None, unit=unit, because="Recorded, not judged.")
        job = self._job
        return compute(step.expect, sheet=job.sheet, site=job.site, meter=job.meter, readings=self._book.state.readings)

    def _limits(self, window: Window) -> str:
        """The window in words: both ends, and where it comes from."""
        decimals = 3 if window.unit == "V" else 1
        ends = [
            f"{word} {figure(end, window.unit, decimals=decimals)}"
            for word, end in (("from", window.low), ("to", window.high))
            if end is not None
        ]
        return f"{' '.join(ends).capitalize()}. {window.because}" if ends else window.because

    # --- the bench ---------------------------------------------------------------------------------------------------

    def _bench(self) -> Bench:
        return Bench(**{"state": dict(DEFAULT_STATE), **self._book.state.bench})

    def _bench_is(self, bench: Bench) -> None:
        if bench != self._bench():
            self._book.write("bench", bench=asdict(bench))

    def _where(self, step: Step) -> dict[str, Any]:
        assert step.measure is not None
        return {
            "place": (step.measure.red, step.measure.black),
            "state": tuple(sorted(step.measure.state.items())),
        }

    def _stages(self, step: Step) -> Iterator[tuple[Stage, str]]:
        """Stages from the bench as it is, each with what to say; the step's own sentence leads the first."""
        for number, stage in enumerate(stages(self._bench(), step, self._job.sheet)):
            yield stage, f"{step.say} {stage.say}" if number == 0 else stage.say

    def _one_stage(self, step: Step, stage: Stage, text: str) -> bool:
        """Have one stage done; False when the technician cannot."""
        bench = self._bench().after(stage)
        question = self._question(
            step,
            text,
            stage.reply,
            "commands",
            place=(bench.red, bench.black),
            state=tuple(sorted(bench.state.items())),
        )
        wanted = _REPLY_WORDS[stage.reply]
        command = self._asker.ask(question, lambda heard, command: command if command in (*wanted, CANNOT) else None)
        if command == CANNOT:
            return False
        self._bench_is(bench)
        return True

    def _minus_where_it_cannot_be(self, sure: Sure, window: Window, step: Step) -> bool:
        value = sure.taken.reading.value
        assert step.measure is not None
        if step.measure.quantity != "dc_voltage" or value is None or window.low is None or window.low < 0:
            return False
        return value < -3 * self._job.meter.range_for("dc_voltage", abs(value)).resolution

    def _swap_leads(self, step: Step) -> None:
        assert step.measure is not None
        points = self._job.sheet.points
        places = f"red to {points[step.measure.red].spoken}"
        if step.measure.black:
            places += f"; black to {points[step.measure.black].spoken}"
        question = self._question(
            step, wording.SWAPPED.format(places=places + "."), "swap", "commands", **self._where(step)
        )
        self._asker.ask(question, lambda heard, command: True if command in ("set", "yes") else None)

    # --- the end -----------------------------------------------------------------------------------------------------

    def _finish(self) -> None:
        finding = self._job.flow.findings[self._machine.state]
        status = {"found": "found, not proved", "not_found": "not found today", "cannot_decide": "cannot decide"}[
            finding.status
        ]
        self._book.write(
            "found",
            finding=finding.name,
            say=finding.say,
            do=finding.do,
            blames=list(finding.blames),
            status=finding.status,
            proof=list(finding.proof),
        )
        self._line.say(finding.say)
        self._line.say(finding.do)
        self._put_right()
        if finding.status == "found":
            self._line.say(wording.REPAIR_FIRST)
        self._close(status)

    def _put_right(self) -> None:
        """Read back what is unplugged, fitted or switched on, and have each put right."""
        for stage in put_right(self._bench(), self._job.sheet):
            bench = self._bench().after(stage)
            question = Question(stage.say, "set", "commands", long=stage.say, state=tuple(sorted(bench.state.items())))
            self._asker.ask(question, lambda heard, command: True if command in ("set", "yes") else None)
            self._bench_is(bench)

    def _stop(self, why: str) -> None:
        self._book.write("stopped", why=why)
        self._line.say(wording.STOPPED)
        out = self._bench().out_of_place()
        if out:
            self._line.say(f"Not put right yet: {wording.listing(out)}.")
        self._close("stopped")

    def _close(self, status: str) -> None:
        state = self._book.state
        out = list(self._bench().out_of_place())
        self._book.write("closed", status=status, doubtful=list(state.doubts), put_right=out)


def _passes(step: Step, outcome: str) -> bool:
    return outcome in ("in", "fine", "steady", "yes", "done", "none", "answered")


__all__ = ["Conversation", "Job", "WindowError"]
