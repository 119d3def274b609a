"""Walking a flow as a table: where an outcome leads, and what is answered without asking."""

from collections.abc import Callable, Iterable

from flows.model import Flow, FlowError, Step
from flows.sheet import MachineSheet


class WalkError(FlowError):
    """A walk that cannot go on."""


def next_step(flow: Flow, step: str, outcome: str) -> str:
    """Step or finding that this outcome leads to. Raises WalkError."""
    if step not in flow.steps:
        raise WalkError(f"'{step}' is no step of {flow.name}")
    target = flow.steps[step].outcomes.get(outcome)
    if target is None:
        known = ", ".join(flow.steps[step].outcomes)
        raise WalkError(f"step '{step}' has no branch for '{outcome}'; it has {known}")
    return target


def denied_places(flow: Flow, outcomes: Iterable[tuple[str, str]], sheet: MachineSheet) -> frozenset[str]:
    """Places that "cannot" has closed for the whole session."""
    return frozenset(
        place
        for name, outcome in outcomes
        if outcome == "cannot" and name in flow.steps
        for place in flow.steps[name].places
        if sheet.places[place].whole_session
    )


def automatic(step: Step, denied: frozenset[str]) -> str | None:
    """ "cannot" for a step at a place that cannot be reached; None when the step must be asked."""
    return "cannot" if "cannot" in step.outcomes and denied.intersection(step.places) else None


def once_more(step: Step, names: Iterable[str]) -> str | None:
    """Answer to "start once more?", a question whose yes leads back to a step of this walk: yes once, then no.

    None for any other question. names: the steps walked so far.
    """
    walked = set(names)
    if step.ask is None or step.ask.reply != "yes_no" or step.outcomes["yes"] not in walked:
        return None
    return "no" if step.name in walked else "yes"


def path(flow: Flow, answer: Callable[[Step], str], *, most: int = 200) -> list[tuple[str, str]]:
    """Steps with their outcomes, from start to a finding; the last pair is (finding, "").

    answer: the outcome of a step. Raises WalkError when no finding comes within `most` steps.
    """
    at = flow.start
    walked: list[tuple[str, str]] = []
    while at in flow.steps:
        if len(walked) >= most:
            raise WalkError(f"no finding after {most} steps; the last was '{at}'")
        outcome = answer(flow.steps[at])
        walked.append((at, outcome))
        at = next_step(flow, at, outcome)
    return [*walked, (at, "")]
