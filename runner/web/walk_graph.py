"""A session's walk on its flow's graph: the branches taken, and beside each step those that were not. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from runner.report.story import OUTCOME_WORDS, Story, title_of
from runner.trial.layout import Drawing, draw

RANK_HEIGHT = 72.0
BOX_HEIGHT = 34.0
LETTER = 6.4  # width of one at the drawing's size
LONGEST = 26  # letters of a box
MARGIN = 14.0
BESIDE = "\n"  # between a step not gone to and the one it was beside

Table = Mapping[str, Mapping[str, str]]  # step -> outcome -> where it leads
Edge = tuple[str, str]


@dataclass(frozen=True)
class Box:
    """A step or a finding. anchor: its place on the page, "" when it was not gone to."""

    x: float
    y: float
    width: float
    lines: tuple[str, ...]
    walked: bool
    finding: bool
    anchor: str
    title: str


@dataclass(frozen=True)
class Way:
    """A branch, taken or not."""

    path: str
    taken: bool
    words: str
    title: str
    x: float
    y: float


@dataclass(frozen=True)
class Graph:
    """All that the drawing needs."""

    width: float
    height: float
    boxes: tuple[Box, ...]
    ways: tuple[Way, ...]


def graph_of(story: Story, table: Table, findings: Mapping[str, str]) -> Graph | None:
    """The walk of the job's own phase. findings: name -> what is said of it. None when nothing was decided yet."""
    walked = [
        (visit.step, str(visit.branched["outcome"]), str(visit.branched["to"]), visit.anchor)
        for visit in story.visits
        if visit.phase == "job" and visit.branched is not None and not visit.undone
    ]
    if not walked:
        return None
    anchors = {step: anchor for step, _outcome, _to, anchor in walked}
    taken: dict[Edge, list[str]] = {}
    for step, outcome, to, _anchor in walked:
        taken.setdefault((step, to), []).append(outcome)
    gone = {*anchors, *(to for _step, to in taken)}
    untaken: dict[Edge, list[str]] = {}
    for step in anchors:
        for outcome, to in table.get(step, {}).items():
            if (step, to) not in taken:
                box = to if to in gone else f"{to}{BESIDE}{step}"
                untaken.setdefault((step, box), []).append(outcome)
    joined = _joined(walked, untaken)
    edges = [*dict.fromkeys((joined.get(a, a), joined.get(b, b)) for a, b in (*taken, *untaken))]
    edges = [edge for edge in edges if edge[0] != edge[1]]
    names = {name for edge in edges for name in edge}
    labels = {name: _label(name, joined) for name in names}
    widths = {name: max(map(len, lines)) * LETTER + 14 for name, lines in labels.items()}
    drawing = draw(joined.get(walked[0][0], walked[0][0]), edges, widths)
    boxes = tuple(
        Box(
            x=drawing.x[name] + MARGIN,
            y=_y(drawing.rank[name]),
            width=widths[name],
            lines=labels[name],
            walked=BESIDE not in name,
            finding=name.partition(BESIDE)[0] in findings,
            anchor=anchors.get(name.split("\t")[0], ""),
            title=findings.get(
                name.partition(BESIDE)[0], ", ".join(map(title_of, name.partition(BESIDE)[0].split("\t")))
            ),
        )
        for name in drawing.rank
    )
    ways = tuple(
        _way(a, b, outcomes, drawing, taken=bool(is_taken))
        for group, is_taken in ((untaken, 0), (taken, 1))
        for (a, b), outcomes in _merged(group, joined).items()
        if (a, b) in drawing.lines
    )
    return Graph(drawing.width + 2 * MARGIN, drawing.ranks * RANK_HEIGHT + 2 * MARGIN - 30, boxes, ways)


def _joined(walked: Sequence[tuple[str, str, str, str]], untaken: Mapping[Edge, Sequence[str]]) -> dict[str, str]:
    """Steps that only follow each other, with nothing branching off or coming in, become one box."""
    branching = {a for a, _b in untaken} | {b for _a, b in untaken}
    into: dict[str, set[str]] = {}
    out: dict[str, set[str]] = {}
    for step, _outcome, to, _anchor in walked:
        into.setdefault(to, set()).add(step)
        out.setdefault(step, set()).add(to)
    name: dict[str, str] = {}
    chain: list[str] = []
    ends = [*dict.fromkeys(step for step, *_rest in walked)]
    for step, following in pairwise([*ends, ""]):
        chain.append(step)
        plain = (
            step not in branching
            and out.get(step) == {following}
            and following not in {b for _a, b in untaken}
            and into.get(following) == {step}
            and following in out
        )
        if not plain:
            name |= dict.fromkeys(chain, "\t".join(chain)) if len(chain) > 1 else {}
            chain = []
    return name


def _merged(group: Mapping[Edge, Sequence[str]], joined: Mapping[str, str]) -> dict[Edge, list[str]]:
    made: dict[Edge, list[str]] = {}
    for (a, b), outcomes in group.items():
        edge = (joined.get(a, a), joined.get(b, b))
        if edge[0] != edge[1]:
            made.setdefault(edge, []).extend(outcomes)
    return made


def _label(name: str, joined: Mapping[str, str]) -> tuple[str, ...]:
    steps = name.partition(BESIDE)[0].split("\t")
    if len(steps) > 1:
        return (f"{_short(steps[0])} …", _short(steps[-1]))
    part, slash, step = steps[0].rpartition("/")
    return (_short(part), _short(step)) if slash else (_short(steps[0]),)


def _short(words: str) -> str:
    words = words.replace("-", " ").replace("_", " ")
    return words if len(words) <= LONGEST else words[: LONGEST - 1] + "…"


def _y(rank: float) -> float:
    return MARGIN + BOX_HEIGHT / 2 + rank * RANK_HEIGHT


def _way(a: str, b: str, outcomes: Sequence[str], drawing: Drawing, *, taken: bool) -> Way:
    points = drawing.lines[a, b]
    down = -1 if (a, b) in drawing.backwards else 1
    at = [(x + MARGIN, _y(rank)) for x, rank in points]
    at[0] = (at[0][0], at[0][1] + down * BOX_HEIGHT / 2)
    at[-1] = (at[-1][0], at[-1][1] - down * (BOX_HEIGHT / 2 + 3))
    path = [f"M{at[0][0]:.1f} {at[0][1]:.1f}"]
    for (x0, y0), (x1, y1) in pairwise(at):
        middle = (y0 + y1) / 2
        path.append(f"C{x0:.1f} {middle:.1f} {x1:.1f} {middle:.1f} {x1:.1f} {y1:.1f}")
    (x0, y0), (x1, y1) = at[0], at[1]
    told = list(dict.fromkeys(OUTCOME_WORDS.get(each, each.replace("_", " ")) for each in outcomes))
    words = told[0] + (f" +{len(told) - 1}" if len(told) > 1 else "")  # the rest is in the title
    return Way("".join(path), taken, words, ", ".join(told), x0 + 0.62 * (x1 - x0), y0 + 0.62 * (y1 - y0) + 3)
