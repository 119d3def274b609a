"""What a schematic is put down on: measures in pixels, points, words and strokes. Made for a phone: 400 across."""

from dataclasses import dataclass, field
from itertools import pairwise

from runner.schematic.rows import LEFT, RIGHT
from runner.schematic.symbols import Stroke

WIDTH = 400
PITCH = 44  # between two wires
GAP = 22  # more where a place begins, for its name
LISTED = 30  # between two lines of what is no wire
EDGE = {LEFT: 4.0, RIGHT: 396.0}
BOX = {LEFT: 70.0, RIGHT: 298.0}  # inner edge of a place's box
TERMINAL = {LEFT: 82.0, RIGHT: 286.0}
INSIDE = {LEFT: 58.0, RIGHT: 311.0}  # where a device's own pin can be probed too
JUST_IN = {LEFT: 68.0, RIGHT: 300.0}  # where it cannot
LANES = {LEFT: (18.0, 34.0, 48.0), RIGHT: (327.0, 362.0, 384.0)}
BESIDE = {"motor": 18.0, "switch": 15.0}  # from the middle of an upright symbol to its name, else:
NEAR = 10.0
BARS = (184.0, 194.0)  # of splices
POINT = 5.0  # radius
LETTER = 0.5  # width of a letter, share of its size, on average


@dataclass(frozen=True)
class Dot:
    """A probe point."""

    name: str
    x: float
    y: float


@dataclass(frozen=True)
class Label:
    """Words; y is their base line. kind: wire, colour, place, part or note."""

    x: float
    y: float
    text: str
    kind: str
    anchor: str = "start"


@dataclass
class Sheet:
    """What has been put down so far."""

    strokes: list[Stroke] = field(default_factory=list)
    dots: list[Dot] = field(default_factory=list)
    labels: list[Label] = field(default_factory=list)
    joints: list[tuple[float, float]] = field(default_factory=list)
    height: float = 0.0
    wired: float = 0.0  # height without what is listed below

    def line(self, *corners: tuple[float, float]) -> None:
        for start, end in pairwise(corners):
            if start != end:
                self.strokes.append(Stroke("line", start, end))

    def has(self, name: str) -> bool:
        return any(dot.name == name for dot in self.dots)
