"""The search against hand-made tables, and against every order tried by brute force on small ones."""

import math
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flows.network.faults import NOMINAL
from flows.trial.costs import Setup
from flows.trial.optimum import Search
from flows.trial.telling import Check, Suspect, undominated


def suspects(count: int) -> list[Suspect]:
    return [Suspect(f"f{i}", NOMINAL, 1.0) for i in range(count)]


def splitting(name: str, minutes: float, outcomes: list[int], *setups: Setup) -> Check:
    """A check that gives each suspect one outcome."""
    labels = tuple(sum(1 << j for j, o in enumerate(outcomes) if o == outcome) for outcome in outcomes)
    return Check(name, minutes, frozenset(setups), labels)


def alone(count: int) -> dict[str, frozenset[str]]:
    return {f"f{i}": frozenset({f"f{i}"}) for i in range(count)}


def best(checks: list[Check], count: int, classes: dict[str, frozenset[str]] | None = None) -> tuple[float, float]:
    search = Search(suspects(count), checks, classes or alone(count))
    found = search.best([search.everything()], seconds=20)
    assert found.exact
    return found.lower_minutes, found.found_minutes


def test_halves_are_better_than_one_at_a_time() -> None:
    halves = [splitting("top", 1, [0, 0, 1, 1]), splitting("odd", 1, [0, 1, 0, 1])]
    singles = [splitting(f"is f{i}", 1, [int(j == i) for j in range(4)]) for i in range(4)]
    assert best([*halves, *singles], 4) == (8.0, 8.0)  # two checks each
    assert best(singles, 4) == (9.0, 9.0)  # 1 + 2 + 3 + 3


def test_a_dear_check_is_left_to_last() -> None:
    checks = [
        splitting("cheap", 0.1, [0, 0, 1, 1]),
        splitting("dear", 5, [0, 1, 0, 0]),
        splitting("fair", 1, [0, 0, 0, 1]),
    ]
    assert best(checks, 4)[0] == pytest.approx(4 * 0.1 + 2 * 5 + 2 * 1)


def test_one_class_needs_no_parting() -> None:
    together = {"f0": frozenset({"f0", "f1"}), "f1": frozenset({"f0", "f1"}), "f2": frozenset({"f2"})}
    assert best([splitting("c", 1, [0, 0, 1]), splitting("d", 1, [0, 1, 1])], 3, together) == (3.0, 3.0)


def test_a_place_is_paid_for_once() -> None:
    way = Setup("to unit", 4.0)
    checks = [splitting("a", 1, [0, 0, 1, 1], way), splitting("b", 1, [0, 1, 0, 1], way)]
    assert best(checks, 4)[0] == pytest.approx(4 * 4 + 4 * 2)


def test_what_nothing_separates_ends_the_search() -> None:
    assert best([splitting("c", 1, [0, 0, 1])], 3) == (3.0, 3.0)


def test_a_check_that_tells_less_and_costs_more_is_left_out() -> None:
    fine, coarse = splitting("fine", 1, [0, 1, 2]), splitting("coarse", 2, [0, 0, 1])
    cheap = splitting("cheap", 0.5, [0, 0, 1])
    assert [c.name for c in undominated([coarse, fine, cheap])] == ["fine", "cheap"]
    assert undominated([splitting("nothing", 0, [0, 0, 0])]) == []


@settings(max_examples=40, deadline=None)
@given(
    st.integers(2, 6).flatmap(
        lambda n: st.tuples(
            st.just(n),
            st.lists(
                st.tuples(st.sampled_from([0.5, 1.0, 2.0]), st.lists(st.integers(0, 2), min_size=n, max_size=n)),
                min_size=1,
                max_size=5,
            ),
        )
    )
)
def test_against_every_order(case: tuple[int, list[tuple[float, list[int]]]]) -> None:
    count, table = case
    checks = [splitting(f"c{i}", minutes, outcomes) for i, (minutes, outcomes) in enumerate(table)]

    @cache
    def brute(rows: frozenset[int]) -> float:
        if len(rows) < 2:
            return 0.0
        least = math.inf
        for minutes, outcomes in table:
            parts = [frozenset(r for r in rows if outcomes[r] == o) for o in {outcomes[r] for r in rows}]
            if len(parts) > 1:
                least = min(least, minutes * len(rows) + sum(brute(part) for part in parts))
        return 0.0 if least == math.inf else least

    search = Search(suspects(count), checks, alone(count))
    found = search.best([search.everything()], seconds=20)
    assert found.lower_minutes <= brute(frozenset(range(count))) + 1e-9 <= found.found_minutes + 2e-9
    assert undominated(checks) == [] or Search(suspects(count), undominated(checks), alone(count)).best(
        [search.everything()], seconds=20
    ).found_minutes == pytest.approx(found.found_minutes)
