"""A session is a pure fold over its events: whatever is known of a job comes from its journal and from nowhere else."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

Event = Mapping[str, Any]


@dataclass(frozen=True)
class Measured:
    """A reading that was taken: where, what, and how it was made sure of.  value in the quantity's base unit."""

    step: str
    quantity: str
    value: float | None
    high: float | None
    over_range: bool
    unit: str
    confirmed: str
    attempts: int
    outcome: str | None = None
    low_limit: float | None = None
    high_limit: float | None = None


@dataclass(frozen=True)
class State:
    """Where a session stands."""

    session: str = ""
    flow: str = ""
    step: str | None = None  # the step or finding it stands at; None before the first branch
    path: tuple[str, ...] = ()  # steps that were finished, oldest first; "go back" walks it
    measured: Mapping[str, Measured] = field(default_factory=dict)  # latest of each step
    replaced: tuple[Measured, ...] = ()  # earlier readings of steps that were taken again
    outcomes: Mapping[str, str] = field(default_factory=dict)
    answers: Mapping[str, str] = field(default_factory=dict)
    bench: Mapping[str, Any] = field(default_factory=dict)  # fields of flows.staging.Bench; empty until something moved
    cranks: int = 0
    acknowledged: frozenset[str] = frozenset()
    unreachable: frozenset[str] = frozenset()  # places the technician cannot get at, for the whole session
    stale: frozenset[str] = frozenset()  # steps whose window rested on a reading that has changed since
    doubts: tuple[str, ...] = ()
    finding: Mapping[str, Any] | None = None
    proof: Mapping[str, Any] | None = None
    status: str = "open"  # open, paused, stopped, then the closing words
    closed: bool = False

    @property
    def readings(self) -> dict[str, float]:
        """Step name -> value [base unit] of every usable reading, for windows that rest on earlier ones."""
        return {m.step: m.value for m in self.measured.values() if m.value is not None and m.step not in self.stale}


def fold(events: Iterable[Event]) -> State:
    """The state after these events, in their order."""
    state = State()
    for event in events:
        state = apply(state, event)
    return state


def apply(state: State, event: Event) -> State:
    """The state after one more event. An event that changes nothing of the state (said, heard) leaves it as it is."""
    change = _CHANGES.get(event["type"])
    return change(state, event) if change else state


def _opened(state: State, event: Event) -> State:
    return replace(state, session=event["session"], flow=event["flow"], step=event.get("step"), status="open")


def _measured(state: State, event: Event) -> State:
    taken = Measured(
        step=event["step"],
        quantity=event["quantity"],
        value=event["value"],
        high=event.get("high"),
        over_range=event["over_range"],
        unit=event["unit"],
        confirmed=event["confirmed"],
        attempts=event["attempts"],
    )
    before = state.measured.get(taken.step)
    replaced = (*state.replaced, before) if before else state.replaced
    return replace(
        state, measured={**state.measured, taken.step: taken}, replaced=replaced, stale=state.stale - {taken.step}
    )


def _judged(state: State, event: Event) -> State:
    taken = state.measured.get(event["step"])
    if taken is None:
        return state
    judged = replace(taken, outcome=event["outcome"], low_limit=event["low"], high_limit=event["high"])
    return replace(state, measured={**state.measured, taken.step: judged})


def _answered(state: State, event: Event) -> State:
    answers = {**state.answers, event["step"]: event["answer"]}
    if event.get("store"):
        answers[event["store"]] = event["answer"]
    return replace(state, answers=answers)


def _branched(state: State, event: Event) -> State:
    return replace(
        state,
        step=event["to"],
        path=(*state.path, event["step"]),
        outcomes={**state.outcomes, event["step"]: event["outcome"]},
        status="open",
    )


def _bench(state: State, event: Event) -> State:
    cranked = event["bench"]["state"].get("engine") == "cranking"
    return replace(state, bench=event["bench"], cranks=state.cranks + cranked)


def _caution(state: State, event: Event) -> State:
    if not event.get("acknowledged"):
        return state
    return replace(state, acknowledged=state.acknowledged | {event["name"]})


def _unreachable(state: State, event: Event) -> State:
    return replace(state, unreachable=state.unreachable | {event["place"]})


def _went_back(state: State, event: Event) -> State:
    to = event["to"]
    cut = len(state.path) - 1 - state.path[::-1].index(to) if to in state.path else len(state.path)
    undone = frozenset(state.path[cut:])
    # Going back to a place that was out of reach means: it can be reached after all.
    reachable = state.unreachable - frozenset(event.get("places", ()))
    return replace(state, step=to, path=state.path[:cut], stale=state.stale | undone, unreachable=reachable)


def _found(state: State, event: Event) -> State:
    return replace(state, finding={k: event[k] for k in ("finding", "say", "do", "blames", "status", "proof")})


def _handed_over(state: State, event: Event) -> State:
    return replace(state, answers={**state.answers, "who": event["to"]}) if event.get("to") else state


def _proof_begun(state: State, event: Event) -> State:
    """After a repair no window may rest on a reading from before it."""
    return replace(state, stale=frozenset(state.measured))


def _doubt(state: State, event: Event) -> State:
    return replace(state, doubts=(*state.doubts, event["why"]))


def _proof_run(state: State, event: Event) -> State:
    return replace(state, proof={k: event[k] for k in ("steps", "passed")})


def _closed(state: State, event: Event) -> State:
    return replace(state, status=event["status"], closed=True)


_CHANGES = {
    "opened": _opened,
    "measured": _measured,
    "judged": _judged,
    "answered": _answered,
    "branched": _branched,
    "bench": _bench,
    "caution": _caution,
    "unreachable": _unreachable,
    "went_back": _went_back,
    "found": _found,
    "doubt": _doubt,
    "handed_over": _handed_over,
    "proof_begun": _proof_begun,
    "proof_run": _proof_run,
    "paused": lambda state, event: replace(state, status="paused"),
    "resumed": lambda state, event: replace(state, status="open", closed=False),
    "stopped": lambda state, event: replace(state, status="stopped"),
    "closed": _closed,
}
