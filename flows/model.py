"""A flow: steps of a few kinds, outcomes that branch, findings that end it. Frozen, filled from the sheet."""

import re
from collections.abc import Mapping
from functools import cached_property
from typing import Any, Literal

from pydantic import Field

from flows.sensors import Part
from flows.sheet import MachineSheet

__all__ = [
    "ASK_OUTCOMES",
    "DEFAULT_STATE",
    "LEGAL_STATE",
    "OUTCOMES",
    "PASSING",
    "Act",
    "Ask",
    "Caution",
    "Finding",
    "Flow",
    "FlowError",
    "Look",
    "MachineSheet",
    "Measure",
    "Step",
    "Watch",
]

LEGAL_STATE: dict[str, tuple[str, ...]] = {
    "key": ("off", "on"),
    "engine": ("off", "cranking"),
    "throttle": ("closed", "open"),
    "plug": ("in", "out"),
    "control_unit_plug": ("in", "out"),
    "jumper": (),  # "none" or a jumper of the sheet
    "vacuum": ("none", "on"),
    "moving": ("plug", "harness", "unit"),  # while the reading is taken, only
}
DEFAULT_STATE: dict[str, str] = {
    "key": "off",
    "engine": "off",
    "throttle": "closed",
    "plug": "in",
    "control_unit_plug": "in",
    "jumper": "none",
    "vacuum": "none",
}

MEASURED = ("low", "in", "high", "unsteady", "doubtful", "cannot")
OUTCOMES: dict[str, tuple[str, ...]] = {
    "act": ("done", "cannot"),
    "look": ("fine", "bad", "cannot"),
    "check": MEASURED,
    "watch": ("steady", "moved", "cannot"),
}
PASSING: dict[str, tuple[str, ...]] = {
    "act": ("done",),
    "look": ("fine",),
    "check": ("in",),
    "watch": ("steady",),
}
ASK_OUTCOMES: dict[str, tuple[str, ...]] = {
    "yes_no": ("yes", "no", "cannot"),
    "codes": ("answered", "none", "cannot"),
    "initials": ("answered", "cannot"),
    "number": ("answered", "cannot"),
}


BRACES = re.compile(r"\{([^{}]*)\}")  # `{signal.colour}`, filled from the sheet


class FlowError(Exception):
    """Base of everything this room raises on purpose."""


class Ask(Part):
    """A question to the technician."""

    reply: Literal["yes_no", "codes", "initials", "choice", "number"]
    choices: tuple[str, ...] = ()
    quantity: str | None = None
    store: str | None = None  # name under which the answer is kept


class Act(Part):
    """Something to do; what it changes on the bench."""

    state: dict[str, str] = Field(default_factory=dict)


class Look(Part):
    """Something to look at: fine, bad, or can't see. place: what the simulated technician looks at."""

    place: str


class Measure(Part):
    """A reading between two points with the bench in one state."""

    quantity: str
    red: str
    black: str | None = None  # none for a gauge or a display
    state: dict[str, str] = Field(default_factory=dict)  # complete after loading
    hold: Literal["min", "max"] | None = None
    needs_range: str | None = None  # "mV": the meter must be on that range


By = Literal["moving", "wet", "warmed", "chilled"]
# What is said for each, and the minutes a place takes; common practice, no source.
BRINGING_OUT: dict[By, tuple[str, float]] = {
    "moving": ("Move", 0.3),
    "wet": ("Wet", 1.0),
    "warmed": ("Warm", 2.0),
    "chilled": ("Cool", 2.0),
}


class Watch(Part):
    """Places to move, wet, warm or cool one at a time while a reading is watched with MIN/MAX on."""

    places: tuple[str, ...] = Field(min_length=1)  # spoken
    by: By = "moving"


class Step(Part):
    """One step. `kind` says which of ask, act, look, measure and watch are set."""

    name: str
    kind: Literal["ask", "act", "look", "check", "watch"]
    say: str
    long: str = ""
    why: str = ""
    cautions: tuple[str, ...] = ()
    ask: Ask | None = None
    act: Act | None = None
    look: Look | None = None
    measure: Measure | None = None  # also of a watch
    watch: Watch | None = None
    expect: dict[str, dict[str, Any]] | None = None  # {window function: arguments}
    outcomes: dict[str, str]
    doubts: dict[str, str] = Field(default_factory=dict)  # outcome -> why the session is doubtful from here on
    places: tuple[str, ...] = ()  # of the sheet, that must be reached
    minutes: float = 0  # without what staging adds
    passing: tuple[str, ...] = ()  # outcomes with which the step passes as a proof

    def passes(self, outcome: str) -> bool:
        """Whether this outcome counts as passed when the step is run to prove a repair."""
        return outcome in self.passing

    def legal_outcomes(self) -> tuple[str, ...]:
        """Every outcome this step can have."""
        if self.ask is not None:
            return (*self.ask.choices, "cannot") if self.ask.reply == "choice" else ASK_OUTCOMES[self.ask.reply]
        if self.kind == "check" and self.measure is not None and self.measure.quantity == "resistance":
            return (*MEASURED, "open_line")
        return OUTCOMES[self.kind]


class Finding(Part):
    """How a flow ends."""

    name: str
    say: str
    do: str
    blames: tuple[str, ...] = ()
    proof: tuple[str, ...] = ()  # steps to run again after the repair
    status: Literal["found", "not_found", "cannot_decide"] = "found"


class Caution(Part):
    """A danger, said and acknowledged before the step that has it."""

    name: str
    text: str


class Flow(Part):
    """A whole flow with its shared parts expanded."""

    name: str
    title: str
    circuit: str
    codes: tuple[str, ...] = ()
    start: str
    steps: dict[str, Step]
    findings: dict[str, Finding]
    cautions: dict[str, Caution] = Field(default_factory=dict)
    closing: tuple[str, ...] = ()  # steps to run before the session closes, whatever was found; see Step.doubts

    @cached_property
    def table(self) -> Mapping[str, Mapping[str, str]]:
        """step -> {outcome: target}; what the flow's machine is built from."""
        return {name: dict(step.outcomes) for name, step in self.steps.items()}
