"""What the page tells of a session: one visit for each time a step was done, and what stands around them. Pure."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from runner.record.times import StepTime

Event = Mapping[str, Any]

OUTCOME_WORDS = {
    "in": "in limits",
    "low": "low",
    "high": "high",
    "unsteady": "unsteady",
    "doubtful": "doubtful",
    "open_line": "open line",
    "cannot": "could not be done",
    "cant_see": "could not be seen",
    "fine": "fine",
    "bad": "bad",
    "steady": "steady",
    "moved": "moved",
    "done": "done",
    "set": "done",
    "yes": "yes",
    "no": "no",
    "none": "none",
    "answered": "answered",
}
LONGEST_TITLE = 64
OBJECTIONS = ("wrong", "correction", "disregard")


@dataclass
class Visit:
    """One time a step was done: what was asked, heard, measured and decided."""

    number: int
    step: str
    phase: str  # "job" to the finding, "closing" after it, "proof" once the repair is made
    started: Event
    asked: list[Event] = field(default_factory=list)
    heard: list[Event] = field(default_factory=list)
    unheard: list[Event] = field(default_factory=list)
    read_back: list[Event] = field(default_factory=list)
    answered: list[Event] = field(default_factory=list)
    notes: list[tuple[Event, str]] = field(default_factory=list)
    measured: Event | None = None
    judged: Event | None = None
    branched: Event | None = None
    ended: Event | None = None  # the outcome of a check of the closing, which branches nowhere
    suspects: Event | None = None
    earlier: list[Event] = field(default_factory=list)  # readings that were taken again in the same visit
    last: Event = field(default_factory=dict)
    corrected: bool = False
    left: bool = False  # something else was asked since
    undone: bool = False  # "go back" took it up again

    @property
    def outcome(self) -> str:
        """The outcome's name, "" while open."""
        for event in (self.branched, self.judged, self.ended):
            if event is not None:
                return str(event.get("outcome", ""))
        if self.answered:
            return str(self.answered[-1].get("outcome", ""))
        return "done" if self.left else ""

    @property
    def title(self) -> str:
        """The first sentence of what the step says of itself, which a reader knows better than the step's name.

        A caution spoken before it has a place of its own on the page.
        """
        own = [event for event in self.asked if event.get("want") != "acknowledge"]
        told = [str(event.get("about") or event.get("text") or "") for event in own]
        return heading(next(filter(None, told), ""), self.step)

    @property
    def anchor(self) -> str:
        """Name of its place on the page."""
        return f"check-{self.number}"

    @property
    def took_s(self) -> float:
        """Seconds from asking to deciding."""
        first, last = self.started.get("at_mono_s"), self.last.get("at_mono_s")
        return max(0.0, last - first) if isinstance(first, int | float) and isinstance(last, int | float) else 0.0


@dataclass
class Story:
    """All that the page tells."""

    opened: Event = field(default_factory=dict)
    visits: list[Visit] = field(default_factory=list)
    cautions: list[Event] = field(default_factory=list)
    restored: list[Event] = field(default_factory=list)  # what was asked to be put right
    doubts: list[Event] = field(default_factory=list)
    overridden: list[Event] = field(default_factory=list)  # gone on against what the tool said
    memos: list[Event] = field(default_factory=list)
    troubles: list[tuple[Event, str]] = field(default_factory=list)  # devices, pauses, clock
    talk: list[tuple[Event, str, str]] = field(default_factory=list)  # event, who, words
    unreachable: list[Event] = field(default_factory=list)
    fitted_to: list[str] = field(default_factory=list)  # whose voices the ears were fitted to
    repeating: list[Event] = field(default_factory=list)  # readings had to be called again and again
    found: Event | None = None
    proof: Event | None = None
    stopped: Event | None = None
    closed: Event | None = None
    first: Event = field(default_factory=dict)
    last: Event = field(default_factory=dict)
    count: int = 0
    time: StepTime = field(
        default_factory=lambda: StepTime("")
    )  # talking, working, waiting; nothing in a record that does not tell
    worked_s: float = 0.0  # first event to last, without the time it lay closed
    phase: str = "job"
    open_visit: Visit | None = None

    @property
    def status(self) -> str:
        """How the session stands, in words."""
        if self.closed is not None:
            return str(self.closed.get("status", "closed"))
        return "found, not proved" if self.found and self.found.get("status") == "found" else "not finished"

    def title_of_step(self, step: str) -> str:
        """How a step was announced; what it will say of itself, when it is still to come; or else its name."""
        about = (self.found or {}).get("proof_about")
        to_come = str(about.get(step, "")) if isinstance(about, Mapping) else ""
        return next((visit.title for visit in self.visits if visit.step == step), heading(to_come, step))

    def of_step(self, step: str, phase: str) -> Visit | None:
        """The last visit of a step in a phase that came to an outcome."""
        found = [each for each in self.visits if each.step == step and each.phase == phase and each.outcome]
        return found[-1] if found else None


def heading(told: str, step: str) -> str:
    """The first sentence of what a step says, as a heading; the step's name where that is nothing or too long.

    >>> heading("Sensor supply. Key on.", "supply"), heading("", "battery/rest")
    ('Sensor supply', 'Battery, rest')
    """
    first = first_sentence(told)
    return first.rstrip(".:") if 0 < len(first) <= LONGEST_TITLE else title_of(step)


def first_sentence(text: str) -> str:
    """Up to the first stop or colon that is followed by a space; a decimal point is none.

    >>> first_sentence("Sensor supply, 5.0 volts. Key off. Say set.")
    'Sensor supply, 5.0 volts.'
    """
    return re.split(r"(?<=[.?!:])\s", text, maxsplit=1)[0]


def title_of(step: str) -> str:
    """A step's name for a reader: "battery/at-rest" as "Battery, at rest".

    >>> title_of("battery/at-rest"), title_of("supply_at_plug")
    ('Battery, at rest', 'Supply at plug')
    """
    words = step.replace("-", " ").replace("_", " ").replace("/", ", ").strip()
    return words[:1].upper() + words[1:]
