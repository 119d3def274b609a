"""The wires of a schematic: rows between two columns of places, splices, clamps and what hangs on a terminal."""

from collections.abc import Iterator, Sequence

from runner.schematic.pieces import RAILS, Net, Piece
from runner.schematic.rows import BARE, LEFT, RIGHT, Foot, Row, rows_of
from runner.schematic.sheet import (
    BARS,
    BOX,
    EDGE,
    GAP,
    INSIDE,
    JUST_IN,
    LETTER,
    PITCH,
    TERMINAL,
    Dot,
    Label,
    Sheet,
)
from runner.schematic.symbols import Stroke


class Wiring:
    """One circuit being laid out: its wires."""

    def __init__(self, net: Net, *, wanted: Sequence[str] = ()) -> None:
        """wanted: points that a flow reads; those on no wire are listed below the drawing."""
        self.net, self.wanted = net, wanted
        self.sheet = Sheet()
        self.rows = rows_of(net)
        self.at: dict[str, tuple[str, float]] = {}  # node behind a terminal -> side and height
        self._used: set[Piece] = set()
        self._lanes: dict[str, list[tuple[float, float, int]]] = {LEFT: [], RIGHT: []}
        self._y = 6.0

    def wires(self) -> None:
        """Put down every wire with its ends, and the boxes of the places they end at."""
        heights = self._heights()
        self._boxes(heights)
        for row, y in zip(self.rows, heights, strict=True):
            self._row(row, y)
        self._splices(heights)

    # -- rows ---------------------------------------------------------------------------------------------------

    def _heights(self) -> list[float]:
        heights: list[float] = []
        before: Row | None = None
        for row in self.rows:
            begins = before is None or any(
                (foot := row.foot(side))
                and foot.place != getattr(before.foot(side), "place", None)
                and not self._open(side, foot.place, heights)
                for side in (LEFT, RIGHT)
            )
            self._y += (PITCH if heights else PITCH / 2) + (GAP if begins else 0)
            heights.append(self._y)
            before = row
            self._y += self._long_stub_room(row)
        self._y += PITCH / 2
        return heights

    def _open(self, side: str, place: str, heights: Sequence[float]) -> bool:
        """Whether the box of this place already stands, with nothing else of its side in between."""
        for row in reversed(self.rows[: len(heights)]):
            if foot := row.foot(side):
                return foot.place == place
        return False

    def _long_stub_room(self, row: Row) -> float:
        """Height for a chain too long to stand beside its wire."""
        feet = [foot for foot in (row.left, row.right) if foot]
        return PITCH + 12 if any(self._is_long(self._path(foot.inside)) for foot in feet) else 0.0

    def _segments(self, heights: Sequence[float]) -> Iterator[tuple[str, str, float, float]]:
        """side, place, top and bottom of each box."""
        for side in (LEFT, RIGHT):
            current: list[tuple[str, float]] = []
            for row, y in zip(self.rows, heights, strict=True):
                foot = row.foot(side)
                if foot is None:
                    continue
                if current and current[-1][0] != foot.place:
                    yield side, current[0][0], current[0][1], current[-1][1]
                    current = []
                current.append((foot.place, y))
            if current:
                yield side, current[0][0], current[0][1], current[-1][1]

    def _boxes(self, heights: Sequence[float]) -> None:
        for side, place, top, bottom in self._segments(heights):
            if place not in self.net.sheet.places or place == BARE:
                continue
            self.sheet.strokes.append(Stroke("box", (BOX[side], top - 17), (EDGE[side], bottom + 17)))
            anchor = "start" if side == LEFT else "end"
            self.sheet.labels.append(Label(EDGE[side], top - 23, self._place(place), "place", anchor))

    def _place(self, place: str) -> str:
        return self.net.sheet.places[place].spoken

    def _row(self, row: Row, y: float) -> None:
        start = TERMINAL[LEFT] if row.left else BARS[0]
        end = TERMINAL[RIGHT] if row.right else BARS[-1]
        if row.joint:
            bar = self._bar(row.joint)
            start, end = (start if row.left else bar), (end if row.right else bar)
        self.sheet.line((start, y), (end, y))
        for side in (LEFT, RIGHT):
            if foot := row.foot(side):
                self._foot(foot, side, y)
        self._wire_labels(row, y, start, end)
        self._clamp(row, y)
        self._taps(row, y)

    def _foot(self, foot: Foot, side: str, y: float) -> None:
        x, inner = TERMINAL[side], self._inner(side, foot.inside)
        known = self.net.sheet.points
        if foot.place == BARE:
            way, anchor = (14, "start") if side == RIGHT else (-11, "end")
            self.sheet.strokes.append(Stroke("ground", (x, y), (x, y)))
            self.sheet.labels.append(Label(x + way, y + 4, "engine block", "part", anchor))
            return
        if foot.terminal in known:
            self.sheet.dots.append(Dot(foot.terminal, x, y))
        self.sheet.line((x, y), (inner, y))
        if foot.inside in known and foot.inside != foot.terminal:
            self.sheet.dots.append(Dot(foot.inside, inner, y))
        self.at.setdefault(foot.inside, (side, y))

    def _inner(self, side: str, node: str) -> float:
        """How far in the wire comes: further where the device's own pin is a probe point."""
        return (INSIDE if node in self.net.sheet.points else JUST_IN)[side]

    def _wire_labels(self, row: Row, y: float, start: float, end: float) -> None:
        """Name above and colour below each wire of the row, in the part of it that is free."""
        if len(row.runs) == 2:  # a splice in the middle
            middle = (start + end) / 2
            self.sheet.joints.append((middle, y))
            spans = [(start, middle, "start"), (middle, end, "end")]
            for run, span in zip(row.runs, spans, strict=True):
                self._wire(run.wire, y, span)
            return
        side_by_side = bool(row.joint) and not row.is_trunk
        if side_by_side:
            self._wire(row.runs[0].wire, y, (BARS[-1], end, "end"))
        else:
            crossed = self._has_bars and not row.joint
            self._wire(row.runs[0].wire, y, (start, BARS[0] if crossed or row.joint else end, "start"))

    def _wire(self, wire: str, y: float, span: tuple[float, float, str]) -> None:
        start, end, anchor = span
        x = start + 10 if anchor == "start" else end - 10
        room = end - start - 12
        name, colour = wire.replace("-", " "), self.net.sheet.wires[wire].colour
        self.sheet.labels.append(Label(x, y - 6, name, "wire", anchor))
        beside_bar = anchor == "end" and self._has_bars
        if len(colour) * LETTER * 11 <= room and not beside_bar:
            self.sheet.labels.append(Label(x, y + 14, colour, "colour", anchor))

    def _clamp(self, row: Row, y: float) -> None:
        for gauge, wire in self.net.clamps.items():
            if wire in [run.wire for run in row.runs]:
                self.sheet.dots.append(Dot(gauge, 232.0, y))
                self.sheet.labels.append(Label(232.0, y - 12, "clamp", "part", "middle"))

    def _taps(self, row: Row, y: float) -> None:
        """Points that hang on a terminal by a wire of their own."""
        for piece in self.net.pieces:
            for foot in (row.left, row.right):
                if foot and foot.terminal != foot.inside and foot.terminal in (piece.a, piece.b):
                    other = piece.b if piece.a == foot.terminal else piece.a
                    if other in self.net.points:
                        self._used.add(piece)
                        self.sheet.line((254.0, y), (254.0, y - 17))
                        self.sheet.joints.append((254.0, y))
                        self.sheet.dots.append(Dot(other, 254.0, y - 17))
                        self.sheet.labels.append(Label(244.0, y - 14, _words(other), "part", "end"))

    # -- splices ------------------------------------------------------------------------------------------------

    @property
    def _has_bars(self) -> bool:
        return any(row.is_trunk for row in self.rows)

    def _bar(self, joint: str) -> float:
        trunks = [row.joint for row in self.rows if row.is_trunk]
        return BARS[trunks.index(joint)] if joint in trunks else (TERMINAL[LEFT] + TERMINAL[RIGHT]) / 2

    def _splices(self, heights: Sequence[float]) -> None:
        for joint in dict.fromkeys(row.joint for row in self.rows if row.is_trunk):
            x = self._bar(joint)
            own = [y for row, y in zip(self.rows, heights, strict=True) if row.joint == joint]
            self.sheet.line((x, min(own)), (x, max(own)))
            self.sheet.joints.extend((x, y) for y in own if y not in (min(own), max(own)))

    # -- the way to a rail ------------------------------------------------------------------------------------------

    def _path(self, node: str) -> list[tuple[Piece, str]]:
        """Pieces from a node to a rail, each with the node it leads to; empty when there is no way."""
        best: list[tuple[Piece, str]] = []
        for piece in sorted(self.net.pieces, key=lambda p: p.kind == "line"):
            if node not in (piece.a, piece.b) or piece in self._used:
                continue
            other = piece.b if node == piece.a else piece.a
            if other in RAILS:
                return [(piece, other)]
            if other in self.net.sheet.points and other not in self.at:
                self._used.add(piece)
                rest = self._path(other)
                self._used.remove(piece)
                if rest and not best:
                    best = [(piece, other), *rest]
        return best

    @staticmethod
    def _is_long(path: Sequence[tuple[Piece, str]]) -> bool:
        return sum(piece.kind != "line" for piece, _ in path) > 1


def _words(point: str) -> str:
    return point.replace(".", " ").replace("_", " ")
