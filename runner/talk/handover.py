"""One technician leaves, another takes over: a summary aloud, the new initials, and the step that was next is asked again."""

import re
from collections.abc import Callable
from dataclasses import dataclass

from flows.model import Flow
from runner.errors import GoBack
from runner.record.handover import summary
from runner.record.logbook import Logbook
from runner.talk import wording
from runner.talk.asking import Again, Asker, Question
from runner.talk.line import Line
from speech.numbers import parse_initials
from speech.ports import Heard

NEW_INITIALS = "Who takes over? Spell your initials."
NEW_INITIALS_LONG = "Who takes over? Spell your initials, alfa, bravo. Or say cannot."
TAKEN_OVER = "Yours now."


@dataclass(frozen=True)
class HandOver:
    """Hands a running job over; `asked_of_the_new` is asked of who takes over, such as whether sound may be kept."""

    line: Line
    logbook: Logbook
    flow: Flow
    asked_of_the_new: Callable[[Asker], object] = lambda asker: None

    def __call__(self, asker: Asker) -> None:
        """Say how the job stands, ask who goes on with it, and put both on the record. Raises StopTest."""
        sentences = summary(self.logbook.state, self.flow.title, announced(self.flow))
        for sentence in sentences:
            self.line.say(sentence)
        before = self.logbook.state.answers.get("who", "")
        initials = self._who(asker)
        self.line.keep = None  # what one has agreed to the next has not
        self.logbook.write("handed_over", **{"from": before, "to": initials, "summary": " ".join(sentences)})
        self.line.say(TAKEN_OVER)
        self.asked_of_the_new(asker)

    def _who(self, asker: Asker) -> str:
        question = Question(NEW_INITIALS, "initials", "initials", long=NEW_INITIALS_LONG)
        while True:
            try:
                initials = asker.ask(question, _initials)
            except GoBack:
                continue
            if not initials:
                return ""
            self.line.read_back(f"{' '.join(initials)}.")
            heard = self.line.listen("commands", timeout_s=1.2)
            if not isinstance(heard, Heard) or heard.words.split()[:1] not in (["wrong"], ["no"], ["correction"]):
                return initials
            self.line.say(wording.NOT_RIGHT)


def announced(flow: Flow) -> dict[str, str]:
    """The first sentence of each step, by which a person knows it."""
    return {name: re.split(r"(?<=[.?!:])\s", step.say, maxsplit=1)[0] for name, step in flow.steps.items()}


def _initials(heard: Heard, command: str | None) -> str | Again | None:
    return "" if command == "cannot" else parse_initials(heard.words) or None
