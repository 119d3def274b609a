"""Answers to the questions a flow asks: which kind of listening, what is taken, and what is read back."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from flows.model import Ask
from runner.talk.asking import Again
from speech.choices import parse_choice
from speech.numbers import parse_codes, parse_initials
from speech.phrasing import speak_code
from speech.ports import Heard, ListeningKind


@dataclass(frozen=True)
class Answer:
    """What was answered, the outcome it is, and what to read back ("" for nothing)."""

    answer: str
    outcome: str
    read_back: str = ""
    typed: bool = False


Accept = Callable[[Ask, Heard, str | None], Answer | Again | None]


@dataclass(frozen=True)
class AnswerRule:
    """How one kind of reply is heard and taken."""

    kind: ListeningKind
    accept: Accept

    def take(self, ask: Ask, heard: Heard, command: str | None) -> Answer | Again | None:
        """The answer, Again, or None for "not understood"."""
        taken = self.accept(ask, heard, command)
        return replace(taken, typed=heard.source == "keyboard") if isinstance(taken, Answer) else taken


def _yes_no(ask: Ask, heard: Heard, command: str | None) -> Answer | Again | None:
    if command in ("yes", "no", "cannot"):
        return Answer(command, command)
    return None


def _codes(ask: Ask, heard: Heard, command: str | None) -> Answer | Again | None:
    if command == "cannot":
        return Answer("cannot", "cannot")
    codes = parse_codes(heard.words)
    if codes:
        return Answer(" ".join(codes), "answered", ". ".join(speak_code(code) for code in codes) + ".")
    if heard.words in ("none", "no", "no codes", "nothing"):
        return Answer("none", "none", "No codes.")
    return None


def _initials(ask: Ask, heard: Heard, command: str | None) -> Answer | Again | None:
    if command == "cannot":
        return Answer("cannot", "cannot")
    initials = parse_initials(heard.words)
    return Answer(initials, "answered", " ".join(initials) + ".") if initials else None


def _choice(ask: Ask, heard: Heard, command: str | None) -> Answer | Again | None:
    if command == "cannot":
        return Answer("cannot", "cannot")
    chosen = parse_choice(heard.words) or command or heard.words
    if chosen in ask.choices:
        return Answer(chosen, chosen, f"{chosen.replace('_', ' ').capitalize()}.")
    return None


ANSWERS: Mapping[str, AnswerRule] = MappingProxyType(
    {
        "yes_no": AnswerRule("yes_no", _yes_no),
        "codes": AnswerRule("codes", _codes),
        "initials": AnswerRule("initials", _initials),
        "choice": AnswerRule("choice", _choice),
    }
)
