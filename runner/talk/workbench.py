"""The bench as the session knows it, and the talk that changes it: probes, plugs, key, and putting everything right."""

from collections.abc import Collection, Iterator
from dataclasses import asdict

from flows.acts import BREATH_WORDS, known_after
from flows.bench import Bench, Stage
from flows.model import DEFAULT_STATE, MachineSheet, Step
from flows.staging import put_right, stages
from runner.record.logbook import Logbook
from runner.talk import wording
from runner.talk.asking import Asker, Place, Question, question_of
from runner.talk.line import Line

_REPLY_WORDS = {"set": ("set", "yes"), "clear": ("clear", "yes")}
CANNOT = "cannot"
SHORTEST_WAIT_S, LONGEST_WAIT_S = 30.0, 120.0  # for hands; a control unit takes minutes to get at


class Workbench:
    """Asks for one stage after the other and keeps the record of where everything is.

    What the technician was told in full this session, a plug and how it is looked at, is said by its short name after.
    """

    def __init__(self, sheet: MachineSheet, *, line: Line, asker: Asker, logbook: Logbook) -> None:
        self._sheet = sheet
        self._line = line
        self._asker = asker
        self._book = logbook

    @property
    def known(self) -> frozenset[str]:
        """What the technician has been told in full; see flows.acts.known_after."""
        return frozenset(self._asker.told)

    @property
    def now(self) -> Bench:
        """The bench as the record has it."""
        return Bench(**{"state": dict(DEFAULT_STATE), **self._book.state.bench})

    def is_now(self, bench: Bench) -> None:
        """Put a change on the record."""
        if bench != self.now:
            self._book.write("bench", bench=asdict(bench))

    def stages(self, step: Step) -> Iterator[tuple[Stage, str]]:
        """Stages from the bench as it is, each with what to say; the step's own sentence leads the first where it must."""
        now, known, brief = self.now, self.known, self._line.manner.brief
        for number, stage in enumerate(stages(now, step, self._sheet, known=known)):
            yield stage, stage.say if number else led(step, stage, now, self._sheet, known=known, brief=brief)

    def is_read(self, step: Step, stage: Stage) -> None:
        """The stage that asks for a reading has been said: put on record where everything is while it is taken."""
        self.is_now(self.now.after(stage))
        self._asker.told |= known_after(stage, self._sheet)
        if step.measure is not None:
            self._asker.told.add(step.measure.red)  # a display

    def have_done(self, step: Step, stage: Stage, text: str) -> bool:
        """Ask for one stage and wait until it is done; False when the technician cannot."""
        rest = self._rest(step, text) if stage.reply == "clear" and self._book.state.cranks else ""
        bench = self.now.after(stage)
        wanted = _REPLY_WORDS[stage.reply]
        question = question_of(
            step,
            f"{rest}{text}",
            stage.reply,
            "commands",
            again=f"{rest}{stage.full or stage.say}",
            place=place_of(bench),
            timeout_s=patience_s(stage),
        )
        command = self._asker.ask(question, lambda heard, command: command if command in (*wanted, CANNOT) else None)
        if command == CANNOT:
            return False
        self.is_now(bench)
        self._asker.told |= known_after(stage, self._sheet)
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
        for stage in put_right(self.now, self._sheet, known=self.known):
            bench = self.now.after(stage)
            question = Question(
                stage.say, "set", "commands", long=stage.full, place=place_of(bench), timeout_s=patience_s(stage)
            )
            self._asker.ask(question, lambda heard, command: True if command in ("set", "yes") else None)
            self.is_now(bench)

    def _rest(self, step: Step, text: str) -> str:
        """What is said first because the starter rests between two cranks; said and answered here when it is too long."""
        rest = wording.STARTER_RESTS.format(seconds=f"{self._sheet.cranking.rest_s:.0f}")
        if len(f"{rest} {text}".split()) <= BREATH_WORDS:
            return f"{rest} "
        question = question_of(step, f"{rest} {wording.THEN_SET}", "set", "commands", place=place_of(self.now))
        self._asker.ask(question, lambda heard, command: True if command in ("set", "yes") else None)
        return ""


def led(step: Step, stage: Stage, now: Bench, sheet: MachineSheet, *, known: Collection[str], brief: bool) -> str:
    """A step's own sentence before its first stage, unless that says all there is: see `_says_all`."""
    said = {word.strip(".,:;?!") for word in stage.say.lower().split()}
    told = all(word.strip(".,:;?!") in said for word in step.say.lower().split())
    return stage.say if told or _says_all(step, stage, now, sheet, known, brief=brief) else f"{step.say} {stage.say}"


def _says_all(
    step: Step, stage: Stage, now: Bench, sheet: MachineSheet, known: Collection[str], *, brief: bool
) -> bool:
    """A probe is to be moved, and to where both have been before; in brief wording, to wherever.

    What is read off a display, or read again with the probes where they are, needs the step's own words.
    """
    measure = step.measure
    if measure is None or step.kind != "check" or sheet.points[measure.red].kind != "metal":
        return False
    moved = now.after(stage)
    if (moved.red, moved.black) == (now.red, now.black):
        return False
    return brief or {measure.red, measure.black} <= {*known}


def patience_s(stage: Stage) -> float:
    """How long a stage is waited for before it is said again [s]: as long as hands take."""
    return min(LONGEST_WAIT_S, max(SHORTEST_WAIT_S, 60 * stage.minutes))


def place_of(bench: Bench) -> Place:
    """Where the probes are and how the circuit stands, for the record and the technician."""
    return Place(bench.red, bench.black, tuple(sorted(bench.state.items())))


def measuring_place(step: Step) -> Place:
    """Where the step wants the probes and the circuit."""
    assert step.measure is not None
    return Place(step.measure.red, step.measure.black, tuple(sorted(step.measure.state.items())))
