"""The sparse elimination for many engines, held to numpy's dense solver."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flows.circuits import CIRCUITS
from flows.network.alike import points_of, states_of
from flows.network.crowd import Crowd
from flows.network.elimination import Eliminated
from flows.network.faults import NOMINAL
from flows.network.stacked import DenseSolution, SparseSolution, Stack
from flows.source import load_sheet
from flows.trial.engines import draw_engines

SIEMENS = st.floats(1e-6, 10)


def test_two_by_hand() -> None:
    # 3x + y = 9, x + 2y = 8
    system = Eliminated(2, {(0, 0): 3.0, (0, 1): 1.0, (1, 0): 1.0, (1, 1): 2.0})
    assert system.solve({0: 9.0, 1: 8.0}) == pytest.approx([2.0, 3.0])


@given(st.lists(st.tuples(st.integers(0, 7), st.integers(0, 7), SIEMENS), min_size=1, max_size=20), st.integers(0, 7))
@settings(max_examples=60, deadline=None)
def test_any_network_as_numpy_solves_it(branches: list[tuple[int, int, float]], into: int) -> None:
    matrix = np.diag(np.full(8, 1e-3))
    for i, j, siemens in branches:
        if i != j:
            matrix[[i, j], [i, j]] += siemens
            matrix[[i, j], [j, i]] -= siemens
    entries = {(i, j): float(matrix[i, j]) for i in range(8) for j in range(8) if matrix[i, j] or i == j}
    right = np.zeros(8)
    right[into] = 1.0
    assert Eliminated(8, entries).solve({into: 1.0}) == pytest.approx(np.linalg.solve(matrix, right), rel=1e-6)


def test_an_engine_is_solved_alike_alone_and_in_a_crowd() -> None:
    """What one engine reads must not hang on who is solved beside it: metered voltage and ohms, all states."""
    circuit = CIRCUITS["charging"](load_sheet())
    crowd = draw_engines(16, seed=3).crowd
    one = Crowd(crowd.draws[5:6], crowd.sites[5:6])
    for fault in (None, *list(circuit.faults().values())[::6]):
        for state in states_of(circuit.description)[::3]:
            many, single = circuit.solved(fault, state, crowd), circuit.solved(fault, state, one)
            assert isinstance(many.first, SparseSolution) and isinstance(single.first, DenseSolution)
            for point in points_of(circuit.description, state):
                told = [s.dc(point, "battery.negative", meter_ohm=10e6) for s in (many, single)]
                assert told[0][5] == pytest.approx(told[1][0], abs=1e-6)
                ohms = [s.first.between_ohm(point, "engine.block") for s in (many, single)]
                assert ohms[1][0] > 2e8 or ohms[0][5] == pytest.approx(ohms[1][0], rel=1e-6, abs=1e-9)


def test_what_is_alike_stays_a_number() -> None:
    net = Stack("0", 20)
    net.source("a", "0", volt=np.full(20, 12.0), ohm=1.0)
    net.resistor("a", "b", np.linspace(1, 2, 20))
    net.resistor("b", "0", 2.0)
    solution = net.solve()
    assert solution.volt("b", "0") == pytest.approx(12 * 2 / (np.linspace(1, 2, 20) + 3))
    assert solution.volt("a", "nowhere").shape == (20,)
    assert solution.between_ohm("a", "nowhere")[0] == np.inf


def test_a_crowd_keeps_what_it_has_worked_out() -> None:
    crowd = draw_engines(5, seed=1).crowd
    assert crowd.share("coil") is crowd.share("coil")
    assert Crowd((NOMINAL,), crowd.sites[:1]).share("coil")[0] == 0.0
    assert [crowd.places[i] for i in crowd.place_of] == list(crowd.sites)
