"""A simulated technician: does what the tool says to a simulated engine, and calls out what a simulated meter shows."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np

from flows.meter import OVER, Meter
from flows.model import BRINGING_OUT
from runner.record.session import Event
from speech.numbers import NumberProblem, parse_reading, speak_value
from speech.phrasing import speak_code

BROUGHT_OUT = re.compile(rf"({'|'.join(verb for verb, _ in BRINGING_OUT.values())}) the ([^.]+)\.")


class Engine(Protocol):
    """The simulated engine, with its hidden fault, as far as hands, eyes and a meter can reach it."""

    def true_value(
        self, red: str, black: str | None, quantity: str, state: Mapping[str, str], *, hold: str | None
    ) -> float:
        """What a perfect meter with this input resistance would show, base unit; infinity for an open line."""

    def looks(self, place: str) -> str:
        """fine or bad."""

    def moves(
        self, place: str, red: str, black: str | None, quantity: str, state: Mapping[str, str], *, by: str = "moving"
    ) -> bool:
        """Whether moving, wetting, warming or cooling this place makes the reading jump."""

    def codes(self) -> tuple[str, ...]:
        """Codes the control unit has stored."""


@dataclass
class Orders:
    """What the technician was last told."""

    step: str | None = None
    want: str = ""
    red: str | None = None
    black: str | None = None
    state: Mapping[str, str] = field(default_factory=dict)
    place: str | None = None
    text: str = ""


@dataclass(frozen=True)
class Habits:
    """How this technician works."""

    initials: tuple[str, str] = ("alfa", "tango")
    complaint: str = "light"
    warmth: str = "cold"
    reaches_control_unit: bool = True
    correction_rate: float = 0.5  # of wrong readbacks answered "correction ..." rather than "wrong"


@dataclass(frozen=True)
class StepNotes:
    """What of the flow's step the technician needs hands and eyes for."""

    kind: str
    quantity: str | None = None
    hold: str | None = None
    look_place: str | None = None
    reply: str | None = None
    choices: tuple[str, ...] = ()
    places: tuple[str, ...] = ()  # of the sheet, to be reached
    watch_places: tuple[str, ...] = ()


@dataclass(frozen=True)
class CallOut:
    """Words the technician spoke: of which step, whether they were the meter's reading, after how many events."""

    step: str | None
    words: str
    is_reading: bool
    after: int


class Technician:
    """Hears sentences, sees nothing of the tool's inside; answers in words."""

    def __init__(
        self,
        engine: Engine,
        *,
        meter: Meter,
        steps: Mapping[str, StepNotes],
        habits: Habits,
        rng: np.random.Generator,
    ) -> None:
        self._engine = engine
        self._meter = meter
        self._steps = steps
        self._habits = habits
        self._rng = rng
        self._gain, self._offset = rng.uniform(-0.8, 0.8, 2)  # one meter, one error, for the whole job
        self._orders = Orders()
        self._called: str | None = None  # the last reading called out, as words
        self._object_to: str | None = None
        self._objecting = False
        self._waited_for = False
        self._told = 0
        self.said: list[CallOut] = []

    def told(self, event: Event) -> None:
        """An instruction was spoken: which step, what is wanted, where the probes go; or a readback, to object to."""
        self._told += 1
        self._objecting = event["type"] == "read_back" or (self._objecting and event["type"] != "asked")
        if event["type"] != "asked":
            return
        want = event["want"]
        self._orders = Orders(
            step=event["step"] or self._orders.step,
            want=want,
            red=event["red"] or self._orders.red,
            black=event["black"] or self._orders.black,
            state=event["state"] or self._orders.state,
            text=event["text"],
        )
        if event["want"] != "right":
            self._object_to = None

    def hears(self, text: str) -> None:
        """Compare a spoken readback with what was called; plan to object when it is another value."""
        self._waited_for = "go ahead" in text.lower()
        if not self._objecting:
            return
        self._object_to = None
        if self._called is None or self._orders.want not in ("reading", "again"):
            return
        first = text.partition(", ")[0].rstrip(".")
        back, called = parse_reading(first.lower()), parse_reading(self._called)
        if isinstance(back, NumberProblem) or isinstance(called, NumberProblem):
            return
        if (back.kind, back.value, back.high, back.unit) != (called.kind, called.value, called.high, called.unit):
            self._object_to = (
                f"correction {self._called}" if self._rng.random() < self._habits.correction_rate else "wrong"
            )

    def reply(self) -> str | None:
        """Words to call out now, or None to keep silent."""
        if self._waited_for:
            words: str | None = "go ahead"
        else:
            words = self._object_to if self._objecting else self._answer()
        if words is not None:
            is_reading = self._orders.want in ("reading", "again") and not self._objecting and not self._waited_for
            self.said.append(CallOut(self._orders.step, words, is_reading, self._told))
        return words

    def _answer(self) -> str | None:
        want = self._orders.want
        notes = self._steps.get(self._orders.step or "")
        if want in ("reading", "again"):
            return self._call_out(notes)
        if want == "right":
            return "wrong" if self._object_to else "affirm"
        if want in ("acknowledge", "swap"):
            return "set" if want == "swap" else "affirm"
        if want in ("set", "clear"):
            return want if self._can_reach(notes) else "cannot"
        if want == "look":
            return self._look(notes)
        if want == "watch":
            return self._wiggle(notes)
        return self._reply_to_question(want, notes)

    def _can_reach(self, notes: StepNotes | None) -> bool:
        return self._habits.reaches_control_unit or notes is None or "unit" not in notes.places

    def _look(self, notes: StepNotes | None) -> str:
        if not self._can_reach(notes):
            return "can't see"
        return self._engine.looks(notes.look_place) if notes and notes.look_place else "fine"

    def _wiggle(self, notes: StepNotes | None) -> str:
        o = self._orders
        quantity = notes.quantity if notes and notes.quantity else "dc_voltage"
        verb, place = (BROUGHT_OUT.findall(o.text) or [("Move", "")])[-1]
        by = next(by for by, (said, _) in BRINGING_OUT.items() if said == verb)
        moves = self._engine.moves(place, o.red or "", o.black, quantity, o.state, by=by)
        return "moved" if moves else "steady"

    def _call_out(self, notes: StepNotes | None) -> str:
        quantity = notes.quantity if notes and notes.quantity else "dc_voltage"
        if not self._can_reach(notes):
            return "cannot"
        true = self._engine.true_value(
            self._orders.red or "", self._orders.black, quantity, self._orders.state, hold=notes.hold if notes else None
        )
        shown = self._meter.shows(quantity, true, gain=self._gain, offset=self._offset)
        if shown == OVER or shown == -OVER:
            self._called = "over range" if quantity != "resistance" else "open"
            return self._called
        face = self._meter.face(quantity, shown)
        self._called = speak_value(face.value, face.unit, decimals=face.decimals)
        return self._called

    def _reply_to_question(self, want: str, notes: StepNotes | None) -> str | None:
        if want == "codes":
            return " ".join(speak_code(code).lower() for code in self._engine.codes()) or "none"
        if want == "initials":
            return " ".join(self._habits.initials)
        if want == "choice" and notes is not None:
            for wish in (self._habits.complaint, self._habits.warmth):
                if wish in notes.choices:
                    return wish
            return notes.choices[0].replace("_", " ")
        if want == "yes_no":
            return "affirm" if self._can_reach(notes) else "no"
        return "affirm"
