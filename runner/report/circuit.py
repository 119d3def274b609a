"""The circuit of a session as a schematic, with the probes of a check on it; none where its files are no longer those."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from flows.circuits import CIRCUITS
from flows.model import FlowError
from flows.source import load_flow, load_sheet
from runner.report.story import Event, Visit
from runner.schematic import Schematic, schematic_of
from runner.schematic.schematic import points_read

PASSED = ("in", "recorded", "answered", "done", "")
CIRCUIT = "circuit"  # id of the drawing that every picture of the page uses


@dataclass(frozen=True)
class Picture:
    """A schematic for one check. marks: the probes, as SVG that needs no escaping. words: where they are."""

    viewbox: str
    marks: str
    words: str


@dataclass(frozen=True)
class Circuit:
    """The session's circuit, drawn once a page."""

    schematic: Schematic

    @property
    def drawing(self) -> str:
        """SVG that needs no escaping."""
        return f'<g id="{CIRCUIT}" font-family="system-ui, sans-serif">{self.schematic.drawing()}</g>'

    def picture(self, measured: Event) -> Picture | None:
        """The probes of a reading on the circuit, or None where it was taken at no point that is drawn."""
        red, black = (_text(measured.get(f"place_{colour}")) for colour in ("red", "black"))
        found = [name for name in (red, black) if name in self.schematic.points]
        if not found:
            return None
        marks = self.schematic.marks(red=red, black=black)
        named = ((colour, self.schematic.titles.get(name or "")) for colour, name in (("Red", red), ("black", black)))
        words = "; ".join(f"{colour} on {title}" for colour, title in named if title)
        return Picture(self.schematic.viewbox_for(red, black), marks, words)


def circuit_of(opened: Mapping[str, Any]) -> Circuit | None:
    """The circuit that a session was opened on. None when its sheet is gone or is no longer the one it was judged by."""
    named = [opened.get(key) for key in ("machine_file", "flow", "sheet_hash")]
    if not all(isinstance(each, str) and each for each in named):
        return None
    return _circuit(*map(str, named))


@lru_cache(maxsize=64)
def _circuit(machine: str, flow_name: str, sheet_hash: str) -> Circuit | None:
    try:
        sheet = load_sheet(machine)
        flow = load_flow(flow_name, sheet)
    except (FlowError, OSError):
        return None
    same = hashlib.sha256(sheet.model_dump_json().encode()).hexdigest() == sheet_hash
    if not same or flow.circuit not in CIRCUITS:
        return None
    return Circuit(schematic_of(CIRCUITS[flow.circuit](sheet), wanted=points_read(flow)))


def decided(visit: Visit, found: Event | None) -> bool:
    """Whether a check turned the flow: its reading did not pass, or it led to the finding."""
    if visit.measured is None or visit.undone:
        return False
    to = (visit.branched or {}).get("to")
    return visit.outcome not in PASSED or (found is not None and to is not None and to == found.get("finding"))


def _text(value: Any) -> str | None:
    return str(value) if value else None
