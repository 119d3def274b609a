"""A flow as a drawn graph, its branches as broad and dark as they are often taken."""

import math
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from html import escape
from itertools import pairwise

from flows.trial.tally import verdict
from runner.trial.layout import Drawing, draw
from runner.trial.trialling import Trial

RANK_HEIGHT = 74.0
BOX_HEIGHT = 34.0
HALF_WINDOW = 520.0  # of a page's width, left of the start
WORD_ROOM = 58.0  # between the middles of two words
LETTER = 6.6  # width of one at the drawing's size
MARGIN = 16.0
MOST_INTO = 2  # lines that may meet in one end
CHAIN = "\t"  # between the names of steps drawn as one
COPY = "\n"  # between an end's name and the step it is drawn beside


@dataclass(frozen=True)
class Branch:
    """All outcomes that lead from one step to one target. box: the target's box, its own where many lead there."""

    source: str
    target: str
    outcomes: tuple[tuple[str, int], ...]  # with how often each was taken
    box: str = ""

    @property
    def taken(self) -> int:
        return sum(times for _, times in self.outcomes)


def branches_of(trial: Trial) -> list[Branch]:
    """Every branch of the flow with how often it was taken."""
    taken = trial.made.branches
    made: dict[tuple[str, str], list[tuple[str, int]]] = {}
    for name, step in trial.course.flow.steps.items():
        for outcome, target in step.outcomes.items():
            made.setdefault((name, target), []).append((outcome, taken.get((name, outcome), 0)))
    return [Branch(a, b, tuple(outcomes), b) for (a, b), outcomes in made.items()]


def never_taken(trial: Trial) -> Iterator[tuple[str, str, str]]:
    """Step, outcomes and target of branches that no walk took, of steps that some walk came by."""
    branches = branches_of(trial)
    visited = {branch.source for branch in branches if branch.taken}
    for branch in branches:
        idle = [outcome for outcome, times in branch.outcomes if not times]
        if idle and branch.source in visited:
            yield branch.source, ", ".join(idle), branch.target


def _spread(branches: list[Branch], findings: Mapping[str, object]) -> list[Branch]:
    """An end that many steps lead to gets a box beside each of them, so that no line crosses the whole drawing."""
    into = Counter(branch.target for branch in branches)
    many = {name for name, times in into.items() if name in findings and times > MOST_INTO}
    return [replace(b, box=f"{b.target}{COPY}{b.source}") if b.target in many else b for b in branches]


def _joined(branches: list[Branch], steps: Mapping[str, object]) -> list[Branch]:
    """Steps of one shared part that only follow each other become one box."""
    out, into = Counter(b.source for b in branches), Counter(b.box for b in branches)
    inner = {
        b.source: b.box
        for b in branches
        if out[b.source] == 1 and into[b.box] == 1 and _part(b.source) == _part(b.box) != "" and b.box in steps
    }
    name: dict[str, str] = {}
    for first in set(inner) - set(inner.values()):
        chain = [first]
        while chain[-1] in inner:
            chain.append(inner[chain[-1]])
        name |= dict.fromkeys(chain, CHAIN.join(chain))
    kept = [b for b in branches if b.source not in inner]
    return [replace(b, source=name.get(b.source, b.source), box=name.get(b.box, b.box)) for b in kept]


def _part(name: str) -> str:
    return name.partition(COPY)[0].rpartition("/")[0]


def draw_flow(trial: Trial) -> str:
    """The SVG: the branches that were taken."""
    flow = trial.course.flow
    branches = _joined(_spread([branch for branch in branches_of(trial) if branch.taken], flow.findings), flow.steps)
    start = next((b.source for b in branches if b.source.partition(CHAIN)[0] == flow.start), flow.start)
    names = {start, *(b.source for b in branches), *(b.box for b in branches)}
    widths = {name: _box_width(name) for name in names}
    drawing = draw(start, [(b.source, b.box) for b in branches], widths)
    walks = sum(row.draws for row in trial.made.faults.values())
    visits = Counter({start: walks})
    for branch in branches:
        visits[branch.box] += branch.taken
    width, height = drawing.width + 2 * MARGIN, drawing.ranks * RANK_HEIGHT + 2 * MARGIN
    lines = "".join(_line(b, drawing, walks) for b in sorted(branches, key=lambda b: b.taken))
    words = _words([b for b in branches if (b.source, b.box) in drawing.lines], drawing)
    boxes = "".join(
        _box(name, drawing, widths[name], visits=visits[name], walks=walks, trial=trial) for name in drawing.rank
    )
    at = max(
        0.0, drawing.x[start] - HALF_WINDOW
    )  # where the page's window on a broad drawing opens, in browsers that know how
    return (
        f'<i class="start" style="left:{at:.0f}px"></i>'
        f'<svg class="graph" width="{width:.0f}" height="{height:.0f}" viewBox="0 0 {width:.0f} {height:.0f}" '
        f'role="img" aria-label="Graph of {escape(flow.title)}">{lines}{words}{boxes}</svg>'
    )


def shade(times: int, walks: int) -> int:
    """0 for never, 1 to 5 by how often: a thousandth, a hundredth, a tenth of the walks and so on."""
    if times <= 0:
        return 0
    return max(1, min(5, 5 + math.floor(math.log(times / max(walks, 1), 4) + 0.5)))


def _box_width(name: str) -> float:
    return max(len(line) for line in _label(name)) * LETTER + 16


def _label(name: str) -> tuple[str, ...]:
    """Part and step on a line each."""
    name = name.partition(COPY)[0]
    first, *rest = name.split(CHAIN)
    part, slash, step = first.rpartition("/")
    if rest:
        return (part, f"{step} … {rest[-1].rpartition('/')[2]}")
    return (part, step) if slash else (name,)


def _y(rank: float) -> float:
    return MARGIN + BOX_HEIGHT / 2 + rank * RANK_HEIGHT


def _line(branch: Branch, drawing: Drawing, walks: int) -> str:
    points = drawing.lines.get((branch.source, branch.box))
    if not points:
        return ""
    backwards = (branch.source, branch.box) in drawing.backwards
    level = shade(branch.taken, walks)
    told = ", ".join(f"{outcome} {times}" for outcome, times in branch.outcomes)
    title = f"<title>{escape(branch.source)} to {escape(branch.target)}: {escape(told)}</title>"
    kind = " back" if backwards else ""
    return f'<path class="b b{level}{kind}" d="{_curve(points, backwards=backwards)}">{title}</path>'


def _curve(points: tuple[tuple[float, int], ...], *, backwards: bool) -> str:
    at = [(x + MARGIN, _y(rank)) for x, rank in points]
    down = -1 if backwards else 1
    at[0] = (at[0][0], at[0][1] + down * BOX_HEIGHT / 2)
    at[-1] = (at[-1][0], at[-1][1] - down * (BOX_HEIGHT / 2 + 4))
    words = [f"M{at[0][0]:.1f} {at[0][1]:.1f}"]
    for (x0, y0), (x1, y1) in pairwise(at):
        middle = (y0 + y1) / 2
        words.append(f"C{x0:.1f} {middle:.1f} {x1:.1f} {middle:.1f} {x1:.1f} {y1:.1f}")
    return "".join(words)


def _words(branches: list[Branch], drawing: Drawing) -> str:
    """The outcomes on each line's first stretch; of words that would touch, every second one a little lower."""
    stretches = []
    for branch in branches:
        (x0, rank0), (x1, rank1) = drawing.lines[branch.source, branch.box][:2]
        stretches.append(((_y(rank0) + _y(rank1)) / 2, MARGIN + (x0 + x1) / 2, _told(branch)))
    made, last = [], (0.0, -1e9, 0)
    for y, x, words in sorted(stretches):
        close = y == last[0] and x - last[1] < WORD_ROOM
        lower = (last[2] + 1) % 3 if close else 0
        made.append(f'<text class="w" x="{x:.1f}" y="{y - 2 + 10 * lower:.1f}">{escape(words)}</text>')
        last = (y, x, lower)
    return "".join(made)


def _told(branch: Branch) -> str:
    taken = [outcome for outcome, times in sorted(branch.outcomes, key=lambda o: -o[1]) if times]
    return " ".join(taken[:2]) + (" …" if len(taken) > 2 else "")


def _box(name: str, drawing: Drawing, width: float, *, visits: int, walks: int, trial: Trial) -> str:
    whole, copied, _ = name.partition(COPY)
    finding = trial.course.flow.findings.get(whole)
    x, y = drawing.x[name] + MARGIN, _y(drawing.rank[name])
    level, wrong = shade(visits, walks), 0
    if finding is None:
        told = " ".join(trial.course.flow.steps[step].say for step in whole.split(CHAIN))
    else:
        told, wrong = finding.say, 0 if copied else _wrong_ends(whole, trial)
    radius = BOX_HEIGHT / 2 if finding else 4
    kind = "finding" if finding else "step"
    rect = (
        f'<rect class="n n{level} {kind}" x="{x - width / 2:.1f}" y="{y - BOX_HEIGHT / 2:.1f}" width="{width:.1f}" '
        f'height="{BOX_HEIGHT:.0f}" rx="{radius:.0f}"/>'
    )
    title = (
        f"<title>{escape(whole.replace(CHAIN, ', '))}: {visits} of {walks} walks, {wrong} wrong. {escape(told)}</title>"
    )
    flag = f'<text class="flag" x="{x:.1f}" y="{y + BOX_HEIGHT / 2 + 12:.1f}">{wrong} wrong</text>' if wrong else ""
    return f"<g>{title}{rect}{''.join(_texts(name, x, y, level))}{flag}</g>"


def _texts(name: str, x: float, y: float, level: int) -> Iterator[str]:
    lines = _label(name)
    for i, line in enumerate(lines):
        at = y + 4 + (i - (len(lines) - 1) / 2) * 12.5
        kind = "part" if len(lines) > 1 and i == 0 else "name"
        yield f'<text class="t t{level} {kind}" x="{x:.1f}" y="{at:.1f}">{escape(line)}</text>'


def _wrong_ends(finding: str, trial: Trial) -> int:
    """Walks that ended here wrongly."""
    classes: Mapping[str, frozenset[str]] = trial.course.circuit.classes()
    rows = trial.made.faults.values()
    return sum(
        row.findings.get(finding, 0)
        for row in rows
        if verdict(trial.course.flow, finding, row.fault, classes) == "wrong"
    )
