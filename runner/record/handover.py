"""What the next person has to know of a job that is not finished: said in half a minute at most. Pure."""

from collections.abc import Iterable, Iterator, Mapping

from flows.bench import Bench
from flows.model import DEFAULT_STATE
from runner.record.session import Measured, State

LONGEST_WORDS = 72  # at 165 words a minute with its pauses under thirty seconds; measured in its test
LONGEST_SENTENCE = 25
_OUTCOMES = {"in": "in", "low": "low", "high": "high", "unsteady": "not steady", "open_line": "open"}
_DOUBTFUL = ("doubtful", "unsteady")


def summary(state: State, title: str, names: Mapping[str, str]) -> tuple[str, ...]:
    """Sentences on a job as it stands: complaint, what is proved, what is open, what is not put right.

    title: of its flow. names: how each step is announced. What is unplugged is always said, whatever else has no room.
    """
    out = Bench(**{"state": dict(DEFAULT_STATE), **state.bench}).out_of_place()
    last = (f"Not put right: {_listed(out)}.",) if out else ("Nothing is unplugged.",)
    must = (*_complaint(state, title), *_finding(state))
    more = (*_bad(state, names), *_open(state, names), *_good(state, names))
    said = [*must]
    for sentence in more:
        if (
            sentence not in said
            and _words((*said, sentence, *last)) <= LONGEST_WORDS
            and len(sentence.split()) <= LONGEST_SENTENCE
        ):
            said.append(sentence)
    return (*said, *last)


def _words(sentences: Iterable[str]) -> int:
    return sum(len(sentence.split()) for sentence in sentences)


def _complaint(state: State, title: str) -> Iterator[str]:
    yield f"Handover. {title}."
    if complaint := state.answers.get("complaint"):
        yield f"The complaint: {complaint.replace('_', ' ')}."


def _finding(state: State) -> Iterator[str]:
    """A repair is proved by its own readings and by nothing else."""
    if state.proof is not None and state.proof["passed"]:
        yield "The repair is proved."
    elif state.finding is not None and state.finding["status"] == "found":
        yield f"Found, not proved: {_short(str(state.finding['say']))}"
    elif state.finding is not None:
        yield _short(str(state.finding["say"]))
    else:
        yield "No finding yet."


def _short(sentences: str) -> str:
    """Its first sentence, without what is too long to be said."""
    first = sentences.split(". ")[0].rstrip(".")
    return f"{' '.join(first.split()[:18])}."


def _bad(state: State, names: Mapping[str, str]) -> Iterator[str]:
    """Readings that were outside their limits, one sentence each, the newest first."""
    for taken in reversed(tuple(_current(state))):
        if taken.outcome not in (None, "in", *_DOUBTFUL):
            yield f"{_spoken(taken.step, names)}: {_OUTCOMES.get(str(taken.outcome), str(taken.outcome))}."


def _open(state: State, names: Mapping[str, str]) -> Iterator[str]:
    doubtful = [_spoken(taken.step, names) for taken in _current(state) if taken.outcome in _DOUBTFUL]
    if doubtful:
        yield f"Open, in doubt: {_listed(doubtful[-3:])}."
    cannot = [_spoken(step, names) for step, outcome in state.outcomes.items() if outcome == "cannot"]
    if cannot:
        yield f"Open, not done: {_listed(cannot[-3:])}."
    if state.stale:
        yield f"To be read again: {len(state.stale)} readings."


def _good(state: State, names: Mapping[str, str]) -> Iterator[str]:
    good = [_spoken(taken.step, names) for taken in _current(state) if taken.outcome == "in"]
    if len(good) > 4:
        yield f"In limits: {_listed(good[-3:])}, with {len(good) - 3} more."
    elif good:
        yield f"In limits: {_listed(good)}."


def _current(state: State) -> Iterator[Measured]:
    return (taken for taken in state.measured.values() if taken.step not in state.stale)


def _spoken(step: str, names: Mapping[str, str]) -> str:
    """How a step is announced, cut where it gets long; its bare name when it is never announced.

    >>> _spoken("battery/at-rest", {})
    'Battery at rest'
    """
    words = (names.get(step) or step.replace("/", " ").replace("-", " ").replace("_", " ")).rstrip(".:?").split()
    told = " ".join(words[:7])
    return told[:1].upper() + told[1:]


def _listed(items: Iterable[str]) -> str:
    several = [each[:1].lower() + each[1:] for each in items]
    return " and ".join([", ".join(several[:-1]), several[-1]] if len(several) > 1 else several)
