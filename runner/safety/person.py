"""A person at the other end of the line: calls out, hears readbacks, and misses so many wrong ones in a hundred."""

from dataclasses import dataclass
from functools import cache, lru_cache
from math import log10
from typing import Any

import numpy as np

from flows.judging import Reading
from flows.units import QUANTITIES
from runner.safety.confusions import Case
from runner.talk.loudness import NOISY_DB
from runner.talk.people import Manner
from runner.talk.taking import speak_taken, take
from runner.talk.wording import DIGIT_BY_DIGIT, IN_NOISE, OR_IS_IT, RIGHT
from speech.numbers import Spoken, parse_reading
from speech.phrasing import talk_s
from speech.ports import Alternative, Heard, Listened, ListeningKind, Rejected, Silence

MOST_CALLS = 12
_OBJECTION_S = 1.2
_ASKS = tuple(text.split("{")[0] for text in (RIGHT, OR_IS_IT))
_talk_s = lru_cache(maxsize=None)(talk_s)


class GaveUp(Exception):  # noqa: N818  the person gives up on this reading
    """More call-outs than anybody would make."""


@dataclass(frozen=True)
class Truth:
    """What was really said: how a right readback sounds, and the reading."""

    spoken: str
    reading: Reading
    unit: str


@cache
def truth(case: Case) -> Truth:
    """The reading that the words of a case are, when heard right."""
    spoken = parse_reading(case.said, expected_unit=QUANTITIES[case.quantity].base)
    assert isinstance(spoken, Spoken), case.said
    taken = take(spoken, quantity=case.quantity, words=case.said, confidence=1.0)
    return Truth(speak_taken(taken), taken.reading, taken.unit)


class Person:
    """Line, voice and person in one: calls the case's value, hears readbacks, objects to a wrong one when noticed.

    A wrong value that is not noticed is agreed to whenever it is asked about; one that was noticed stays noticed.
    """

    def __init__(
        self, case: Case, call: Any, answers: Any, *, notices: float, rng: np.random.Generator, number: Any = ()
    ) -> None:
        """number: takes of the same reading called as a number, by who does so until digits are asked for."""
        self._case, self._level, self._answers, self._notices, self._rng = case, call[1], answers, notices, rng
        self._call_s = call[3]
        self._order = list(rng.permutation(len(call[4])))
        self._takes = call[4]
        self._number = number
        self._seen: dict[str, bool] = {}  # value read back -> noticed to be wrong
        self.calls, self.tool_s, self.person_s = 0, case.lead_s, 0.0
        self.asked = 0
        self.noisy = False  # a call-out stood so little over the noise that the tool would warn of it
        self.manner = Manner()
        self._to_say = ""

    def say(self, text: str) -> None:
        self.tool_s += _talk_s(text)
        if text == IN_NOISE:
            self.asked += 1
            self._to_say = "wrong" if any(self._seen.values()) else "affirm"  # of the value just read back
            return
        self._to_say = "go ahead"
        if text.endswith(DIGIT_BY_DIGIT):
            self._number = ()
        for start in _ASKS:
            if text.startswith(start):
                self.asked += 1
                value = text.removeprefix(start).removesuffix(" right? Affirm, or wrong.").partition("?")[0]
                self._to_say = "wrong" if self._objects(value) else "affirm"

    def read_back(self, text: str, *, earcon: str = "") -> None:
        self.tool_s += _talk_s(text)
        self._seen.clear()
        self._to_say = "wrong" if self._objects(text.partition(", ")[0].rstrip(".")) else ""

    def sound_of(self, result: Listened) -> dict[str, Any]:
        """A number heard as "note" asks for one; nothing of it is kept."""
        return {}

    def _objects(self, value: str) -> bool:
        if value == truth(self._case).spoken:
            return False
        if not self._seen.get(value):
            self._seen[value] = bool(self._rng.random() < self._notices)
        return self._seen[value]

    def listen(self, kind: ListeningKind, *, timeout_s: float) -> Listened:
        if kind == "reading":
            return self._called()
        if not self._to_say:
            self.person_s += _OBJECTION_S
            return Silence(timeout_s)
        self.person_s += 0.6
        if self._to_say == "go ahead":
            return Heard("go ahead", 1.0)
        takes = self._answers[self._to_say, self._level]
        return result_of(takes[int(self._rng.integers(len(takes)))])

    def _called(self) -> Listened:
        self.calls += 1
        self.person_s += self._call_s + 0.5
        if self.calls > MOST_CALLS:
            raise GaveUp
        takes = self._number or self._takes
        take_ = takes[self._order[(self.calls - 1) % len(self._order)]]
        self.noisy |= bool(take_[0]) and take_[3] < NOISY_DB
        return result_of(take_)


def result_of(take_: Any) -> Listened:
    """A recorded take as the ears give it: words or none, certainty, rivals, level over noise [dB]."""
    words, confidence, rivals, over_db = take_
    if words is None:
        return Rejected("", 0.0)
    if not words:
        return Silence(1.0)
    level_dbfs = 10 * log10(10 ** (over_db / 10) + 1)
    others = tuple(Alternative(*rival) for rival in rivals)
    return Heard(words, confidence, others, level_dbfs=level_dbfs, noise_dbfs=0.0)
