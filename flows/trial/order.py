"""For authors: the best order that was found, and where the flow's own minutes go: `python -m flows.trial.order FLOW`.

Both as indented trees. Shares are of all faults, each with the same weight. A line of the best order is a check with its
minutes; below it stand the sets it leaves. A line of the flow is a step with the mean minutes spent there, shared over all
walks, and what of it the search does not pay: read again, put back, hands, asked.
"""

import argparse
from collections import defaultdict
from collections.abc import Iterator, Sequence

from flows.circuits import CIRCUITS
from flows.meter import load_meter
from flows.source import load_flow, load_sheet
from flows.trial.optimum import POLICY_WIDTH, Search, Set
from flows.trial.possible import best_from, start_of
from flows.trial.spent import BOTH, EXTRA, KINDS, Node, Spending, without_rare
from flows.trial.telling import Suspect
from flows.trial.walk import Course

NAMED = 5  # suspects named in a line


def course_of(flow_name: str) -> Course:
    """Flow, circuit and sheet by name."""
    sheet = load_sheet()
    flow = load_flow(flow_name, sheet)
    return Course(flow, CIRCUITS[flow.circuit](sheet), sheet, load_meter())


def best_lines(search: Search, sets: Sequence[Set], *, deep: int) -> Iterator[str]:
    """The found order as an indented tree, the set with most weight first."""
    whole = search.weight(search.everything().true)
    for s in sorted(sets, key=lambda s: -search.weight(s.true)):
        yield from _best(search, s, width=POLICY_WIDTH, indent=0, deep=deep, whole=whole)


def _best(search: Search, s: Set, *, width: int, indent: int, deep: int, whole: float) -> Iterator[str]:
    taken = search.taken(s, width=width)
    head = f"{'  ' * indent}{100 * search.weight(s.true) / whole:5.1f} %  {words(search.rows(s.true))}"
    if taken is None:
        yield f"{head}  ."
        return
    yield f"{head}"
    if indent >= deep:
        yield f"{'  ' * indent}         ..."
        return
    yield f"{'  ' * indent}         > {taken.check.name}  {taken.minutes:.2f} min"
    for child in sorted(taken.children, key=lambda child: -search.weight(child.true)):
        yield from _best(search, child, width=max(1, width - 1), indent=indent + 1, deep=deep, whole=whole)


def best_minutes(search: Search, sets: Sequence[Set], *, spent: float) -> dict[str, float]:
    """Minutes of each fault in the found order, after an opening of so many."""
    made: dict[str, float] = defaultdict(float)

    def go(s: Set, minutes: float, width: int) -> None:
        taken = search.taken(s, width=width)
        if taken is None:
            for row in search.rows(s.true):
                made[row.fault] += minutes * row.weight
            return
        for child in taken.children:
            go(child, minutes + taken.minutes, max(1, width - 1))

    for s in sets:
        go(s, spent, POLICY_WIDTH)
    return dict(made)


def words(rows: Sequence[Suspect]) -> str:
    """Faults of these rows, each once."""
    said = list(dict.fromkeys(row.fault for row in rows))
    more = f", and {len(said) - NAMED} more" if len(said) > NAMED else ""
    return ", ".join(said[:NAMED]) + more


def flow_lines(root: Node, *, deep: int, least: float = 0.01) -> Iterator[str]:
    """The flow's walks as an indented tree; ways of less than this share are left out."""
    yield from _flow(without_rare(root, least), indent=0, deep=deep)


def _flow(node: Node, *, indent: int, deep: int) -> Iterator[str]:
    both, extra = (sum(node.minutes[kind] for kind in kinds) for kinds in (BOTH, EXTRA))
    note = ", ".join(f"{kind} {node.minutes[kind]:.2f}" for kind in EXTRA if node.minutes[kind] >= 0.005)
    came = f"{', '.join(sorted(node.came))}: " if node.came else ""
    end = f"  [{', '.join(node.faults)}]" if not node.children and len(node.faults) <= 3 else ""
    spent = f"  {both + extra:.2f}" + (f" ({note})" if note else "") + f", from here {node.total:.2f}"
    yield f"{'  ' * indent}{100 * node.share:5.1f} %  {came}{node.name}{spent if node.minutes else ''}{end}"
    ways = sorted(node.children.values(), key=lambda child: -child.share)
    straight = len(ways) == 1 and ways[0].share > 0.999 * node.share
    if indent >= deep and not straight and ways:
        yield f"{'  ' * indent}         ..."
        return
    for child in ways:
        yield from _flow(child, indent=indent + (not straight), deep=deep)


def step_lines(root: Node, *, most: int = 25) -> Iterator[str]:
    """Steps by the minutes spent in them, dearest first."""
    steps: dict[str, dict[str, float]] = {}
    shares: dict[str, float] = defaultdict(float)
    for node in root.below():
        if node.minutes:
            _add(steps.setdefault(node.name, defaultdict(float)), node.minutes)
            shares[node.name] += node.share
    yield f"{'step':28s} {'of all':>7s} {'sum':>6s} " + " ".join(f"{kind:>7s}" for kind in KINDS)
    ordered = sorted(steps.items(), key=lambda item: -sum(item[1].values()))
    whole: dict[str, float] = defaultdict(float)
    for _, spent in ordered:
        _add(whole, spent)
    for name, spent in [*ordered[:most], ("all", whole)]:
        share = f"{100 * shares[name]:5.1f} %" if name in shares else ""
        yield f"{name:28s} {share:>7s} {sum(spent.values()):6.2f} " + " ".join(f"{spent[k]:7.2f}" for k in KINDS)


def _add(to: dict[str, float], more: dict[str, float]) -> None:
    for kind, minutes in more.items():
        to[kind] += minutes


def fault_lines(flow: dict[str, float], best: dict[str, float]) -> Iterator[str]:
    """Faults by the minutes the flow takes more than the found order."""
    yield f"{'fault':40s} {'flow':>6s} {'best':>6s} {'more':>6s}"
    for fault in sorted(flow, key=lambda f: best.get(f, 0.0) - flow[f]):
        here = best.get(fault, 0.0)
        yield f"{fault:40s} {flow[fault]:6.1f} {here:6.1f} {flow[fault] - here:6.1f}"


def report(course: Course, *, seconds: float, draws: int, deep: int) -> Iterator[str]:
    """All of it."""
    start = start_of(course)
    best = best_from(start, seconds=seconds)
    spending = Spending(course, draws=draws)
    mean = sum(spending.minutes.values()) / len(spending.minutes)
    yield f"{course.flow.name}: {mean:.2f} minutes a fault; best order found {best.found_minutes:.2f}, "
    yield f"no order below {best.lower_minutes:.2f}; the opening alone {best.opening_minutes:.2f}. Everything in reach."
    yield "\nThe best order found (minutes with ways and preparations, share of the faults, suspects left)"
    yield from best_lines(start.search, start.sets, deep=deep)
    yield "\nThe flow (share of the walks, step, mean minutes over all walks; in brackets what the search does not pay)"
    yield from flow_lines(spending.root, deep=deep)
    yield "\nSteps, mean minutes over all walks"
    yield from step_lines(spending.root)
    yield "\nFaults, minutes"
    yield from fault_lines(spending.minutes, best_minutes(start.search, start.sets, spent=best.opening_minutes))


def main(argv: Sequence[str] | None = None) -> None:
    """Print both trees of one flow."""
    parser = argparse.ArgumentParser(prog="python -m flows.trial.order", description=__doc__.splitlines()[0])
    parser.add_argument("flow")
    parser.add_argument("--deep", type=int, default=6, help="levels of the trees")
    parser.add_argument("--draws", type=int, default=20, help="engines a fault is walked in")
    parser.add_argument("--seconds", type=float, default=5.0, help="to search for the best order")
    args = parser.parse_args(argv)
    for line in report(course_of(args.flow), seconds=args.seconds, draws=args.draws, deep=args.deep):
        print(line)


if __name__ == "__main__":
    main()
