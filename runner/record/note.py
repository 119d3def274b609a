"""What the customer is told of a job, in 120 words at most: complaint, cause, done, proof, not checked. Pure."""

from collections.abc import Iterable, Iterator

from runner.record.across import Row, rows_of
from runner.record.session import Event, State, fold
from runner.report.figures import figure
from runner.report.story import title_of
from runner.report.telling import tell

MOST_WORDS = 120
_NAMED = 3  # readings and places that are named before the rest is only counted


def customers_note(events: Iterable[Event]) -> str:
    """The note, a line for each of its five parts. What does not fit is counted instead of named, never left unsaid."""
    events = list(events)
    for named in range(_NAMED, -1, -1):
        lines = list(_lines(events, named))
        if sum(len(line.split()) for line in lines) <= MOST_WORDS:
            return "\n".join(lines) + "\n"
    return "\n".join(_shortened(lines)) + "\n"


def _lines(events: list[Event], named: int) -> Iterator[str]:
    state = fold(events)
    opened = events[0] if events else {}
    if opened.get("simulated"):
        yield "Rehearsal: no real engine was measured."
    yield f"{opened.get('machine') or 'Machine'}: {opened.get('title') or state.flow}."
    yield f"Complaint: {_complaint(state)}"
    yield f"Cause: {_cause(state)}"
    yield f"Done: {_done(state)}"
    yield f"Proof: {_proof(events, state, named)}"
    yield f"Not checked: {_not_checked(state, named)}"


def _complaint(state: State) -> str:
    told = state.answers.get("complaint", "")
    return f"{told.replace('_', ' ')}." if told else "not told."


def _cause(state: State) -> str:
    if state.finding is None:
        return "not found yet; the test was not finished."
    return str(state.finding["say"])


def _done(state: State) -> str:
    if state.finding is None or not state.finding["do"]:
        return "tested only, nothing was changed."
    if state.proof is not None and state.proof["passed"]:
        return f"repaired as follows. {state.finding['do']}"
    return f"tested only. Advised: {state.finding['do']}"


def _proof(events: list[Event], state: State, named: int) -> str:
    pairs = list(_pairs(events))
    more = len(pairs) - min(named, len(pairs))
    told = "; ".join([*pairs[:named], *([f"{more} more readings before and after"] if more else [])])
    readings = f" {told}." if told else ""
    if state.proof is None:
        return "none yet; found, not proved." if state.finding and state.finding["status"] == "found" else "none."
    return f"{'passed' if state.proof['passed'] else 'not passed'}.{readings}"


def _pairs(events: list[Event]) -> Iterator[str]:
    """Each reading that was taken before the repair and after it."""
    rows = rows_of("", events)
    before = {row.step: row for row in rows if row.phase == "job"}
    after = {row.step: row for row in rows if row.phase == "proof"}
    story = tell(events)
    for step, row in after.items():
        if step in before:
            yield f"{story.title_of_step(step)}: {_figure(before[step])} before, {_figure(row)} after"


def _figure(row: Row) -> str:
    return "over range" if row.over_range else figure(row.value, row.unit)


def _not_checked(state: State, named: int) -> str:
    places = [title_of(place).lower() for place in sorted(state.unreachable)]
    steps = [title_of(step).lower() for step, outcome in state.outcomes.items() if outcome == "cannot"]
    doubts = [f"in doubt: {doubt.partition(':')[0].replace('_', ' ')}" for doubt in state.doubts]
    things = [*places, *steps, *doubts]
    if not things:
        return "nothing; every check of this test that was needed was done."
    more = len(things) - min(named, len(things))
    return "; ".join([*things[:named], *([f"{more} more, see the report"] if more else [])]) + "."


def _shortened(lines: list[str]) -> list[str]:
    """The last resort: the longest line loses its end, and says so."""
    while sum(len(line.split()) for line in lines) > MOST_WORDS:
        longest = max(lines, key=lambda line: len(line.split()))
        words = longest.removesuffix(" ...").split(" ")
        lines = [f"{' '.join(words[:-3])} ..." if line is longest else line for line in lines]
    return lines
