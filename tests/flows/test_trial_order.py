"""The author's tool: the order found as a tree, by hand; and a flow's minutes, which must add up to what its walks take."""

import pytest

from flows.circuits import CIRCUITS
from flows.meter import load_meter
from flows.network.faults import NOMINAL
from flows.source import load_flow, load_sheet
from flows.trial.costs import Setup
from flows.trial.engines import draw_engines
from flows.trial.optimum import Search
from flows.trial.order import best_lines, best_minutes, main
from flows.trial.possible import start_of
from flows.trial.spent import Spending, without_rare
from flows.trial.telling import Check, Suspect
from flows.trial.walk import Course, Walker


def course(name: str = "coolant-temperature") -> Course:
    sheet = load_sheet()
    flow = load_flow(name, sheet)
    return Course(flow, CIRCUITS[flow.circuit](sheet), sheet, load_meter())


def splitting(name: str, minutes: float, outcomes: list[int], *setups: Setup) -> Check:
    labels = tuple(sum(1 << j for j, o in enumerate(outcomes) if o == outcome) for outcome in outcomes)
    return Check(name, minutes, frozenset(setups), labels)


@pytest.fixture
def by_hand() -> Search:
    """Four suspects: halving with `top`, then `odd`, whose plug comes off once, is the best order: 1, then 1.5."""
    rows = [Suspect(f"f{i}", NOMINAL, 1.0) for i in range(4)]
    checks = [splitting("top", 1, [0, 0, 1, 1]), splitting("odd", 1, [0, 1, 0, 1], Setup("plug", 0.5))]
    return Search(rows, checks, {f"f{i}": frozenset({f"f{i}"}) for i in range(4)})


def test_the_found_order_is_drawn_check_by_check(by_hand: Search) -> None:
    lines = list(best_lines(by_hand, [by_hand.everything()], deep=5))
    assert lines[0].split() == ["100.0", "%", "f0,", "f1,", "f2,", "f3"]
    assert [line.split(">")[1].split() for line in lines if ">" in line] == [
        ["top", "1.00", "min"],
        ["odd", "1.50", "min"],
        ["odd", "1.50", "min"],
    ]
    assert sum(line.endswith(".") for line in lines) == 4  # each suspect alone
    assert "..." in list(best_lines(by_hand, [by_hand.everything()], deep=1))[-1]


def test_minutes_a_fault_are_those_of_its_way(by_hand: Search) -> None:
    assert best_minutes(by_hand, [by_hand.everything()], spent=2.0) == {f"f{i}": 4.5 for i in range(4)}


def test_minutes_of_the_found_order_lie_between_the_bounds_of_the_search() -> None:
    start = start_of(course())
    found = start.search.best(start.sets, seconds=1)
    rows = {row.fault for row in start.table.rows if row.weight}
    taken = best_minutes(start.search, start.sets, spent=0.0)
    assert set(taken) == rows
    assert found.lower_minutes - 1e-9 <= sum(taken.values()) <= found.found_minutes + 1e-9


@pytest.fixture(scope="module")
def spending() -> Spending:
    return Spending(course(), draws=4)


def test_all_kinds_add_up_to_what_the_walks_take(spending: Spending) -> None:
    on = course()
    walker, faults = Walker(on, draw_engines(4, seed=1)), on.circuit.faults()
    whole = sum(party.hands.minutes * len(party.which) for fault in faults for party in walker.walk(fault).ends)
    assert spending.root.total == pytest.approx(whole / 4 / len(faults))
    assert sum(spending.minutes.values()) == pytest.approx(whole / 4)


def test_nobody_is_lost_on_the_way(spending: Spending) -> None:
    assert spending.root.share == pytest.approx(1)
    for node in spending.root.below():
        if node.children:
            assert sum(child.share for child in node.children.values()) == pytest.approx(node.share)


def test_a_reading_taken_twice_counts_as_read_again(spending: Spending) -> None:
    """`shown-low` reads the display that `shown` has read: nothing the search would pay for."""
    first, second = (next(n for n in spending.root.below() if n.name == name) for name in ("shown", "shown-low"))
    assert first.minutes["check"] > 0 and not first.minutes.get("again")
    assert second.minutes["again"] > 0 and not second.minutes.get("check")


def test_rare_ways_are_left_out_of_the_picture(spending: Spending) -> None:
    assert all(node.share >= 0.1 for node in without_rare(spending.root, 0.1).below())


def test_it_prints_both_trees(capsys: pytest.CaptureFixture[str]) -> None:
    main(["coolant-temperature", "--seconds", "0.5", "--draws", "2", "--deep", "3"])
    said = capsys.readouterr().out
    assert "The best order found" in said and "display.coolant" in said
    assert "shown" in said and "signal-open" in said.replace("coolant-", "")
