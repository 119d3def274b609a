"""Where the time of a session went: the tool talking, the person working, nobody needed. Pure.

A question is spoken, then the ears are open: until they open the tool talks, until the answer comes the person works,
silences between included. What is left open after a readback for an objection, a pause, and what the computer takes,
is waiting.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

Event = Mapping[str, Any]
_SPOKEN = ("asked", "said", "read_back")
_LISTENED = ("heard", "unheard")


@dataclass(frozen=True)
class StepTime:
    """Seconds a step took, over all times it was done; `step` is "" for what belongs to none."""

    step: str
    talking_s: float = 0.0
    working_s: float = 0.0
    waiting_s: float = 0.0

    @property
    def total_s(self) -> float:
        """All of it."""
        return self.talking_s + self.working_s + self.waiting_s

    def plus(self, other: "StepTime") -> "StepTime":
        """Both together, under this one's name."""
        return StepTime(
            self.step,
            self.talking_s + other.talking_s,
            self.working_s + other.working_s,
            self.waiting_s + other.waiting_s,
        )


def step_times(events: Iterable[Event]) -> tuple[StepTime, ...]:
    """Time of each step, in the order they were first asked; empty for a record that does not tell when ears opened."""
    events = list(events)
    if not any("listened_s" in event for event in events):
        return ()
    times: dict[str, StepTime] = {}
    for part in _parts(events):
        times[part.step] = times.get(part.step, StepTime(part.step)).plus(part)
    return tuple(each for each in times.values() if each.total_s > 0)


def in_all(times: Iterable[StepTime]) -> StepTime:
    """The whole session's."""
    whole = StepTime("")
    for each in times:
        whole = whole.plus(each)
    return whole


def _parts(events: list[Event]) -> Iterator[StepTime]:
    """The time before each event, as a part of its step."""
    step, paused, read_back = "", False, False
    for before, event in pairwise(events):
        kind = event.get("type")
        if before.get("type") == "asked":
            step = str(before.get("step") or step)
        paused = (paused or before.get("type") == "paused") and before.get("type") != "resumed"
        read_back = before.get("type") == "read_back" or (read_back and before.get("type") not in _SPOKEN)
        if kind == "resumed" and not paused:
            continue  # the session lay closed, and the computer may have been started anew since
        took_s = _seconds(before, event)
        if paused:
            yield StepTime(step, waiting_s=took_s)
        elif kind in _LISTENED:
            listened_s = min(took_s, _number(event.get("listened_s"), took_s))
            spoken = StepTime(step, talking_s=took_s - listened_s)
            free = read_back and kind == "unheard"
            yield spoken.plus(StepTime(step, waiting_s=listened_s) if free else StepTime(step, working_s=listened_s))
        elif before.get("type") in _SPOKEN:
            yield StepTime(step, talking_s=took_s)
        else:
            yield StepTime(step, waiting_s=took_s)


def _seconds(before: Event, event: Event) -> float:
    start, end = before.get("at_mono_s"), event.get("at_mono_s")
    return max(0.0, end - start) if isinstance(start, int | float) and isinstance(end, int | float) else 0.0


def _number(value: Any, otherwise: float) -> float:
    return float(value) if isinstance(value, int | float) else otherwise
