"""Nodal analysis against Ohm and Kirchhoff by hand."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from flows.network.crowd import alone
from flows.network.faults import NOMINAL
from flows.network.here import Here
from flows.network.moded import Moded, Ratiometric, Regulator
from flows.network.stacked import Stack, StackSolution
from flows.site import Site
from flows.source import load_sheet

OHMS = st.floats(0.1, 1e6)


@given(OHMS, OHMS, st.floats(1, 60))
def test_a_divider_shares_by_resistance(upper: float, lower: float, volt: float) -> None:
    network = Stack("0", 1)
    network.source("top", "0", volt=volt, ohm=1e-6)
    network.resistor("top", "tap", upper)
    network.resistor("tap", "0", lower)
    assert network.solve().volt("tap", "0") == pytest.approx(volt * lower / (upper + lower), rel=1e-4)


def test_the_meter_loads_what_it_reads() -> None:
    """10 kilohm over 10 kilohm on 12 V, read with 10 megohm: 10k beside 10M is 9990.01 ohm, so 5.997 V."""
    network = Stack("0", 1)
    network.source("top", "0", volt=12, ohm=1e-6)
    network.resistor("top", "tap", 10e3)
    network.resistor("tap", "0", 10e3)
    assert loaded("tap", network.solve()) == pytest.approx(5.997, abs=5e-4)


@given(OHMS, OHMS)
def test_ohms_are_thevenins_with_the_sources_dead(one: float, two: float) -> None:
    network = Stack("0", 1)
    network.source("a", "0", volt=9, ohm=one)
    network.resistor("a", "0", two)
    assert network.solve().between_ohm("a", "0") == pytest.approx(one * two / (one + two), rel=1e-4)


def test_a_floating_node_is_at_nothing_and_nothing_joins_it() -> None:
    network = Stack("0", 1)
    network.source("a", "0", volt=5, ohm=1)
    network.resistor("b", "c", 10)
    solution = network.solve()
    assert solution.volt("b", "0") == pytest.approx(0)
    assert solution.between_ohm("b", "0") > 1e9
    assert solution.between_ohm("b", "nowhere") == math.inf


def test_a_resistor_must_be_above_nothing() -> None:
    with pytest.raises(ValueError, match="must be above 0"):
        Stack("0", 1).resistor("a", "b", 0)


def loaded(node: str, solution: StackSolution) -> float:
    return float(solution.volt(node, "0")[0] * solution.loading(node, "0", meter_ohm=10e6)[0])


def settled(
    part: Moded, load: list[tuple[str, str, float]], feed: tuple[str, float] | None = None
) -> tuple[StackSolution, int]:
    here = Here(load_sheet(), {"key": "on"}, alone(Site(), NOMINAL))
    here.modes = {part.name: np.array([part.start])}
    for _ in range(10):
        network = Stack("0", 1)
        network.resistor("e", "0", 1e-3)
        for a, b, ohm in load:
            network.resistor(a, b, ohm)
        if feed:
            network.source(feed[0], "0", volt=feed[1], ohm=0.1)
        part.stamp(network, here)
        solution = network.solve()
        wanted = part.follows(solution, here)
        if wanted[0] == here.modes[part.name][0]:
            return solution, int(wanted[0])
        here.modes = {part.name: wanted}
    raise AssertionError("does not settle")


REGULATOR = Regulator(name="r", out="out", earth="e", volt=5.0, ohm=0.4, limit_a=0.06)
CHIP = Ratiometric(name="c", supply="s", out="o", ground="e", share=lambda here: 0.8, supply_ohm=700, output_ohm=60)


def test_a_regulator_holds_its_volts_then_its_current_then_lets_go() -> None:
    assert settled(REGULATOR, [("out", "e", 700)])[0].volt("out", "e") == pytest.approx(
        5 * 690.335 / 690.735
    )  # 700 beside its own 50k
    shorted, mode = settled(REGULATOR, [("out", "e", 2)])
    assert mode == 1 and shorted.volt("out", "e") == pytest.approx(0.12, rel=1e-3)
    pushed, mode = settled(REGULATOR, [("out", "e", 700)], feed=("out", 12))
    assert mode == 2 and pushed.volt("out", "e") == pytest.approx(12, rel=1e-2)


def test_a_chip_gives_its_share_sources_and_sinks_so_much_and_dies_without_supply() -> None:
    assert settled(CHIP, [("o", "e", 180e3)], feed=("s", 5))[0].volt("o", "e") == pytest.approx(4.0, rel=1e-3)
    shorted, mode = settled(CHIP, [("o", "e", 0.3)], feed=("s", 5))
    assert mode == 3 and shorted.volt("o", "e") == pytest.approx(0.3 * 0.008, rel=1e-2)
    _, mode = settled(CHIP, [("o", "s", 0.3)], feed=("s", 5))
    assert mode == 4
    unpowered, mode = settled(CHIP, [("o", "e", 180e3), ("s", "e", 1e6)])
    assert mode == 0 and unpowered.volt("o", "e") == pytest.approx(0, abs=1e-6)
