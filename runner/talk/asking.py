"""Ask until there is an answer: silence, noise and the words that may be said at any time are dealt with in one place."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Protocol, TypeVar

from flows.model import Step
from runner.errors import GoBack, StopTest
from runner.record.logbook import Logbook
from runner.talk import wording
from runner.talk.line import Line
from runner.talk.loudness import LevelWatch
from speech.commands import parse_command
from speech.ports import Heard, ListeningKind, Rejected, Silence

T = TypeVar("T")

# Misses after which the tool stops prompting and stands by; then silences after which an unattended session is closed.
_MISSES_BEFORE_STANDING_BY = 4
_WAITS_BEFORE_STOPPING = 3
_STANDBYS_BEFORE_STOPPING = 4  # for one question: who is never understood does better at the keyboard
_UNCLEAR_IN_ALL = 2  # answers that cannot be made out, where that is an answer too


@dataclass(frozen=True)
class Again:
    """The answer was heard but cannot be taken; `say` tells why and what to do."""

    say: str


@dataclass(frozen=True)
class Place:
    """Where the probes go and how the circuit stands (flows.staging.Bench.state as pairs)."""

    red: str | None = None
    black: str | None = None
    state: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Question:
    """What is asked and what helps the person who is asked."""

    text: str
    want: str  # what kind of answer: set, reading, again, acknowledge, ...; on the record
    kind: ListeningKind
    step: str | None = None
    long: str = ""
    why: str = ""
    limits: str = ""
    timeout_s: float = 30.0
    place: Place = Place()
    about: str = ""  # the step's own sentence, by which people know it, said or not


Accept = Callable[[Heard, str | None], T | Again | None]


class Advice(Protocol):
    """Who can tell what is still suspected; see runner.talk.advice."""

    def suspects(self) -> str:
        """The suspects in a sentence."""

    def how_many_left(self, step: str) -> str:
        """About how many checks remain, in a sentence."""


class Asker:
    """Speaks a question and listens until `accept` takes the answer."""

    def __init__(self, line: Line, logbook: Logbook, *, advice: Advice | None = None) -> None:
        self._line = line
        self._logbook = logbook
        self._advice = advice
        self._levels = LevelWatch()
        self.told: set[str] = set()  # what was said in full to this technician: said shorter from then on
        self.hand_over: Callable[[Asker], None] | None = None  # what "hand over" does; see runner.talk.handover

    def ask(self, question: Question, accept: Accept[T], *, unclear: T | None = None) -> T:
        """The accepted answer.

        accept gets what was heard and the command it is, if it is one; it gives the answer, Again, or None for
        "not understood". unclear: the answer, if not None, once somebody has said two things that are none. Raises
        GoBack or StopTest when the technician wants that instead.
        """
        self.put(question)
        misses = unclear_answers = 0
        while True:
            result = self._line.listen(question.kind, timeout_s=question.timeout_s)
            said_why = ""
            if isinstance(result, Heard):
                command = parse_command(result.words)
                taken = accept(result, command)
                if taken is not None and not isinstance(taken, Again):
                    return taken
                if taken is None and command and self._steer(command, question):
                    misses = 0
                    continue
                said_why = taken.say if isinstance(taken, Again) else ""
            misses += 1
            unclear_answers += not isinstance(result, Silence)
            if unclear is not None and unclear_answers >= _UNCLEAR_IN_ALL:
                return unclear
            warning = self._levels.warning(result)
            if warning:
                self._line.say(warning)
            self._prompt_again(question, result, misses, said_why)

    def put(self, question: Question) -> None:
        """Record and speak the question without waiting for the answer."""
        self._logbook.write(
            "asked",
            step=question.step,
            want=question.want,
            text=question.text,
            **({"about": question.about} if question.about else {}),
            red=question.place.red,
            black=question.place.black,
            state=dict(question.place.state),
        )
        if question.text:
            self._line.say(question.text)

    def put_down(self, kind: str, /, **facts: Any) -> None:
        """An event for the record that changes nothing of the state."""
        self._logbook.write(kind, **facts)

    def _prompt_again(self, question: Question, result: Heard | Silence | Rejected, misses: int, said_why: str) -> None:
        if misses >= _MISSES_BEFORE_STANDING_BY:
            if misses >= _MISSES_BEFORE_STANDING_BY + _STANDBYS_BEFORE_STOPPING:
                raise StopTest(wording.NOT_UNDERSTOOD)
            self._stand_by(wording.WAITING, patience=_WAITS_BEFORE_STOPPING)
            self.put(question)
        elif said_why:
            self._line.say(said_why)
        elif isinstance(result, Silence):
            self._line.say(question.text if misses == 1 else question.long or question.text)
        else:
            self._line.say(wording.RETRY.get(question.kind, wording.RETRY["commands"]))

    def _steer(self, command: str, question: Question) -> bool:
        """Do what a command asks that may come at any time; False when it is none of those."""
        if command == "stop":
            raise StopTest("stop test was said")
        if command == "back":
            raise GoBack
        spoken = {
            "say_again": question.long or question.text,
            "why": question.why or wording.NO_REASON,
            "limits": question.limits or wording.NO_LIMITS,
            "help": wording.HELP["reading" if question.kind == "reading" else "commands"],
            "disregard": question.text,
            "enough": question.text,
            "resume": question.text,
        }
        if command in ("suspects", "left"):
            self._line.say(self._advised(command, question))
        elif command in spoken:
            self._line.say(spoken[command])
        elif command == "pause":
            self._logbook.write("paused", step=question.step)
            self._stand_by(wording.PAUSED, patience=None)
            self._logbook.write("resumed", step=question.step)
            self.put(question)
        elif command == "note":
            self._note(question)
        elif command == "hand_over" and self.hand_over is not None:
            self.hand_over(self)
            self.told.clear()
            self.put(replace(question, text=question.long or question.text))
        elif command in ("slower", "faster", "louder", "quieter"):
            self._manner(command)
            self._line.say(question.text)
        else:
            return False
        return True

    def _advised(self, command: str, question: Question) -> str:
        if self._advice is None:
            return wording.NO_ADVICE
        return self._advice.suspects() if command == "suspects" else self._advice.how_many_left(question.step or "")

    def _manner(self, command: str) -> None:
        if command in ("slower", "faster"):
            self._line.ask_of_manner(rate_wpm=-25 if command == "slower" else 25)
        else:
            self._line.ask_of_manner(volume=0.2 if command == "louder" else -0.2)

    def _note(self, question: Question) -> None:
        """A memo: what the recogniser made of it goes on the record, nothing is judged by it."""
        self._line.say(wording.NOTED)
        result = self._line.listen("commands", timeout_s=20.0)
        self._logbook.write(
            "memo", step=question.step, words=getattr(result, "words", ""), **self._line.sound_of(result)
        )
        self._line.say(wording.NOTE_KEPT)
        self._line.say(question.text)

    def _stand_by(self, text: str, *, patience: int | None) -> None:
        """Wait for "go ahead" (or a yes); after `patience` silent waits an unattended session stops, to be resumed."""
        self._line.say(text)
        waits = 0
        while True:
            result = self._line.listen("commands", timeout_s=60.0)
            command = parse_command(result.words) if isinstance(result, Heard) else None
            if command == "stop":
                raise StopTest("stop test was said")
            if command in ("resume", "yes", "set"):
                self._line.say(wording.GOING_ON)
                return
            waits += 1
            if patience is not None and waits >= patience:
                raise StopTest("nobody answered")
            if isinstance(result, Heard | Rejected):
                self._line.say(text)


def question_of(step: Step, text: str, want: str, kind: ListeningKind, *, again: str = "", **more: Any) -> Question:
    """A question of a step of the flow; `again` is what follows the long form at "say again"."""
    long = f"{step.long or step.say} {again}".strip() if again else step.long or text
    return Question(text, want, kind, step=step.name, long=long, why=step.why, about=step.say, **more)


def again_as(question: Question, *, text: str, want: str) -> Question:
    """The same question put another way."""
    return replace(question, text=text, want=want, long=text)
