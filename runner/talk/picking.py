"""Which flow a job with these codes begins with: the one whose circuit has a single fault that explains them best."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from flows.circuits import CIRCUITS
from flows.model import MachineSheet
from flows.source import load_flow, shipped_flows
from runner.errors import RunError
from speech.phrasing import speak_code


@dataclass(frozen=True)
class Pick:
    """A flow to begin with, the faults of its circuit that explain the codes, and why in a sentence."""

    flow: str
    explained: tuple[str, ...]  # codes
    faults: tuple[str, ...]
    why: str


@dataclass(frozen=True)
class _Fit:
    """How well one flow's circuit explains the codes by one fault."""

    flow: str
    explained: frozenset[str]
    extra: int  # codes that fault would store and that are not there
    faults: tuple[str, ...]

    @property
    def rank(self) -> tuple[Any, ...]:
        return (-len(self.explained), self.extra, not self.faults, -len(self.faults), self.flow)


def pick_flow(codes: Sequence[str], sheet: MachineSheet) -> Pick:
    """The flow to begin with. Raises RunError when no flow knows any of the codes."""
    wanted = frozenset(code.upper() for code in codes)
    fits = [fit for name in shipped_flows() if (fit := _fit(name, wanted, sheet)) is not None]
    if not fits:
        raise RunError(f"no flow knows {', '.join(sorted(wanted))}. Name a flow: {', '.join(shipped_flows())}.")
    best = min(fits, key=lambda fit: fit.rank)
    return Pick(best.flow, tuple(sorted(best.explained)), best.faults, _why(best, wanted, sheet))


def _fit(name: str, wanted: frozenset[str], sheet: MachineSheet) -> _Fit | None:
    flow = load_flow(name, sheet)
    known = wanted & frozenset(flow.codes)
    if not known:  # spares solving a circuit that has nothing to do with it
        return None
    stored = _stored(flow.circuit, sheet)
    best = _best(stored, wanted)
    if best is None:
        return _Fit(name, known, 0, ())
    explained, extra = best
    faults = tuple(f for f, c in stored.items() if c & wanted == explained and len(c - wanted) == extra)
    return _Fit(name, explained, extra, faults)


def _stored(circuit: str, sheet: MachineSheet) -> Mapping[str, frozenset[str]]:
    """Fault -> codes the control unit stores for it."""
    if circuit not in CIRCUITS:
        return {}
    built = CIRCUITS[circuit](sheet)
    return {name: frozenset(built.codes(fault)) for name, fault in built.faults().items()}


def _best(stored: Mapping[str, frozenset[str]], wanted: frozenset[str]) -> tuple[frozenset[str], int] | None:
    fitting = [(codes & wanted, len(codes - wanted)) for codes in stored.values() if codes & wanted]
    return min(fitting, key=lambda one: (-len(one[0]), one[1])) if fitting else None


def _why(fit: _Fit, wanted: frozenset[str], sheet: MachineSheet) -> str:
    """One sentence to say before the flow begins."""
    title = load_flow(fit.flow, sheet).title
    said = _spoken(fit.explained)
    if not fit.faults:
        return f"{title}: this flow is the one for {said}."
    if len(wanted) == 1:
        return f"{title}: {said} is stored there by {_some(fit.faults)}."
    if fit.explained == wanted:
        return f"{title}: one fault there explains {said} together, {_some(fit.faults)}."
    rest = _spoken(wanted - fit.explained)
    return f"{title}: explains {said}, by {_some(fit.faults)}. Not {rest}: another job after this one."


def _spoken(codes: Iterable[str]) -> str:
    return " and ".join(speak_code(code) for code in sorted(codes))


def _some(faults: Sequence[str]) -> str:
    first = faults[0].replace("-", " ")
    others = len(faults) - 1
    return f"{first} for one" if others else first
