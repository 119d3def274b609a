"""The two state machines: the flow's (steps and outcomes) and the dialogue's (what the tool is doing right now)."""

import logging
from collections.abc import Iterable, Mapping

from transitions import Machine, MachineError

# Outcomes are triggered by name, never as methods, so a method that is not bound ("in", "cannot") is no news.
logging.getLogger("transitions.core").setLevel(logging.ERROR)

PHASES = ("idle", "speaking", "listening", "reading_back", "confirming", "paused", "done")

# What may follow what. A reading is read back before it can be confirmed, and nothing follows "done".
_PHASE_MOVES = (
    ("speak", ("idle", "speaking", "listening", "reading_back", "confirming", "paused"), "speaking"),
    ("listen", ("idle", "speaking", "listening", "paused"), "listening"),
    ("read_back", ("listening", "speaking", "confirming"), "reading_back"),
    ("confirm", ("reading_back", "confirming"), "confirming"),
    ("pause", ("speaking", "listening", "confirming", "idle"), "paused"),
    ("go_on", ("paused",), "idle"),
    ("finish", ("idle", "speaking", "listening", "reading_back", "confirming", "paused"), "done"),
)


class FlowMachine:
    """A flow as a flat machine: states are its steps and findings, events are outcomes.

    steps: step name -> {outcome: target}. ends: names that have no way out (the findings).
    Raises ValueError when a target is neither a step nor an end, before anything is built.
    """

    def __init__(self, steps: Mapping[str, Mapping[str, str]], ends: Iterable[str], *, at: str) -> None:
        known = {*steps, *ends}
        for name, outcomes in steps.items():
            for outcome, target in outcomes.items():
                if target not in known:
                    raise ValueError(f"step {name!r} sends {outcome!r} to {target!r}, which is no step and no finding")
        if at not in known:
            raise ValueError(f"cannot stand at {at!r}: no step or finding of this flow has that name")
        self.state = at
        self._machine = Machine(
            model=self,
            states=sorted(known),
            initial=at,
            auto_transitions=False,
            queued=True,
            send_event=True,
            model_override=True,
        )
        for name, outcomes in steps.items():
            for outcome, target in outcomes.items():
                self._machine.add_transition(outcome, name, target)

    def move(self, outcome: str) -> str:
        """Take the branch of this outcome; the step or finding now stood at.

        Raises ValueError when the present step has no such branch.
        """
        if outcome not in self._machine.get_triggers(self.state):
            raise ValueError(f"step {self.state!r} has no branch for outcome {outcome!r}")
        self._machine.events[outcome].trigger(self)
        return self.state

    def stand_at(self, name: str) -> None:
        """Go to a step without an outcome: a resumed session, or "go back"."""
        self._machine.set_state(name)


class DialogueMachine:
    """What the tool is doing right now; refuses an order the dialogue must never take."""

    def __init__(self) -> None:
        self.state = "idle"
        self._machine = Machine(
            model=self,
            states=list(PHASES),
            initial="idle",
            auto_transitions=False,
            queued=True,
            send_event=True,
            model_override=True,
        )
        for trigger, sources, target in _PHASE_MOVES:
            self._machine.add_transition(trigger, list(sources), target)

    def now(self, trigger: str) -> str:
        """Change phase. Raises transitions.MachineError when that must not follow the present phase."""
        self._machine.events[trigger].trigger(self)
        return self.state


__all__ = ["PHASES", "DialogueMachine", "FlowMachine", "MachineError"]
