"""Take one reading by voice: hear, read back, judge, and make sure of it before it counts."""

from collections.abc import Callable, Collection, Hashable
from dataclasses import dataclass, field, replace
from functools import partial
from math import inf
from typing import Any

from flows.judging import Judgement, Reading, judge
from flows.meter import Meter
from flows.windows import Window
from runner.errors import StopTest
from runner.talk import wording
from runner.talk.asking import Accept, Again, Asker, Question, again_as
from runner.talk.line import Line
from runner.talk.taking import RULES, NotTaken, Rules, Taken, agrees, said_as_number, speak_taken, why_again
from runner.talk.weighing import key, possible, together
from speech.commands import parse_command
from speech.levels import over_noise_db
from speech.ports import Heard, Rejected

Call = tuple[Taken, ...]  # every reading one call-out may have been, the likeliest first
CANNOT, UNCLEAR = "cannot", "unclear"
_ANSWERS = {"yes": "yes", "no": "no", "wrong": "no"}
# Calls for one reading before the values are said to be unsteady.
_MOST_CALLS = 4
_MOST_IN_ALL = 16
_OBJECTION_S = 1.2


@dataclass(frozen=True)
class Sure:
    """A reading that counts, how it was made sure of and how many call-outs that took."""

    taken: Taken
    judgement: Judgement
    confirmed: str
    attempts: int
    insisted: bool = False  # called again although no fault that is left, and no sound engine, explains it


def anything_goes(reading: Reading) -> bool:
    """Where nothing is known of the circuit, every reading may be."""
    return True


class ReadingTaker:
    """Takes readings for the checks of one session."""

    def __init__(self, line: Line, asker: Asker, *, meter: Meter, rules: Rules = RULES) -> None:
        self._line = line
        self._asker = asker
        self._meter = meter
        self._rules = rules

    def take(
        self,
        question: Question,
        *,
        quantity: str,
        window: Window,
        grave: Collection[str] = (),
        by_eye: bool = False,
        explains: Callable[[Reading], bool] = anything_goes,
    ) -> Sure | str:
        """The reading, made sure of; or "cannot", when the technician cannot measure here.

        grave: outcomes on which the flow ends in a finding. by_eye: it is read off, with no probe held. explains:
        whether a fault that is still suspected, or a sound engine, could give a reading.
        """
        case = _Case(question.step, quantity, window, grave, by_eye, explains)
        ask = question
        while True:
            accept: Accept[Call | str] = partial(self._accept, case=case)
            heard: Any = self._asker.ask(ask, accept)
            if heard == CANNOT:
                return CANNOT
            case.calls.append(heard)
            case.count += 1
            if case.count > _MOST_IN_ALL:  # as at any question: who is never understood does better at the keyboard
                raise StopTest(wording.NOT_UNDERSTOOD)
            sure = self._settle(case)
            if isinstance(sure, Sure):
                return self._insisted(sure, case)
            ask = again_as(question, text=sure, want="again")

    def _accept(self, heard: Heard, command: str | None, *, case: "_Case") -> Call | str | Again | None:
        if command == "cannot":
            return CANNOT
        if command in ("set", "yes"):  # the probes are placed, by habit or by button: now the value
            return Again(wording.NOW_CALL)
        if command not in (None, "correction"):
            return Again(wording.NOT_RIGHT) if command == "wrong" else None
        over_db = over_noise_db(heard.level_dbfs, heard.noise_dbfs) if heard.source == "voice" else inf
        if over_db < self._rules.quiet_db:
            return Again(wording.TOO_LOUD)
        case.over_db = over_db
        try:
            return possible(heard, quantity=case.quantity, meter=self._meter, rules=self._rules)
        except NotTaken as refusal:
            return Again(str(refusal))

    def _settle(self, case: "_Case") -> Sure | str:
        """A reading that counts, or the sentence that asks for one more call."""
        calls, rules = case.calls, self._rules
        best, share = self._likeliest(case)
        judgement = self._judged(case, best)
        said = speak_taken(best)
        disputed = key(best) in case.disputed
        if len(calls) == 1 and not disputed:
            reason = why_again(
                replace(best, confidence=min(best.confidence, share)),
                judgement,
                grave=judgement.outcome in case.grave,
                meter=self._meter,
                explained=case.explains(best.reading),
                rules=rules,
            )
            if reason is not None:
                return f"{said}. {self._because(reason, case)}{self._otherwise(case)}"
            return self._unless_wrong(case, best, confirmed="implicit")
        twins = [call[0] for call in calls if agrees(call[0].reading, best.reading, self._meter)]
        unit_lacks = rules.unit_once and len(twins) > 1 and all(taken.unit_inferred for taken in twins)
        if len(twins) > 1 and share >= rules.pair_sure and not (disputed or unit_lacks):
            return self._unless_wrong(case, best, confirmed="called_twice")
        many = len(calls) >= _MOST_CALLS
        if unit_lacks:
            return case.again(wording.NO_UNIT) if many else f"{said}. {self._because('unit', case)}"
        if rules.contrast and (len(twins) > 1 or disputed or many) and self._two_left(case):
            return self._both_ways(case, best)
        if many:
            return self._unsteady(case) if self._clearly_heard(calls) else case.again(wording.CLOSER)
        if len(twins) == len(calls):
            return f"{said}. {self._because('poorly_heard', case)}{self._otherwise(case)}"
        first, second = speak_taken(calls[-2][0]), speak_taken(calls[-1][0])
        return f"{wording.DISAGREE.format(first=first, second=second)}{self._otherwise(case)}"

    def _insisted(self, sure: Sure, case: "_Case") -> Sure:
        """Marked when the technician stands by a reading that nothing explains."""
        doubted = "fits_nothing" in self._rules.twice and sure.confirmed != "none"
        return replace(sure, insisted=True) if doubted and not case.explains(sure.taken.reading) else sure

    def _because(self, reason: str, case: "_Case") -> str:
        """Why it is to be called again and what to do: in full once a session."""
        if case.by_eye and reason in wording.AGAIN_BY_EYE:
            return wording.AGAIN_BY_EYE[reason]
        known = (told := f"again: {reason}") in self._asker.told
        self._asker.told.add(told)
        return (wording.AGAIN_IN_SHORT if known else wording.AGAIN_BECAUSE)[reason]

    def _otherwise(self, case: "_Case") -> str:
        """Asks for digits after a number: a second call in the same words may err in the same way."""
        last = case.calls[-1][0]
        asked = self._rules.digits_again and not last.typed and said_as_number(last.words)
        return wording.DIGIT_BY_DIGIT if asked else ""

    def _two_left(self, case: "_Case") -> bool:
        """It is one of two readings, as good as surely."""
        return sum(list(together(case.calls, struck=case.struck).values())[:2]) >= self._rules.two_sure

    def _clearly_heard(self, calls: list[Call]) -> bool:
        """Calls that differ were mostly heard well, so it is the display that moves."""
        return sum(call[0].confidence >= self._rules.poor_confidence for call in calls) > len(calls) / 2

    def _judged(self, case: "_Case", taken: Taken) -> Judgement:
        return judge(taken.reading, case.window, self._meter)

    def _likeliest(self, case: "_Case") -> tuple[Taken, float]:
        """The likeliest reading after all calls, and its share with those that differ from it by a flicker only."""
        shares = together(case.calls, struck=case.struck)
        best = case.listed[next(iter(shares))]
        flickers = {key(call[0]) for call in case.calls if agrees(call[0].reading, best.reading, self._meter)}
        return best, sum(share for one, share in shares.items() if one in flickers | {key(best)})

    def _both_ways(self, case: "_Case", best: Taken) -> Sure | str:
        """Ask whether it is the likeliest reading, and whether it is its rival: who is not listening agrees to both."""
        shares = together(case.calls, struck=case.struck)
        rivals = {one: taken for one, taken in (case.disputed or case.listed).items() if one != key(best)}
        if not rivals:
            return self._unless_denied(case, best)
        rival = max(rivals.values(), key=lambda taken: shares.get(key(taken), 0.0))
        first = self._is_it(wording.RIGHT, best)
        second = UNCLEAR if first == UNCLEAR else self._is_it(wording.OR_IS_IT, rival)
        if second == UNCLEAR:  # what was not made out decides nothing
            return case.again(wording.NOT_RIGHT)
        if first != second:
            taken = best if first == "yes" else rival
            return Sure(taken, self._judged(case, taken), "both_ways", len(case.calls))
        if first == "yes":
            case.disputed.update({key(best): best, key(rival): rival})
            return case.again(wording.NOT_BOTH)
        case.struck |= {key(best), key(rival)}
        return case.again(wording.NEITHER)

    def _is_it(self, text: str, taken: Taken) -> str:
        """Yes, no, or UNCLEAR: an objection that cannot be made out must not be asked for for ever, nor be a yes."""
        once, again = (one.format(value=speak_taken(taken)) for one in (text, wording.RIGHT))
        question = Question(once, "right", "commands", long=again, timeout_s=10.0)
        return self._asker.ask(question, lambda _, command: _ANSWERS.get(command or ""), unclear=UNCLEAR)

    def _unsteady(self, case: "_Case") -> Sure:
        tops = [call[0] for call in case.calls]
        values, last = [taken.reading.value for taken in tops if taken.reading.value is not None], tops[-1]
        spread = Reading(last.reading.quantity, min(values), max(values)) if values else last.reading
        judgement = replace(judge(spread, case.window, self._meter), outcome="unsteady")
        self._line.say(wording.OUTCOME["unsteady"])
        return Sure(replace(last, reading=spread), judgement, "none", len(case.calls))

    def _unless_wrong(self, case: "_Case", taken: Taken, *, confirmed: str) -> Sure | str:
        """Read back and leave a moment for "wrong" or "correction"; what is objected to is called again."""
        judgement = self._judged(case, taken)
        self._read_back(taken, judgement.outcome)
        if taken.typed:
            return Sure(taken, judgement, "typed", len(case.calls))
        if case.over_db < self._rules.consent_db:  # an objection might not be heard
            return self._unless_denied(case, taken, ask=wording.IN_NOISE)
        result = self._line.listen("commands", timeout_s=_OBJECTION_S)
        if isinstance(result, Rejected):
            return self._unless_denied(case, taken)
        if isinstance(result, Heard):
            command = parse_command(result.words)
            if command in ("wrong", "no", "disregard", "back"):
                return self._taken_back(case, taken, result.words)
            if command == "correction":
                return self._corrected(case, result, taken)
            if command not in ("yes", "set"):  # an objection may be misheard as any other word: never let it pass
                return self._unless_denied(case, taken)
        return Sure(taken, judgement, confirmed, len(case.calls))

    def _read_back(self, taken: Taken, outcome: str) -> None:
        verdict = "." if self._line.manner.brief and outcome == "in" else f", {wording.OUTCOME[outcome].lower()}"
        self._line.read_back(f"{speak_taken(taken)}{verdict}", earcon=wording.EARCON.get(outcome, "out"))

    def _unless_denied(self, case: "_Case", taken: Taken, *, ask: str = wording.RIGHT) -> Sure | str:
        """What was said after the readback was not understood, or could not be: it may have been an objection, so ask."""
        if self._is_it(ask, taken) == "yes":
            return Sure(taken, self._judged(case, taken), "yes", len(case.calls))
        return self._taken_back(case, taken, "no")

    def _taken_back(self, case: "_Case", taken: Taken, words: str) -> str:
        """The technician objected: on the record, and the reading is not believed so easily again."""
        self._asker.put_down("corrected", step=case.step, was=taken.words, words=words)
        case.struck.add(key(taken))
        return case.again(wording.NOT_RIGHT)

    def _corrected(self, case: "_Case", heard: Heard, taken: Taken) -> str:
        """A correction replaces the calls so far; it counts as one call and is asked for once more."""
        self._taken_back(case, taken, heard.words)
        try:
            case.calls.append(possible(heard, quantity=case.quantity, meter=self._meter, rules=self._rules))
        except NotTaken:
            return wording.NOT_RIGHT
        return f"{speak_taken(case.calls[0][0])}. {wording.NOT_RIGHT}"


@dataclass
class _Case:
    """One reading while it is taken: what it is judged by, what was called, and what the technician said of it."""

    step: str | None
    quantity: str
    window: Window
    grave: Collection[str]
    by_eye: bool = False
    explains: Callable[[Reading], bool] = anything_goes
    calls: list[Call] = field(default_factory=list)
    struck: set[Hashable] = field(default_factory=set)  # readings the technician said are wrong
    count: int = 0  # call-outs in all
    over_db: float = inf  # how far the last of them stood over the noise
    disputed: dict[Hashable, Taken] = field(default_factory=dict)  # readings agreed to together with a rival

    @property
    def listed(self) -> dict[Hashable, Taken]:
        """Every reading the calls may have been, as it was last called."""
        return {key(taken): taken for call in self.calls for taken in reversed(call)}

    def again(self, text: str) -> str:
        """Begin anew, with what was said of the readings kept."""
        self.calls.clear()
        return text


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
