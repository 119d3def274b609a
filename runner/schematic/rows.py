"""Which wire is drawn in which row, and which place stands at which side."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby, permutations

from flows.network.description import Run
from runner.schematic.pieces import RAILS, Chip, Net, Piece

LEFT, RIGHT = "left", "right"
BARE = "engine"  # metal that a wire may end on at either side, as often as it likes
MANY = 7  # more rows than this are not put into every order to find the best


@dataclass(frozen=True)
class Foot:
    """Where a wire ends in a row: the terminal that is probed, and the node behind it."""

    place: str
    terminal: str
    inside: str


@dataclass(frozen=True)
class Row:
    """One line of the drawing from left to right. A splice ends it in the middle: `joint` is its node."""

    runs: tuple[Run, ...]
    left: Foot | None
    right: Foot | None
    joint: str = ""

    def foot(self, side: str) -> Foot | None:
        return self.left if side == LEFT else self.right

    @property
    def is_trunk(self) -> bool:
        return bool(self.joint) and self.right is None


def rows_of(net: Net) -> tuple[Row, ...]:
    """Rows from the top, those of one place together."""
    sides = _sides(net.runs)
    branches: dict[str, int] = {}
    for run in net.runs:
        for joint in _joints(run):
            branches[joint] = branches.get(joint, 0) + 1
    rows = list(_merged([_row(run, sides) for run in net.runs], branches))
    ends = [row for row in rows if row.is_trunk]
    middle = _in_order([row for row in rows if not row.is_trunk], net)
    top = [row for row in ends if row.runs[0].role != "ground"]
    return (*top, *middle, *(row for row in ends if row not in top))


def _joints(run: Run) -> Iterator[str]:
    yield from (end.inside for end in run.ends if end.place == "splice")


def _row(run: Run, sides: Mapping[str, str]) -> Row:
    feet = {
        sides[end.place]: Foot(end.place, run.node(number), end.inside)
        for number, end in enumerate(run.ends)
        if end.place not in ("splice", BARE)
    }
    for number, end in enumerate(run.ends):
        if end.place == BARE:
            feet[RIGHT if LEFT in feet else LEFT] = Foot(BARE, run.node(number), end.inside)
    return Row((run,), feet.get(LEFT), feet.get(RIGHT), next(_joints(run), ""))


def _merged(rows: Sequence[Row], branches: Mapping[str, int]) -> Iterator[Row]:
    """Two wires that alone meet in a splice make one row."""
    for row in rows:
        if not row.joint or branches[row.joint] != 2:
            yield row
        elif row.is_trunk:
            other = next(each for each in rows if each.joint == row.joint and each is not row)
            yield Row((*row.runs, *other.runs), row.left, other.right, row.joint)


def _sides(runs: Sequence[Run]) -> dict[str, str]:
    """Left or right for each place, so that every wire crosses: the control unit left, else devices right."""
    ends = [tuple(end.place for end in run.ends) for run in runs if not list(_joints(run))]
    pairs = [places for places in ends if BARE not in places]
    joined = [end for places in ends if BARE in places for end in places if end != BARE]
    joined += [end.place for run in runs if list(_joints(run)) for end in run.ends if end.place != "splice"]
    sides: dict[str, str] = {}
    for first in dict.fromkeys(place for pair in pairs for place in pair):
        if first in sides:
            continue
        part = _coloured(first, pairs)
        devices = sum(1 if part[first_end] == RIGHT else -1 for first_end, _ in ends if first_end in part)
        wrong = part["unit"] == RIGHT if "unit" in part else devices < 0
        sides |= {place: _other(side) for place, side in part.items()} if wrong else part
    return {place: LEFT if place == "unit" else RIGHT for place in joined} | sides


def _coloured(first: str, pairs: Sequence[Sequence[str]]) -> dict[str, str]:
    part, todo = {first: RIGHT}, [first]
    while todo:
        place = todo.pop()
        for pair in pairs:
            if place in pair:
                other = pair[1] if pair[0] == place else pair[0]
                if other not in part:
                    part[other] = _other(part[place])
                    todo.append(other)
    return part


def _other(side: str) -> str:
    return LEFT if side == RIGHT else RIGHT


def _in_order(rows: list[Row], net: Net) -> list[Row]:
    """The order in which places stay whole and parts span the fewest rows; ties go to the description's order."""
    places = list(dict.fromkeys(row.right.place for row in rows if row.right))
    grouped = sorted(rows, key=lambda row: places.index(row.right.place) if row.right else -1)
    if len(rows) > MANY:
        return grouped
    return min(map(list, permutations(grouped)), key=lambda order: (_cost(order, net), _moved(order, grouped)))


def _cost(order: Sequence[Row], net: Net) -> int:
    split = 0
    for side in (LEFT, RIGHT):
        places = [foot.place if (foot := row.foot(side)) else "" for row in order]
        split += len([place for place, _ in groupby(places) if place not in ("", BARE)])
    at = {foot.inside: number for number, row in enumerate(order) for foot in (row.left, row.right) if foot}
    parts: list[Piece | Chip] = [*net.pieces, *net.chips]
    spans = 0
    for part in parts:
        nodes = part.nodes if isinstance(part, Chip) else (part.a, part.b)
        found = [at[node] for node in nodes if node in at and node not in RAILS]
        spans += max(found) - min(found) if len(found) > 1 else 0
    return 3 * split + spans


def _moved(order: Sequence[Row], grouped: Sequence[Row]) -> int:
    return sum(abs(number - grouped.index(row)) for number, row in enumerate(order))
