"""What stands where while a job is done, and one breath of what is to be done to it."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

from flows.model import DEFAULT_STATE

Reply = Literal["set", "clear", "reading", "movement"]

RUNNING = ("idle", "fast")
MOVED = ("out", "pulled", "bridged", "off", "fitted")  # positions of a bench item that must be put right


@dataclass(frozen=True)
class Bench:
    """What stands where: the state of the engine's circuit, the probes and the meter."""

    state: Mapping[str, str] = field(default_factory=lambda: dict(DEFAULT_STATE))
    red: str | None = None
    black: str | None = None
    dial: str | None = None  # quantity (or range, "mV") the meter is turned to; None until it is known
    hold: str | None = None

    def out_of_place(self) -> tuple[str, ...]:
        """What is unplugged, fitted or pumped up, to be read back and put right."""
        names = {
            ("plug", "out"): "sensor plug is out",
            ("control_unit_plug", "out"): "control unit plug is out",
            ("vacuum", "on"): "hand pump is on the hose",
        }
        found = [text for (item, value), text in names.items() if self.state.get(item) == value]
        others = [item for item in self.state if item not in DEFAULT_STATE and self.state[item] in MOVED]
        found += [f"{item.replace('_', ' ')} is {self.state[item]}" for item in others]
        if self.state.get("jumper", "none") != "none":
            found.insert(0, "resistor is fitted")
        return tuple(found)

    def after(self, stage: "Stage") -> "Bench":
        """The bench once this stage is done."""
        state = {**self.state, **{k: v for k, v in stage.changes.items() if k not in ("dial", "hold")}}
        dial = stage.changes.get("dial", self.dial)
        hold = stage.changes.get("hold", self.hold)
        return replace(
            self, state=state, red=stage.red, black=stage.black, dial=dial, hold=None if hold == "none" else hold
        )


@dataclass(frozen=True)
class Stage:
    """One breath of the tool, and what the technician has done when it is answered."""

    say: str
    changes: Mapping[str, str]
    red: str | None
    black: str | None
    wait_s: float
    minutes: float
    reply: Reply
    full: str = ""  # with everything said as if for the first time; for "say again"
