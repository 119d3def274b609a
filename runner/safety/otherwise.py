"""What two rules of the dialogue rest on, measured for the call-outs of runner.safety.confusions.

Forms: the same reading called as a number, by the same voice at the same level in the same noises. Unexplained: what was
heard and could come from no fault that was left, nor from a sound engine, when the reading was asked for.
`python -m runner.safety.otherwise` makes `runner/safety/otherwise.json` from the committed confusions.
"""

import argparse
import json
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from flows.circuits import CIRCUITS
from flows.judging import Reading
from flows.meter import load_meter
from flows.site import Site
from flows.source import load_flow, load_sheet, shipped_flows
from runner.job import Job
from runner.rehearsal.by_text import walk
from runner.safety.confusions import DATA as CONFUSIONS
from runner.safety.confusions import NOISES, Case, Confusions, Voices, _heard, load
from runner.talk.advice import Advisor, grounds_for
from runner.talk.taking import RULES, NotTaken, Taken
from runner.talk.weighing import key, possible
from speech.cardinals import DIGITS, spell_cardinal
from speech.ports import Heard
from speech.recogniser import Recogniser

DATA = Path(__file__).with_name("otherwise.json")
ANYTHING = replace(RULES, plausible=False, shown=False)


def as_a_number(words: str) -> str:
    """The digits before the point as one number; the same words where there are none to join.

    >>> as_a_number("one two point five five volts"), as_a_number("five point zero one volts")
    ('twelve point five five volts', 'five point zero one volts')
    """
    said = words.split()
    start = 1 if said[0] == "minus" else 0
    end = next((at for at in range(start, len(said)) if said[at] not in DIGITS), len(said))
    figures = "".join(str(DIGITS[word]) for word in said[start:end])
    if len(figures) < 2 or figures[0] == "0":
        return words
    return " ".join([*said[:start], spell_cardinal(int(figures)), *said[end:]])


@dataclass(frozen=True)
class Otherwise:
    """Both, as the simulation asks for them."""

    forms: Mapping[tuple[str, int], tuple[Any, ...]]  # words said, level -> takes of the other form
    unexplained: Mapping[str, Collection[Any]]  # words said -> readings (runner.talk.weighing.key) nothing explains
    _pools: dict[tuple[int, str], list[Any]] = field(default_factory=dict, init=False, compare=False)

    def calls(self, data: Confusions, level: int, only: str) -> list[Any]:
        """The calls at a level that were measured as a number too, or whose circuit is known ("numbers", "known")."""
        if (level, only) not in self._pools:
            every = [call for yes in (True, False) for call in data.pools[level, yes]]
            said = {"numbers": {words for words, at in self.forms if at == level}, "known": set(self.unexplained)}[only]
            self._pools[level, only] = [call for call in every if data.cases[call[0]].said in said]
        return self._pools[level, only]


def load_otherwise(path: Path = DATA) -> Otherwise:
    """The committed set."""
    data = json.loads(path.read_text(encoding="utf-8"))
    return Otherwise(
        {(said, level): tuple(takes) for said, level, _, takes in data["forms"]},
        {said: frozenset(map(tuple, readings)) for said, _, _, readings in data["unexplained"]},
    )


def forms(data: Confusions, *, seed: int) -> Iterator[list[Any]]:
    """Words said, level, the other form, and what was heard of that."""
    recogniser, voices = Recogniser(kinds=("reading",)), Voices(None)
    by_voice: dict[str, list[tuple[int, int]]] = {}
    for number, level, name, *_ in data.calls:
        if as_a_number(data.cases[number].said) != data.cases[number].said:
            by_voice.setdefault(name, []).append((number, level))
    for name, calls in by_voice.items():
        at = voices.names.index(name)
        with voices.speaking(name, rate_wpm=(140, 165, 190)[at % 3]) as say:
            for number, level in calls:
                said = data.cases[number].said
                other = as_a_number(said)
                sound = say(other, "")
                takes = [
                    _heard(recogniser, sound, level, take, seed + number, "reading") for take in range(len(NOISES))
                ]
                yield [said, level, other, takes]


def unexplained(data: Confusions, flows: Sequence[str]) -> Iterator[list[Any]]:
    """Words said, the flow and step they were said in, and which of the readings heard nothing explains there."""
    wanted = {case.said: case for case in data.cases}
    sheet, meter = load_sheet("th2"), load_meter("bench")
    for flow in flows:
        job = Job(load_flow(flow, sheet), sheet, Site(), meter)
        circuit, grounds = CIRCUITS[job.flow.circuit](sheet), grounds_for(job)
        if grounds is None:
            continue
        for fault in (None, *circuit.faults().values()):
            advisor = Advisor(grounds)
            for event in walk(job, circuit, fault):
                case = wanted.get(event.get("words", "")) if event["type"] == "measured" else None
                if case is not None and case.quantity == event["quantity"]:
                    del wanted[case.said]
                    heard = _heard_of(case, data)
                    strange = [each for each, reading in heard.items() if not advisor.explains(event["step"], reading)]
                    yield [case.said, flow, event["step"], strange]
                advisor.watch(event)


def _heard_of(case: Case, data: Confusions) -> dict[Any, Reading]:
    """Every reading that was heard of a case or stood beside it, at any level."""
    found: dict[Any, Reading] = {}
    for number, _, _, _, takes in data.calls:
        if data.cases[number] is not case:
            continue
        for words, _, rivals, _ in takes:
            for text in (words, *(rival[0] for rival in rivals)):
                try:
                    taken = _taken(text or "", case.quantity)
                except NotTaken:
                    continue
                found[key(taken)] = taken.reading
    return found


def _taken(words: str, quantity: str) -> Taken:
    return possible(Heard(words, 1.0), quantity=quantity, meter=load_meter("bench"), rules=ANYTHING)[0]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=23, help="of the noises, as the confusions were measured with")
    parser.add_argument("--data", type=Path, default=CONFUSIONS)
    parser.add_argument("--out", type=Path, default=DATA)
    parser.add_argument("--flows", nargs="*", help="walk these for what is unexplained; none given: all")
    options = parser.parse_args()
    data = load(options.data)
    flows = options.flows or shipped_flows()
    rows = {"forms": list(forms(data, seed=options.seed)), "unexplained": list(unexplained(data, flows))}
    told = ",\n".join(
        f'"{name}": [\n' + ",\n".join(json.dumps(row, separators=(",", ":")) for row in rows[name]) + "\n]"
        for name in rows
    )
    walked = f" --flows {' '.join(options.flows)}" if options.flows else ""
    made_by = f"python -m runner.safety.otherwise --seed {options.seed}{walked}"
    noises = json.dumps(list(NOISES))
    options.out.write_text(f'{{\n"made_by": "{made_by}",\n"noises": {noises},\n{told}\n}}\n', encoding="utf-8")


if __name__ == "__main__":
    main()
