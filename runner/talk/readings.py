"""Take one reading by voice: hear, read back, judge, and make sure of it before it counts."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from flows.judging import Judgement, Reading, judge
from flows.meter import Meter
from flows.units import QUANTITIES
from flows.windows import Window
from runner.talk import wording
from runner.talk.asking import Again, Asker, Question, again_as
from runner.talk.line import Line
from runner.talk.taking import RULES, NotTaken, Rules, Taken, agrees, sure_together, take, too_fine, why_again
from speech.commands import parse_command
from speech.numbers import NumberProblem, Spoken, parse_reading, speak_value
from speech.ports import Heard, Rejected

CANNOT = "cannot"
# Calls for one reading before the values are said to be unsteady.
_MOST_CALLS = 4
_OBJECTION_S = 1.2


@dataclass(frozen=True)
class Sure:
    """A reading that counts, how it was made sure of and how many call-outs that took."""

    taken: Taken
    judgement: Judgement
    confirmed: str
    attempts: int


class ReadingTaker:
    """Takes readings for the checks of one session."""

    def __init__(self, line: Line, asker: Asker, *, meter: Meter, rules: Rules = RULES) -> None:
        self._line = line
        self._asker = asker
        self._meter = meter
        self._rules = rules

    def take(self, question: Question, *, quantity: str, window: Window, grave: Mapping[str, bool]) -> Sure | str:
        """The reading, made sure of; or "cannot", when the technician cannot measure here.

        grave: outcome -> does the flow end in a finding on it.
        """
        calls: list[Taken] = []
        ask = question
        while True:
            heard = self._asker.ask(ask, lambda h, c: self._accept(h, c, quantity))
            if heard == CANNOT:
                return CANNOT
            assert isinstance(heard, Taken)
            calls.append(heard)
            sure = self._settle(calls, window=window, grave=grave)
            if isinstance(sure, Sure):
                return sure
            ask = again_as(question, text=sure, want="again")

    def _accept(self, heard: Heard, command: str | None, quantity: str) -> Taken | str | Again | None:
        if command == "cannot":
            return CANNOT
        if command not in (None, "correction"):
            return Again(wording.NOT_RIGHT) if command == "wrong" else None
        words = heard.words
        spoken = parse_reading(words, expected_unit=QUANTITIES[quantity].base)
        if isinstance(spoken, NumberProblem):
            return Again(spoken.ask)
        try:
            taken = take(
                spoken,
                quantity=quantity,
                words=words,
                confidence=_confidence(heard),
                plausible=self._rules.plausible,
            )
        except NotTaken as refusal:
            return Again(str(refusal))
        if self._rules.shown and too_fine(taken, self._meter):
            return Again(wording.TOO_FINE)
        return replace(taken, typed=heard.source == "keyboard")

    def _settle(self, calls: list[Taken], *, window: Window, grave: Mapping[str, bool]) -> Sure | str:
        """A reading that counts, or the sentence that asks for one more call."""
        last = calls[-1]
        judgement = judge(last.reading, window, self._meter)
        outcome = wording.OUTCOME[judgement.outcome]
        said = speak_taken(last)
        exact = self._rules.exact and not (len(calls) >= _MOST_CALLS and self._only_flickers(calls))
        twins = [c for c in calls if agrees(c.reading, last.reading, self._meter, exact=exact)]
        if len(twins) > 1 and sure_together(twins, self._rules):
            return self._unless_wrong(last, judgement, calls, text=f"{said}. {outcome}", confirmed="called_twice")
        if len(twins) > 1:
            unheard = "unit" if all(c.unit_inferred for c in twins) else "poorly_heard"
            if len(calls) >= _MOST_CALLS:
                return self._unless_denied(last, judgement, calls)
            return f"{said}. {wording.AGAIN_BECAUSE[unheard]}"
        if len(calls) >= _MOST_CALLS:
            return self._unsteady(calls, window)
        if len(calls) > 1:
            return wording.DISAGREE.format(first=speak_taken(calls[-2]), second=said)
        reason = why_again(
            last, judgement, grave=grave.get(judgement.outcome, False), meter=self._meter, rules=self._rules
        )
        if reason is None:
            return self._unless_wrong(last, judgement, calls, text=f"{said}. {outcome}", confirmed="implicit")
        return f"{said}. {wording.AGAIN_BECAUSE[reason]}"

    def _only_flickers(self, calls: list[Taken]) -> bool:
        """All calls lie close together: the last digits move, which is no reason to take none of them."""
        return all(agrees(calls[0].reading, c.reading, self._meter) for c in calls[1:])

    def _unsteady(self, calls: list[Taken], window: Window) -> Sure:
        values = [c.reading.value for c in calls if c.reading.value is not None]
        spread = Reading(calls[-1].reading.quantity, min(values), max(values)) if values else calls[-1].reading
        judgement = judge(spread, window, self._meter)
        judgement = replace(judgement, outcome="unsteady")
        self._line.say(wording.OUTCOME["unsteady"])
        return Sure(replace(calls[-1], reading=spread), judgement, "none", len(calls))

    def _unless_wrong(
        self, taken: Taken, judgement: Judgement, calls: list[Taken], *, text: str, confirmed: str
    ) -> Sure | str:
        """Read back and leave a moment for "wrong" or "correction"; what is objected to is forgotten and called again."""
        self._line.read_back(text)
        if taken.typed:
            return Sure(taken, judgement, "typed", len(calls))
        result = self._line.listen("commands", timeout_s=_OBJECTION_S)
        if isinstance(result, Rejected):
            return self._unless_denied(taken, judgement, calls)
        if isinstance(result, Heard):
            command = parse_command(result.words)
            if command in ("wrong", "no", "disregard", "back"):
                calls.clear()
                return wording.NOT_RIGHT
            if command == "correction":
                return self._corrected(result, taken, calls)
            if command not in ("yes", "set"):  # an objection may be misheard as any other word: never let it pass
                return self._unless_denied(taken, judgement, calls)
        return Sure(taken, judgement, confirmed, len(calls))

    def _unless_denied(self, taken: Taken, judgement: Judgement, calls: list[Taken]) -> Sure | str:
        """Something was said after the readback that was not understood: it may have been an objection, so ask."""
        question = Question(wording.RIGHT.format(value=speak_taken(taken)), "right", "commands", timeout_s=10.0)
        answer = self._asker.ask(
            question, lambda heard, command: command if command in ("yes", "no", "wrong") else None
        )
        if answer == "yes":
            return Sure(taken, judgement, "yes", len(calls))
        calls.clear()
        return wording.NOT_RIGHT

    def _corrected(self, heard: Heard, taken: Taken, calls: list[Taken]) -> str:
        """A correction replaces the calls so far; it counts as one call and is asked for once more."""
        calls.clear()
        spoken = parse_reading(heard.words, expected_unit=QUANTITIES[taken.reading.quantity].base)
        if isinstance(spoken, Spoken):
            try:
                fixed = take(spoken, quantity=taken.reading.quantity, words=heard.words, confidence=_confidence(heard))
            except NotTaken:
                return wording.NOT_RIGHT
            calls.append(fixed)
            return f"{speak_taken(fixed)}. {wording.NOT_RIGHT}"
        return wording.NOT_RIGHT


def speak_taken(taken: Taken) -> str:
    """The value as heard, digit by digit with its unit, for the readback."""
    spoken = taken.spoken
    if spoken.kind == "over_range":
        return "Over range"
    if spoken.value is None:
        return "Nothing"
    low = speak_value(spoken.value, taken.unit, decimals=spoken.digits)
    if spoken.high is None:
        return low[:1].upper() + low[1:]
    return f"Between {low} and {speak_value(spoken.high, taken.unit, decimals=spoken.digits)}"


def _confidence(heard: Heard) -> float:
    return 1.0 if heard.source != "voice" else heard.confidence


def facts(sure: Sure, question: Question, unit: str) -> dict[str, Any]:
    """The facts of a `measured` event."""
    reading = sure.taken.reading
    return {
        "step": question.step,
        "quantity": reading.quantity,
        "value": reading.value,
        "high": reading.high,
        "over_range": reading.over_range,
        "unit": unit,
        "words": sure.taken.words,
        "decimals": sure.taken.spoken.digits,
        "attempts": sure.attempts,
        "confirmed": sure.confirmed,
        "place_red": question.place.red,
        "place_black": question.place.black,
        "state": dict(question.place.state),
    }
