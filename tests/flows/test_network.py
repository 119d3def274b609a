"""Nodal analysis against Ohm and Kirchhoff by hand."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from flows.circuits.network import Network
from flows.circuits.parts import PressureChip, Regulator

OHMS = st.floats(0.1, 1e6)


@given(OHMS, OHMS, st.floats(1, 60))
def test_a_divider_shares_by_resistance(upper: float, lower: float, volt: float) -> None:
    network = Network("0")
    network.source("top", "0", volt=volt, ohm=1e-6)
    network.resistor("top", "tap", upper)
    network.resistor("tap", "0", lower)
    assert network.solve().volt("tap", "0") == pytest.approx(volt * lower / (upper + lower), rel=1e-4)


def test_the_meter_loads_what_it_reads() -> None:
    """10 kilohm over 10 kilohm on 12 V, read with 10 megohm: 10k beside 10M is 9990.01 ohm, so 5.997 V."""
    network = Network("0")
    network.source("top", "0", volt=12, ohm=1e-6)
    network.resistor("top", "tap", 10e3)
    network.resistor("tap", "0", 10e3)
    assert network.solve().metered_v("tap", "0", meter_ohm=10e6) == pytest.approx(5.997, abs=5e-4)


@given(OHMS, OHMS)
def test_ohms_are_thevenins_with_the_sources_dead(one: float, two: float) -> None:
    network = Network("0")
    network.source("a", "0", volt=9, ohm=one)
    network.resistor("a", "0", two)
    assert network.solve().between_ohm("a", "0") == pytest.approx(one * two / (one + two), rel=1e-4)


def test_a_floating_node_is_at_nothing_and_nothing_joins_it() -> None:
    network = Network("0")
    network.source("a", "0", volt=5, ohm=1)
    network.resistor("b", "c", 10)
    solution = network.solve()
    assert solution.volt("b", "0") == pytest.approx(0)
    assert solution.between_ohm("b", "0") > 1e9
    assert solution.between_ohm("b", "nowhere") == math.inf


def test_a_resistor_must_be_above_nothing() -> None:
    with pytest.raises(ValueError, match="must be above 0"):
        Network("0").resistor("a", "b", 0)


def settled(part: Regulator | PressureChip, load: list[tuple[str, str, float]], feed: tuple[str, float] | None = None):  # type: ignore[no-untyped-def]
    mode = part.start
    for _ in range(10):
        network = Network("0")
        network.resistor("e", "0", 1e-3)
        for a, b, ohm in load:
            network.resistor(a, b, ohm)
        if feed:
            network.source(feed[0], "0", volt=feed[1], ohm=0.1)
        part.stamp(network, mode)
        solution = network.solve()
        if part.follows(solution, mode) == mode:
            return solution, mode
        mode = part.follows(solution, mode)
    raise AssertionError("does not settle")


REGULATOR = Regulator("out", "e", 5.0, 0.4, 0.06)
CHIP = PressureChip("s", "o", "e", share=0.8, supply_ohm=700, output_ohm=60, sink_ohm=None)


def test_a_regulator_holds_its_volts_then_its_current_then_lets_go() -> None:
    assert settled(REGULATOR, [("out", "e", 700)])[0].volt("out", "e") == pytest.approx(5 * 700 / 700.4)
    shorted, mode = settled(REGULATOR, [("out", "e", 2)])
    assert mode == "limit" and shorted.volt("out", "e") == pytest.approx(0.12, rel=1e-3)
    pushed, mode = settled(REGULATOR, [("out", "e", 700)], feed=("out", 12))
    assert mode == "blocked" and pushed.volt("out", "e") == pytest.approx(12, rel=1e-2)


def test_a_chip_gives_its_share_sources_and_sinks_so_much_and_dies_without_supply() -> None:
    assert settled(CHIP, [("o", "e", 180e3)], feed=("s", 5))[0].volt("o", "e") == pytest.approx(4.0, rel=1e-3)
    shorted, mode = settled(CHIP, [("o", "e", 0.3)], feed=("s", 5))
    assert mode == "most" and shorted.volt("o", "e") == pytest.approx(0.3 * 0.008, rel=1e-2)
    _, mode = settled(CHIP, [("o", "s", 0.3)], feed=("s", 5))
    assert mode == "least"
    unpowered, mode = settled(CHIP, [("o", "e", 180e3), ("s", "e", 1e6)])
    assert mode == "off" and unpowered.volt("o", "e") == pytest.approx(0, abs=1e-6)
