"""Combinators for sets of sentences, and the smallest word graph that holds exactly those sentences.

>>> set_of = either("stop test", seq("say", "again"))
>>> sorted(" ".join(words) for words in all_of(to_graph(set_of)))
['say again', 'stop test']
"""

import random
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from speech.graph import WordGraph

Symbol = tuple[str, float]
"""A word and the cost of saying it here; the same word at another cost is another symbol."""


@dataclass(frozen=True)
class Piece:
    """Part of a sentence: a word, a row, a choice, or a repeated piece."""

    how: str
    parts: tuple["Piece", ...] = ()
    symbol: Symbol = ("", 0.0)


Like = Piece | str
EMPTY = Piece("row")


def piece(part: Like) -> Piece:
    """A piece, from one or from the words of a phrase."""
    if isinstance(part, Piece):
        return part
    return Piece("row", tuple(Piece("word", symbol=(word, 0.0)) for word in part.split()))


def seq(*parts: Like) -> Piece:
    """One after another."""
    return Piece("row", tuple(piece(part) for part in parts))


def either(*parts: Like) -> Piece:
    """Any one of these."""
    return Piece("choice", tuple(piece(part) for part in parts))


def maybe(*parts: Like) -> Piece:
    """These in a row, or nothing."""
    return either(EMPTY, seq(*parts))


def repeat(part: Like, low: int, high: int) -> Piece:
    """The same, `low` to `high` times."""
    tail = EMPTY
    for _ in range(high - low):
        tail = maybe(part, tail)
    return seq(*[part] * low, tail)


def many(part: Like) -> Piece:
    """The same, any number of times, also none."""
    return Piece("many", (piece(part),))


def costly(part: Like, cost: float) -> Piece:
    """The same sentences at this cost more; it is charged with the first word."""
    made = piece(part)
    if made.how == "word":
        word, had = made.symbol
        return Piece("word", symbol=(word, had + cost))
    if made.how == "row" and made.parts:
        return Piece("row", (costly(made.parts[0], cost), *made.parts[1:]))
    return Piece(made.how, tuple(costly(p, cost) for p in made.parts))


def shared(part: Like, name: str) -> Piece:
    """The same sentences, kept as one part of the graph that many places lead to; keeps large graphs small."""
    return Piece("shared", (piece(part),), (name, 0.0))


class _Net:
    """Non-deterministic net under construction: wordless arcs and word arcs of each state."""

    def __init__(self) -> None:
        self.free: list[set[int]] = []
        self.words: list[list[tuple[Symbol, int]]] = []
        self.shared: dict[str, Piece] = {}

    def state(self) -> int:
        self.free.append(set())
        self.words.append([])
        return len(self.free) - 1

    def add(self, part: Piece, start: int) -> int:
        """Lay a piece out from `start`; the state where it ends."""
        if part.how in ("word", "shared"):
            end = self.state()
            self.words[start].append((part.symbol, end))
            if part.how == "shared":
                self.shared[part.symbol[0]] = part.parts[0]
            return end
        if part.how == "row":
            for one in part.parts:
                start = self.add(one, start)
            return start
        if part.how == "many":
            middle = self.state()
            self.free[start].add(middle)
            self.free[self.add(part.parts[0], middle)].add(middle)
            return middle
        end = self.state()
        for one in part.parts:
            middle = self.state()
            self.free[start].add(middle)
            self.free[self.add(one, middle)].add(end)
        return end

    def reach(self, states: frozenset[int]) -> frozenset[int]:
        """These states and all that follow without a word."""
        seen, todo = set(states), list(states)
        while todo:
            for near in self.free[todo.pop()] - seen:
                seen.add(near)
                todo.append(near)
        return frozenset(seen)


Table = dict[int, dict[Symbol, int]]


def to_graph(part: Like, *, ending_before: Mapping[str, float] | None = None) -> WordGraph:
    """A small word graph of these sentences, deterministic but for shared parts; state 0 starts.

    ending_before: cost of ending where the shared part of this name could follow.
    """
    net = _Net()
    start = net.state()
    table, finals = _smallest(*_subsets(net, start, net.add(piece(part), start)))
    arcs: list[tuple[int, int, str | None, float]] = []
    states, copies = len(table), dict[tuple[str, int], int]()
    for source, row in sorted(table.items()):
        for (word, cost), target in sorted(row.items()):
            if word not in net.shared:
                arcs.append((source, target, word, cost))
                continue
            if (word, target) not in copies:
                inside = to_graph(net.shared[word])
                copies[word, target] = states
                arcs += [(states + s, states + t, w, c) for s, t, w, c in inside.arcs]
                arcs += [(states + end, target, None, 0.0) for end in inside.finals]
                states += 1 + max(max(s, t) for s, t, _, _ in inside.arcs)
            arcs.append((source, copies[word, target], None, cost))
    ends = {state: _end_cost(table[state], ending_before or {}) for state in sorted(finals)}
    return WordGraph(tuple(arcs), ends)


def _end_cost(row: Mapping[Symbol, int], ending_before: Mapping[str, float]) -> float:
    return max((ending_before.get(word, 0.0) for word, _ in row), default=0.0)


def _subsets(net: _Net, start: int, end: int) -> tuple[Table, set[int]]:
    first = net.reach(frozenset([start]))
    numbers, todo, table, finals = {first: 0}, [first], Table(), set[int]()
    while todo:
        states = todo.pop()
        number = numbers[states]
        if end in states:
            finals.add(number)
        targets: dict[Symbol, set[int]] = defaultdict(set)
        for state in states:
            for symbol, target in net.words[state]:
                targets[symbol].add(target)
        table[number] = {}
        for symbol, raw in sorted(targets.items()):
            reached = net.reach(frozenset(raw))
            if reached not in numbers:
                numbers[reached] = len(numbers)
                todo.append(reached)
            table[number][symbol] = numbers[reached]
    return table, finals


def _smallest(table: Table, finals: set[int]) -> tuple[Table, set[int]]:
    """Merge states that the same words follow (Moore's partition refinement)."""
    group = {state: int(state in finals) for state in table}
    count = len(set(group.values()))
    while True:
        keys = {s: (group[s], tuple(sorted((sym, group[t]) for sym, t in row.items()))) for s, row in table.items()}
        order = {keys[0]: 0}
        for state in sorted(table):
            order.setdefault(keys[state], len(order))
        group = {state: order[keys[state]] for state in table}
        if len(order) == count:
            break
        count = len(order)
    merged = {group[s]: {symbol: group[t] for symbol, t in row.items()} for s, row in table.items()}
    return merged, {group[s] for s in finals}


class Walker:
    """Walks a word graph: what it accepts, and sentences of it by chance."""

    def __init__(self, graph: WordGraph) -> None:
        self.finals = frozenset(graph.finals)
        self._words: dict[int, list[tuple[str, int]]] = defaultdict(list)
        self._free: dict[int, list[int]] = defaultdict(list)
        for source, target, word, _ in graph.arcs:
            if word is None:
                self._free[source].append(target)
            else:
                self._words[source].append((word, target))

    def _reach(self, states: set[int]) -> set[int]:
        seen, todo = set(states), list(states)
        while todo:
            new = [near for near in self._free[todo.pop()] if near not in seen]
            seen.update(new)
            todo += new
        return seen

    def _walk(self, words: str) -> set[int]:
        here = self._reach({0})
        for word in words.split():
            here = self._reach({target for state in here for label, target in self._words[state] if label == word})
        return here

    def accepts(self, words: str) -> bool:
        """Whether these words are one of the sentences."""
        return bool(self._walk(words) & self.finals)

    def after(self, words: str) -> tuple[bool, frozenset[str]]:
        """Whether these words are a sentence, and which words may follow them."""
        here = self._walk(words)
        return bool(here & self.finals), frozenset(label for state in here for label, _ in self._words[state])

    def sample(self, rng: random.Random, *, stop: float = 0.3) -> list[str]:
        """One sentence by chance; `stop` is how likely it ends where it may."""
        here, words = self._reach({0}), list[str]()
        while True:
            ways = [way for state in sorted(here) for way in self._words[state]]
            if here & self.finals and (not ways or rng.random() < stop):
                return words
            word, target = rng.choice(ways)
            here = self._reach({target})
            words.append(word)


def all_of(graph: WordGraph) -> Iterator[list[str]]:
    """Every sentence; only for graphs without repetition or shared parts."""
    leaving: dict[int, list[tuple[str, int]]] = defaultdict(list)
    for source, target, word, _ in graph.arcs:
        leaving[source].append((word or "", target))
    todo: list[tuple[int, list[str]]] = [(0, [])]
    while todo:
        state, words = todo.pop()
        if state in graph.finals:
            yield words
        todo += [(target, [*words, word]) for word, target in leaving[state]]
