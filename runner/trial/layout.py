"""A layered drawing of a graph: ranks from the start downwards, few crossings, boxes near what they hang on."""

from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

GAP = 18.0  # between two boxes of a rank
BEND_WIDTH = 12.0  # room for a line that passes a rank
SWEEPS = 12

Edge = tuple[str, str]


@dataclass(frozen=True)
class Drawing:
    """Where everything goes. lines: edge -> its points from box to box; ranks from 0."""

    x: Mapping[str, float]  # middle of each box
    rank: Mapping[str, int]
    lines: Mapping[Edge, tuple[tuple[float, int], ...]]  # (x, rank) from the source's middle to the target's
    backwards: frozenset[Edge]
    width: float
    ranks: int


def draw(start: str, edges: Sequence[Edge], widths: Mapping[str, float]) -> Drawing:
    """Lay out what can be reached from the start. widths: of each node's box."""
    backwards = frozenset(_back_edges(start, edges))
    forward = [edge for edge in edges if edge not in backwards and edge[0] != edge[1]]
    rank = _ranks(start, forward)
    edges = [edge for edge in edges if edge[0] in rank]
    chains = {edge: _chain(edge, rank) for edge in edges if edge[0] != edge[1]}
    links = [link for chain in chains.values() for link in pairwise(chain)]
    size: dict[Hashable, float] = {name: widths[name] for name in rank}
    level: dict[Hashable, int] = {name: place for name, place in rank.items()}
    for (source, target), chain in chains.items():
        step = 1 if rank[target] > rank[source] else -1
        for i, bend in enumerate(chain[1:-1], start=1):
            size[bend], level[bend] = BEND_WIDTH, rank[source] + step * i
    rows = _ordered(level, links)
    x = _placed(rows, links, size)
    left = min(x[n] - size[n] / 2 for n in x)
    x = {n: at - left for n, at in x.items()}
    lines = {edge: tuple((x[n], level[n]) for n in chain) for edge, chain in chains.items()}
    width = max(x[n] + size[n] / 2 for n in x)
    if x[start] > width / 2:  # the start to the left, where one looks first
        x = {n: width - at for n, at in x.items()}
        lines = {edge: tuple((width - at, rank) for at, rank in points) for edge, points in lines.items()}
    return Drawing({n: x[n] for n in rank}, rank, lines, backwards & set(edges), width, len(rows))


def _back_edges(start: str, edges: Iterable[Edge]) -> list[Edge]:
    """Edges that lead back to where the way from the start has come by."""
    following: dict[str, list[str]] = {}
    for source, target in edges:
        following.setdefault(source, []).append(target)
    found: list[Edge] = []
    state: dict[str, int] = {start: 1}  # 1 on the way, 2 done
    stack = [(start, iter(following.get(start, [])))]
    while stack:
        node, rest = stack[-1]
        target = next(rest, "")
        if not target:
            state[node] = 2
            stack.pop()
        elif state.get(target) == 1:
            found.append((node, target))
        elif target not in state:
            state[target] = 1
            stack.append((target, iter(following.get(target, []))))
    return found


def _ranks(start: str, forward: Sequence[Edge]) -> dict[str, int]:
    """Longest way from the start."""
    following: dict[str, list[str]] = {}
    for source, target in forward:
        following.setdefault(source, []).append(target)
    order: list[str] = []
    seen: set[str] = set()
    stack: list[tuple[str, bool]] = [(start, False)]
    while stack:
        node, done = stack.pop()
        if done:
            order.append(node)
        elif node not in seen:
            seen.add(node)
            stack.append((node, True))
            stack += [(target, False) for target in following.get(node, []) if target not in seen]
    rank = dict.fromkeys(reversed(order), 0)
    for node in reversed(order):
        for target in following.get(node, []):
            rank[target] = max(rank[target], rank[node] + 1)
    return rank


def _chain(edge: Edge, rank: Mapping[str, int]) -> list[Hashable]:
    """The edge with a bend at every rank it passes; an edge backwards passes them the other way."""
    source, target = edge
    low, high = rank[source], rank[target]
    step = 1 if high > low else -1
    bends = [(edge, r) for r in range(low + step, high, step)]
    return [source, *bends, target]


def _ordered(level: Mapping[Hashable, int], links: Sequence[tuple[Hashable, Hashable]]) -> list[list[Hashable]]:
    """Each rank from left to right, turned over and over by where its neighbours are."""
    rows: list[list[Hashable]] = [[] for _ in range(max(level.values()) + 1)]
    for node, rank in level.items():
        rows[rank].append(node)
    near = _neighbours(level, links)
    best, least = [list(row) for row in rows], _crossings(rows, near)
    for sweep in range(SWEEPS):
        downwards = sweep % 2 == 0
        place = {node: i for row in rows for i, node in enumerate(row)}
        for rank in range(len(rows)) if downwards else reversed(range(len(rows))):
            side = near[0 if downwards else 1]
            middle = {n: _mean([place[o] for o in side[n]], place[n]) for n in rows[rank]}
            rows[rank].sort(key=lambda n: middle[n])
            place |= {node: i for i, node in enumerate(rows[rank])}
        count = _crossings(rows, near)
        if count < least:
            best, least = [list(row) for row in rows], count
    return best


def _neighbours(
    level: Mapping[Hashable, int], links: Sequence[tuple[Hashable, Hashable]]
) -> tuple[dict[Hashable, list[Hashable]], dict[Hashable, list[Hashable]]]:
    above: dict[Hashable, list[Hashable]] = {n: [] for n in level}
    below: dict[Hashable, list[Hashable]] = {n: [] for n in level}
    for one, two in links:
        upper, lower = (one, two) if level[one] < level[two] else (two, one)
        if level[upper] != level[lower]:
            above[lower].append(upper)
            below[upper].append(lower)
    return above, below


def _crossings(
    rows: Sequence[Sequence[Hashable]],
    near: tuple[Mapping[Hashable, list[Hashable]], Mapping[Hashable, list[Hashable]]],
) -> int:
    total = 0
    for upper, lower in pairwise(rows):
        place = {node: i for i, node in enumerate(lower)}
        ends = [place[o] for node in upper for o in sorted(near[1][node], key=lambda o: place[o])]
        total += sum(later < first for i, first in enumerate(ends) for later in ends[i + 1 :])
    return total


def _placed(
    rows: Sequence[Sequence[Hashable]], links: Sequence[tuple[Hashable, Hashable]], size: Mapping[Hashable, float]
) -> dict[Hashable, float]:
    """Middles: each rank as near to its neighbours as the room between its boxes lets it."""
    level = {node: rank for rank, row in enumerate(rows) for node in row}
    above, below = _neighbours(level, links)
    x: dict[Hashable, float] = {}
    for row in rows:
        at = 0.0
        for node in row:
            x[node] = at + size[node] / 2
            at += size[node] + GAP
    for turn in range(40):
        for row in rows if turn % 2 == 0 else reversed(rows):
            wanted = []
            for node in row:
                near = above[node] + below[node] if turn > 8 else (above[node] or below[node])
                wanted.append(_mean([x[o] for o in near], x[node]))
            x |= dict(zip(row, _apart(wanted, [size[n] for n in row]), strict=True))
    return x


def _apart(wanted: Sequence[float], sizes: Sequence[float]) -> list[float]:
    """Places in this order, nearest to those wanted (least squares), no two boxes nearer than GAP."""
    offset, offsets = 0.0, [0.0]
    for one, two in pairwise(sizes):
        offset += (one + two) / 2 + GAP
        offsets.append(offset)
    blocks: list[list[float]] = []  # sum, count
    for want, off in zip(wanted, offsets, strict=False):
        blocks.append([want - off, 1])
        while len(blocks) > 1 and blocks[-2][0] / blocks[-2][1] > blocks[-1][0] / blocks[-1][1]:
            total, count = blocks.pop()
            blocks[-1] = [blocks[-1][0] + total, blocks[-1][1] + count]
    flat = [total / count for total, count in blocks for _ in range(int(count))]
    return [place + off for place, off in zip(flat, offsets, strict=False)]


def _mean(values: Sequence[float], otherwise: float) -> float:
    return sum(values) / len(values) if values else otherwise
