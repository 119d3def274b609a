"""The conversation: walks a flow step by step to a finding, has everything put right, and proves a repair."""

from collections.abc import Callable, Mapping

from flows.model import Step
from runner.errors import GoBack, MissingReading, StopTest
from runner.job import Job
from runner.record.logbook import Logbook
from runner.talk import wording
from runner.talk.advice import Advisor, as_facts
from runner.talk.asking import Asker
from runner.talk.line import Line
from runner.talk.machine import FlowMachine
from runner.talk.steps import StepTalk
from runner.talk.workbench import CANNOT, Workbench

CLOSING_WORDS: Mapping[str, str] = {
    "found": "found, not proved",
    "not_found": "not found today",
    "cannot_decide": "cannot decide",
}


class Conversation:
    """One session of one flow, from where its logbook stands to its end."""

    def __init__(self, job: Job, *, line: Line, logbook: Logbook, advisor: Advisor | None = None) -> None:
        """advisor: works out what is still suspected; it must watch the same logbook."""
        self._job = job
        self._line = line
        self._book = logbook
        self._advisor = advisor
        self._asker = asker = Asker(line, logbook, advice=advisor)
        self._bench = Workbench(job.sheet, line=line, asker=asker, logbook=logbook)
        self._steps = StepTalk(job, line=line, asker=asker, logbook=logbook, workbench=self._bench, advisor=advisor)
        self._aside: Callable[[], str] = lambda: ""
        at = logbook.state.step or job.flow.start
        self._machine = FlowMachine(job.flow.table, job.flow.findings, at=at)

    def between_checks(self, aside: Callable[[], str]) -> None:
        """What is asked before each check whether there is something to say beside the test; "" for nothing."""
        self._aside = aside

    def on_hand_over(self, hand_over: Callable[[Asker], None]) -> None:
        """What is done when the technician says "hand over"."""
        self._asker.hand_over = hand_over

    def run(self, before: Callable[[Asker], object] = lambda asker: None) -> None:
        """Walk until a finding is reached and the job is put right and closed, or the technician stops.

        before: something else to ask first, such as whether sound may be kept.
        """
        try:
            before(self._asker)
            while self._machine.state in self._job.flow.steps:
                self._one(self._job.flow.steps[self._machine.state])
            self._finish()
        except StopTest as stop:
            self._stop(stop.why)
        finally:
            self._rest()
        self._line.phase.now("finish")

    def prove(self, before: Callable[[Asker], object] = lambda asker: None) -> bool:
        """After the repair: run the checks that prove it. True when every one of them passes.

        before: as in `run`.
        """
        results: dict[str, str] = {}
        try:
            before(self._asker)
            self._line.say(wording.PROVING)
            self._book.write("proof_begun")
            for name in self._job.flow.findings[self._machine.state].proof:
                results[name] = self._proved(name)
            self._bench.put_right()
        except StopTest as stop:
            self._stop(stop.why)
            self._line.phase.now("finish")
            return False
        finally:
            self._rest()
        steps = self._job.flow.steps
        passed = bool(results) and all(outcome in steps[name].passing for name, outcome in results.items())
        self._book.write("proof_run", steps=results, passed=passed)
        self._line.say(wording.PROVED if passed else wording.NOT_PROVED)
        self._close("proved" if passed else "found, not proved")
        self._line.phase.now("finish")
        return passed

    def _rest(self) -> None:
        """Nothing goes on in the background once the conversation has ended."""
        if self._advisor is not None:
            self._advisor.rest()

    def _proved(self, name: str) -> str:
        """One check of the proof; what its window rests on is read again first."""
        while True:
            try:
                return self._until_answered(self._job.flow.steps[name])
            except MissingReading as missing:
                if missing.reading not in self._job.flow.steps or self._proved(missing.reading) == CANNOT:
                    return CANNOT
                if missing.reading not in self._book.state.readings:  # over range: there is no value to rest on
                    return CANNOT

    def _say_aside(self) -> None:
        if words := self._aside():
            self._line.say(words)

    def _one(self, step: Step) -> None:
        self._say_aside()
        try:
            outcome = self._outcome(step)
        except GoBack:
            self._go_back()
            return
        except MissingReading as missing:
            # An earlier "cannot" left nothing to judge this by: the same answer, said aloud, and the flow goes on.
            self._book.write("unjudged", step=step.name, why=str(missing))
            self._line.say(wording.NO_WINDOW)
            outcome = CANNOT
        if step.kind == "check" and outcome != CANNOT and self._advisor is not None:
            self._book.write("suspects", step=step.name, **as_facts(self._advisor.standing()))
        self._note_doubt(step, outcome)
        to = self._machine.move(outcome)
        self._book.write("branched", step=step.name, outcome=outcome, to=to)

    def _note_doubt(self, step: Step, outcome: str) -> None:
        """What makes the session doubtful is recorded, and said where the meter could not decide."""
        if outcome == "doubtful":
            self._line.say(wording.NO_DECISION)
        why = step.doubts.get(outcome) or (f"{step.name}: the meter could not decide" if outcome == "doubtful" else "")
        if why and why not in self._book.state.doubts:
            self._book.write("doubt", why=why)

    def _until_answered(self, step: Step, *, decides: bool = True) -> str:
        """A step of the proof or of the closing; there is no going back from it."""
        self._say_aside()
        while True:
            try:
                return self._outcome(step, decides=decides)
            except GoBack:
                self._line.say(wording.NOTHING_BEFORE)

    def _outcome(self, step: Step, *, decides: bool = True) -> str:
        if CANNOT in step.outcomes and self._book.state.unreachable.intersection(step.places):
            return CANNOT
        outcome = self._steps.outcome(step, decides=decides)
        if outcome == CANNOT:
            self._remember_unreachable(step)
        return outcome

    def _remember_unreachable(self, step: Step) -> None:
        """ "Cannot" at a place that stays out of reach is a normal answer, and holds for the whole session."""
        for place in step.places:
            if self._job.sheet.places[place].whole_session and place not in self._book.state.unreachable:
                self._book.write("unreachable", place=place)
                self._line.say(wording.UNREACHABLE)

    def _go_back(self) -> None:
        path = self._book.state.path
        if not path:
            self._line.say(wording.NOTHING_BEFORE)
            return
        self._book.write("went_back", to=path[-1], places=list(self._job.flow.steps[path[-1]].places))
        self._machine.stand_at(path[-1])

    def _finish(self) -> None:
        finding = self._job.flow.findings[self._machine.state]
        self._book.write(
            "found",
            finding=finding.name,
            say=finding.say,
            do=finding.do,
            blames=list(finding.blames),
            status=finding.status,
            proof=list(finding.proof),
            proof_about={name: self._job.flow.steps[name].say for name in finding.proof},
        )
        self._line.say(finding.say)
        if finding.do:
            self._line.say(finding.do)
        self._bench.put_right()
        self._closing_checks()
        if finding.status == "found":
            self._line.say(wording.REPAIR_FIRST)
        self._close(CLOSING_WORDS[finding.status])

    def _closing_checks(self) -> None:
        """The meter once more: a mismatch makes every reading of the session doubtful."""
        if self._job.flow.closing:
            self._line.say(wording.CLOSING)
        for name in self._job.flow.closing:
            step = self._job.flow.steps[name]
            try:
                outcome = self._until_answered(step, decides=False)
            except MissingReading:
                outcome = CANNOT
            self._book.write("checked_at_end", step=name, outcome=outcome)
            self._note_doubt(step, outcome)
        self._bench.put_right()

    def _stop(self, why: str) -> None:
        self._book.write("stopped", why=why)
        self._line.say(wording.STOPPED)
        out = self._bench.now.out_of_place()
        if out:
            self._line.say(f"Not put right yet: {wording.listing(out)}.")
        self._close("stopped")

    def _close(self, status: str) -> None:
        out = list(self._bench.now.out_of_place())
        self._book.write("closed", status=status, doubtful=list(self._book.state.doubts), put_right=out)
