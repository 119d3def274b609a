"""A circuit laid out: parts between and behind its wires, the battery, and below it what is no wire."""

from collections.abc import Sequence

from runner.schematic.pieces import BLOCK, FIXED, MINUS, PLUS, RAILS, Chip, Piece
from runner.schematic.rows import LEFT, RIGHT
from runner.schematic.sheet import BESIDE, EDGE, JUST_IN, LANES, LISTED, NEAR, PITCH, Dot, Label, Sheet
from runner.schematic.symbols import Stroke
from runner.schematic.wiring import Wiring


class Layout(Wiring):
    """One circuit being laid out."""

    def laid_out(self) -> Sheet:
        """Everything of the circuit."""
        self.wires()
        for chip in self.net.chips:
            self._chip(chip)
        self._between()
        for node in list(self.at):
            self._stub(node)
        self._chains()
        self._battery()
        self.sheet.wired = self._y
        self._listed()
        self.sheet.height = self._y
        return self.sheet

    # -- parts --------------------------------------------------------------------------------------------------

    def _lane(self, side: str, top: float, bottom: float) -> float:
        """The first lane that is free over this height."""
        taken = {lane for start, end, lane in self._lanes[side] if start < bottom and top < end}
        number = next(n for n in range(len(LANES[side])) if n not in taken)
        self._lanes[side].append((top, bottom, number))
        return LANES[side][number]

    def _chip(self, chip: Chip) -> None:
        feet = [self.at[node] for node in chip.nodes if node in self.at]
        if len(feet) < 2:
            return
        side = feet[0][0]
        heights = [y for _, y in feet]
        top, bottom = min(heights), max(heights)
        lane = self._lane(side, top + 1, bottom - 1)
        inner = self._inner(side, chip.nodes[0])
        if chip.kind == "track":
            lane += 9.0  # room for the wiper's arrow
            (_, upper), (_, wiper), (_, lower) = feet
            self.sheet.line((inner, upper), (lane, upper))
            self.sheet.line((inner, lower), (lane, lower))
            self.sheet.strokes.append(Stroke("resistor", (lane, upper), (lane, lower)))
            self.sheet.strokes.append(Stroke("arrow", (inner, wiper), (lane - 6, wiper)))
            self._part_label(chip.name, lane + NEAR, (upper + lower) / 2)
            return
        edge = lane - 4 if side == RIGHT else lane + 36
        for y in heights:
            self.sheet.line((inner, y), (edge, y))
        far = edge + 52 if side == RIGHT else edge - 52
        self.sheet.strokes.append(Stroke("box", (edge, top - 6), (far, bottom + 6)))
        for number, word in enumerate(chip.name.split()):
            y = (top + bottom) / 2 + 4 + 13 * (number - (len(chip.name.split()) - 1) / 2)
            self.sheet.labels.append(Label((edge + far) / 2, y, word, "part", "middle"))

    def _part_label(self, name: str, x: float, y: float) -> None:
        """Beside a part that stands upright, one word a line."""
        words = name.split()
        for number, word in enumerate(words):
            at = y + 4 + 13 * (number - (len(words) - 1) / 2)
            self.sheet.labels.append(Label(x, at, word, "part"))

    def _between(self) -> None:
        """Parts between two wires of one side stand upright."""
        for piece in self.net.pieces:
            ends = [self.at.get(piece.a), self.at.get(piece.b)]
            if piece.kind == "line" or None in ends:
                continue
            (side, one), (other_side, two) = sorted((end for end in ends if end), key=lambda end: end[1])
            if side != other_side:
                continue
            self._used.add(piece)
            lane = self._lane(side, one, two)
            self.sheet.line((JUST_IN[side], one), (lane, one))
            self.sheet.line((JUST_IN[side], two), (lane, two))
            self.sheet.strokes.append(Stroke(piece.kind, (lane, one), (lane, two)))
            self._part_label(piece.name, lane + BESIDE.get(piece.kind, NEAR), (one + two) / 2)

    def _stub(self, node: str) -> None:
        """What leads from a wire's end to battery, ground or five volts, straight outwards."""
        path = [] if node in RAILS else self._path(node)
        through = any(other in self.net.sheet.points for _, other in path[:-1])
        stands = any(node in (piece.a, piece.b) and piece.kind != "line" for piece in self._used)
        if not path or (stands and not through):
            return
        side, y = self.at[node]
        if self._is_long(path):
            self._long(path, side, y)
            return
        way = 1.0 if side == RIGHT else -1.0
        x = self._inner(side, node)
        for piece, other in path:
            self._used.add(piece)
            step = 38.0
            if piece.kind in ("line", "regulator"):
                step = 4.0 if other in RAILS else 16.0
                self.sheet.line((x, y), (x + way * step, y))
            else:
                self.sheet.strokes.append(Stroke(piece.kind, (x, y), (x + way * step, y)))
            x += way * step
            if other in self.net.sheet.points and other not in RAILS:
                self.sheet.dots.append(Dot(other, x, y))
        self._rail(path[-1][1], x, y, way)

    def _rail(self, node: str, x: float, y: float, way: float) -> None:
        kind = RAILS[node]
        end = x + way * 4
        self.sheet.line((x, y), (end, y))
        if kind in ("ground", "earth"):
            self.sheet.strokes.append(Stroke("ground", (end, y), (end, y)))
            return
        words = {"plus": "B+", "minus": "B−", "five": "5 V"}[kind]
        self.sheet.labels.append(Label(end + way * 2, y + 4, words, "part", "start" if way > 0 else "end"))

    def _long(self, path: Sequence[tuple[Piece, str]], side: str, y: float) -> None:
        """A chain of several parts: down at the edge, then back along a line of its own below the wire."""
        below = y + PITCH
        x, way = (384.0, -1.0) if side == RIGHT else (16.0, 1.0)
        self.sheet.line((JUST_IN[side], y), (x, y), (x, below), (x + way * 6, below))
        self._along(path, x + way * 6, below, way=way, room=86.0)

    def _along(self, path: Sequence[tuple[Piece, str]], x: float, y: float, *, way: float, room: float) -> None:
        for piece, other in path:
            self._used.add(piece)
            step = 14.0 if piece.kind == "line" else room
            if piece.kind == "line":
                self.sheet.line((x, y), (x + way * step, y))
            else:
                self.sheet.strokes.append(Stroke(piece.kind, (x, y), (x + way * step, y)))
                self.sheet.labels.append(Label(x + way * step / 2, y + 27, piece.name, "part", "middle"))
            x += way * step
            if other in self.net.sheet.points and other not in FIXED:
                self.sheet.dots.append(Dot(other, x, y))
        self._rail(path[-1][1], x, y, way)

    # -- chains from the battery that no wire of this circuit begins ------------------------------------------------

    def _chains(self) -> None:
        for piece in self.net.pieces:
            if piece in self._used or PLUS not in (piece.a, piece.b):
                continue
            first = piece.b if piece.a == PLUS else piece.a
            if first not in self.net.points or self.sheet.has(first):
                continue
            self._used.add(piece)
            path = self._path(first)
            if not path:
                continue
            y = self._y + PITCH / 2
            self.sheet.labels.append(Label(14, y + 4, "B+", "part"))
            self.sheet.line((34, y), (90, y))
            self.sheet.dots.append(Dot(first, 90, y))
            self._along(path, 90, y, way=1.0, room=100.0)
            self._y = y + PITCH / 2 + 4

    # -- below ----------------------------------------------------------------------------------------------------

    def _battery(self) -> None:
        y = self._y + 34
        known = self.net.sheet.points
        self.sheet.labels.append(Label(EDGE[LEFT], y - 18, "battery", "place"))
        self.sheet.line((26, y), (40, y))
        self.sheet.strokes.append(Stroke("battery", (40, y), (96, y)))
        # where the cable is a wire of the circuit, it is drawn up there, with its ends
        own_cable = any(run.wire == "engine-cable" for run in self.net.runs)
        self.sheet.line((96, y), (112 if own_cable else 286, y))
        self.sheet.line((286, y), (330, y), (330, y + 6))
        self.sheet.strokes.append(Stroke("ground", (330, y + 6), (330, y + 6)))
        for name, x, words in ((PLUS, 26.0, "B+"), (MINUS, 112.0, "B−"), (BLOCK, 286.0, "engine block")):
            if name in known:
                self.sheet.dots.append(Dot(name, x, y))
            self.sheet.labels.append(Label(x, y + 22, words, "part", "middle"))
        if not own_cable:
            self.sheet.labels.append(Label(199, y - 6, "ground cable", "wire", "middle"))
        self._y = y + 34

    def _listed(self) -> None:
        """Displays, thermometers, the other probe tip, and anything else that a flow reads and no wire has."""
        known = self.net.sheet.points
        rest = [name for name in dict.fromkeys(self.wanted) if name in known and not self.sheet.has(name)]
        for name in rest:
            self._y += LISTED
            self.sheet.dots.append(Dot(name, 14, self._y - 14))
            words = known[name].short if known[name].kind == "metal" else known[name].short.partition(",")[0]
            self.sheet.labels.append(Label(30, self._y - 10, words, "note"))
        self._y += 6
