"""How often a wrong reading is recorded in silence, and which rule of the dialogue prevents how much of that.

`python -m runner.safety` resamples the measured confusions (runner.safety.confusions) through the dialogue's own rules, with a
person who notices a wrong readback so many times in a hundred.
"""

import argparse
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from functools import cache, lru_cache
from typing import Any, cast

import numpy as np

from flows.judging import Reading
from flows.meter import Meter, load_meter
from flows.units import QUANTITIES
from flows.windows import Window
from runner.errors import GoBack, StopTest
from runner.record.logbook import Logbook
from runner.safety.confusions import Case, Confusions, load
from runner.talk.asking import Asker, Question
from runner.talk.line import Line
from runner.talk.readings import ReadingTaker, Sure, speak_taken
from runner.talk.taking import REASONS, RULES, Rules, take
from runner.talk.wording import RIGHT
from speech.numbers import Spoken, parse_reading
from speech.phrasing import talk_s
from speech.ports import Alternative, Heard, Listened, ListeningKind, Rejected, Silence

MIX: Mapping[int, float] = {20: 0.20, 10: 0.50, 5: 0.25, 0: 0.05}
MOST_CALLS = 12
_OBJECTION_S = 1.2
_talk_s = lru_cache(maxsize=None)(talk_s)


class _Gone(Exception):  # noqa: N818  the person gives up on this reading
    """More call-outs than anybody would make."""


class _Person:
    """Line, voice and person in one: calls the case's value, hears readbacks, objects to a wrong one when noticed."""

    def __init__(self, case: Case, call: Any, answers: Any, *, notices: float, rng: np.random.Generator) -> None:
        self._case, self._level, self._answers, self._notices, self._rng = case, call[1], answers, notices, rng
        self._call_s = call[3]
        self._order = list(rng.permutation(len(call[4])))
        self._takes = call[4]
        self._truth = truth(case)
        self._wrong = self._asked = False
        self.calls, self.tool_s, self.person_s = 0, case.lead_s, 0.0
        self._to_say = ""

    def say(self, text: str) -> None:
        self.tool_s += _talk_s(text)
        self._asked = text.startswith(RIGHT.split("{")[0])
        self._to_say = "go ahead"

    def read_back(self, text: str) -> None:
        self.tool_s += _talk_s(text)
        self._asked = False
        back = text.rsplit(". ", 1)[0]
        self._wrong = back != self._truth.spoken
        self._to_say = "wrong" if self._wrong and self._rng.random() < self._notices else ""

    def listen(self, kind: ListeningKind, *, timeout_s: float) -> Listened:
        if kind == "reading":
            return self._called()
        if self._asked:
            self._to_say = "wrong" if self._wrong and self._rng.random() < self._notices else "affirm"
        if not self._to_say:
            self.person_s += _OBJECTION_S
            return Silence(timeout_s)
        self.person_s += 0.6
        if self._to_say == "go ahead":
            return Heard("go ahead", 1.0)
        takes = self._answers[self._to_say, self._level]
        return _result(takes[int(self._rng.integers(len(takes)))])

    def _called(self) -> Listened:
        self.calls += 1
        self.person_s += self._call_s + 0.5
        if self.calls > MOST_CALLS:
            raise _Gone
        return _result(self._takes[self._order[(self.calls - 1) % len(self._order)]])


def _result(take_: Any) -> Listened:
    words, confidence, *rivals = take_
    if words is None:
        return Rejected("", 0.0)
    if not words:
        return Silence(1.0)
    return Heard(words, confidence, tuple(Alternative(*rival) for rival in (rivals[0] if rivals else [])))


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


def same(first: Reading, second: Reading) -> bool:
    """The same value in base units, so that no unit is wrong either."""
    if first.over_range or second.over_range:
        return first.over_range == second.over_range
    pairs = ((first.value, second.value), (first.high, second.high))
    return all((a is None) == (b is None) and abs((a or 0.0) - (b or 0.0)) < 1e-9 for a, b in pairs)


class _NoBook:
    """Takes events and forgets them."""

    def write(self, kind: str, /, **facts: Any) -> None: ...


@dataclass(frozen=True)
class One:
    """How one reading ended: recorded right, wrong in silence, or not at all (unsteady, cannot, given up)."""

    wrong: bool
    recorded: bool
    calls: int
    tool_s: float
    level: int
    cluster: int
    error: float = 0.0  # of a wrong one, as a share of what was said


def one_reading(
    data: Confusions, *, rules: Rules, notices: float, level: int, meter: Meter, rng: np.random.Generator
) -> One:
    """A reading through the dialogue, from its first call to what is recorded."""
    pool = data.calls[level]
    at = int(rng.integers(len(pool)))
    call = pool[at]
    case = data.cases[call[0]]
    person = _Person(case, call, data.answers, notices=notices, rng=rng)
    window = Window(low=case.low, high=case.high, unit=case.unit, because="", simple=case.simple)
    line = cast(Line, person)
    asker = Asker(line, cast(Logbook, _NoBook()))
    taker = ReadingTaker(line, asker, meter=meter, rules=rules)
    question = Question("", "reading", "reading", step="s")
    try:
        sure = taker.take(question, quantity=case.quantity, window=window, grave=dict.fromkeys(case.grave, True))
    except (GoBack, StopTest, _Gone):
        return One(False, False, person.calls, person.tool_s, level, call[0])
    if not isinstance(sure, Sure) or sure.confirmed == "none":  # "unsteady" is on record as such, and said
        return One(False, False, person.calls, person.tool_s, level, call[0])
    reading, said = sure.taken.reading, truth(case).reading
    wrong = not same(reading, said)
    size = abs((reading.value or 0.0) - (said.value or 0.0)) / max(abs(said.value or 0.0), 1e-3) if wrong else 0.0
    return One(wrong, True, person.calls, person.tool_s, level, call[0], size)


def clopper_pearson(wrong: int, count: int, *, level: float = 0.95) -> tuple[float, float]:
    """Exact two-sided bounds of a share.

    >>> [round(end, 5) for end in clopper_pearson(0, 30000)]
    [0.0, 0.00012]
    """
    tail = (1 - level) / 2

    def bound(at_least: bool) -> float:
        low, high = 0.0, 1.0
        for _ in range(60):
            middle = (low + high) / 2
            chance = 1 - _at_most(wrong - 1, count, middle) if at_least else _at_most(wrong, count, middle)
            too_low = chance < tail if at_least else chance > tail
            low, high = (middle, high) if too_low else (low, middle)
        return (low + high) / 2

    return (0.0 if wrong == 0 else bound(True)), (1.0 if wrong == count else bound(False))


def _at_most(wrong: int, count: int, share: float) -> float:
    """Chance of so many or fewer, summed in logs so that large counts do not overflow."""
    if wrong < 0:
        return 0.0
    if share <= 0.0 or share >= 1.0:
        return 1.0 if share <= 0.0 or wrong >= count else 0.0
    k = np.arange(wrong + 1)
    steps = np.log((count - k[:-1]) / (k[:-1] + 1)) if wrong else np.zeros(0)
    chances = np.concatenate([[0.0], np.cumsum(steps)]) + k * np.log(share) + (count - k) * np.log1p(-share)
    return float(min(1.0, np.exp(chances).sum()))


@dataclass(frozen=True)
class Row:
    """Figures of one setting of rules for one listener."""

    rules: str
    notices: float
    readings: int
    call_outs: int
    silent_wrong: int
    share: float
    low: float
    high: float
    calls_at_10_db: float
    calls_a_reading: float
    not_recorded: float
    tool_s: float
    wrong_by_level: Mapping[int, int]
    small: int  # wrong ones less than 1 % off
    cases_wrong: int  # different call-outs behind them


def simulate(data: Confusions, *, name: str, rules: Rules, notices: float, call_outs: int, seed: int) -> Row:
    """Readings until so many call-outs were made, in the mix of a workshop."""
    rng, meter = np.random.default_rng(seed), load_meter("bench")
    levels, shares = list(MIX), list(MIX.values())
    ones: list[One] = []
    made = 0
    while made < call_outs:
        level = int(rng.choice(levels, p=shares))
        ones.append(one_reading(data, rules=rules, notices=notices, level=level, meter=meter, rng=rng))
        made += ones[-1].calls
    wrong = [one for one in ones if one.wrong]
    low, high = clopper_pearson(len(wrong), len(ones))
    return Row(
        name,
        notices,
        len(ones),
        made,
        len(wrong),
        len(wrong) / len(ones),
        low,
        high,
        float(np.mean([one.calls for one in ones if one.level == 10])),
        made / len(ones),
        float(np.mean([not one.recorded for one in ones])),
        float(np.mean([one.tool_s for one in ones])),
        {level: sum(one.level == level for one in wrong) for level in levels},
        sum(one.error < 0.01 for one in wrong),
        len({one.cluster for one in wrong}),
    )


def settings() -> dict[str, Rules]:
    """The rules put on one after another, then the defaults with one of them left out or moved."""
    nothing = frozenset[str]()
    none = Rules(nothing, 0.0, plausible=False, shown=False, unit_once=False, pair_doubt=1.0, exact=False)
    plausible = replace(none, plausible=True)
    shown = replace(plausible, shown=True)
    unit = replace(shown, twice=frozenset({"unit"}))
    unit_once = replace(unit, unit_once=True)
    out = replace(unit_once, twice=unit.twice | {"zero", "over_range", "unsteady", "doubtful", "out", "grave"})
    near = replace(out, twice=out.twice | {"near_limit"})
    digits = replace(near, twice=near.twice | {"digits"})
    before = replace(digits, twice=digits.twice | {"poorly_heard"}, poor_confidence=0.6)
    return {
        "implicit only": none,
        "+ plausible": plausible,
        "+ digits the meter has": shown,
        "+ called again without unit": unit,
        "+ a unit in one of two": unit_once,
        "+ out of window, grave": out,
        "+ near limit": near,
        "+ all digits shown": digits,
        "+ confidence 0.6": before,
        "defaults, agreement in one count": replace(RULES, exact=True),
        **{f"defaults, doubt of a pair {d:g}": replace(RULES, pair_doubt=d) for d in (0.3, 0.05)},
        **{f"defaults, confidence {c:g}": replace(RULES, poor_confidence=c) for c in (0.8, 0.95)},
        "defaults, all twice": replace(RULES, twice=REASONS),
        "defaults": RULES,
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--call-outs", type=int, default=40000)
    parser.add_argument("--seed", type=int, default=5)
    parser.add_argument("--rules", nargs="*", help="only these settings")
    parser.add_argument("--notices", type=float, nargs="*", default=[0.6, 0.9, 0.99])
    parser.add_argument("--json", action="store_true")
    options = parser.parse_args()
    data = load()
    print(
        "| rules | notices | readings | silent wrong | of 10,000 (95 %) | under 1 % off | at 20 10 5 0 dB | calls at 10 dB | talk s |"
    )
    print("| --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: |")
    for name in options.rules or settings():
        for notices in options.notices:
            row = simulate(
                data, name=name, rules=settings()[name], notices=notices, call_outs=options.call_outs, seed=options.seed
            )
            print(line_of(row) if not options.json else json.dumps(asdict(row)), flush=True)


def line_of(row: Row) -> str:
    """One line of the table."""
    share = f"{1e4 * row.share:.1f} ({1e4 * row.low:.1f} to {1e4 * row.high:.1f})"
    return (
        f"| {row.rules} | {100 * row.notices:.0f} % | {row.readings} | {row.silent_wrong} in {row.cases_wrong} cases "
        f"| {share} | {row.small} | {' '.join(str(n) for n in row.wrong_by_level.values())} | {row.calls_at_10_db:.2f} | {row.tool_s:.1f} |"
    )

