"""Sizes of faults: each counts in its own engine, no healthy engine does, and a fault of the least size just leaves a tolerance."""

from dataclasses import replace

import numpy as np
import pytest

from flows.circuits import CIRCUITS, MODULES, NOMINAL, Draw, variants
from flows.network.believing import believed
from flows.network.crowd import Crowd, alone
from flows.network.faults import Fault
from flows.site import Site
from flows.source import load_sheet
from flows.trial.engines import draw_engines

SHEET = load_sheet("th2")
SITE = Site(outdoor_c=20)
LEAST = 0.25  # severity of the least that counts
TOLERANCE_K = 2.5  # of the coolant sensor on the machine sheet


@pytest.mark.parametrize("name", sorted(MODULES))
def test_no_healthy_engine_counts_as_one_with_a_fault(name: str) -> None:
    engines = draw_engines(60, seed=3).crowd
    for _, sheet in variants(name, SHEET):
        shows = CIRCUITS[name](sheet).sizing.counts(Fault("nothing", "part", "nothing"), np.zeros(60), engines)
        assert not shows.any()


def seen_c(fault: str | None, share: float) -> float:
    """Display [degC] of an engine at 20 degC whose sensor lies there in its tolerance."""
    circuit = CIRCUITS["coolant-temperature"](SHEET)
    solved = circuit.solved(fault, {"key": "on"}, alone(SITE, Draw(thermistor=share, severity=LEAST)))
    return float(believed(solved.first, solved.here, "coolant")[0])


@pytest.mark.parametrize("share", [-0.95, 0.0, 0.95])
@pytest.mark.parametrize("fault", ["thermistor-drift-high", "thermistor-drift-low"])
def test_the_least_drift_is_the_tolerance_whatever_the_sensor_was_before(fault: str, share: float) -> None:
    assert abs(seen_c(fault, share) - 20) == pytest.approx(TOLERANCE_K, rel=0.03)


@pytest.mark.parametrize("share", [-0.95, -0.3, 0.0, 0.3, 0.95])
def test_the_least_resistance_leaves_the_tolerance_and_moves_the_display_by_as_much(share: float) -> None:
    """It makes the display colder. A sensor that reads warm has first to be brought back to nothing."""
    moved = seen_c(None, share) - seen_c("coolant-signal-resistance", share)
    left = 20 - seen_c("coolant-signal-resistance", share)
    assert min(moved, left) == pytest.approx(TOLERANCE_K, rel=0.03)


def test_one_engine_alone_has_the_size_it_has_among_others() -> None:
    circuit = CIRCUITS["throttle-position"](SHEET)
    draws = tuple(draw_engines(4, seed=8).draws)
    for fault in (f for f in circuit.faults(later=True).values() if f.grows is not None):
        among = circuit.sizing.size(fault, Crowd(draws, (SITE,) * 4))
        each = [circuit.size(fault, draw, site=SITE) for draw in draws]
        assert list(among) == pytest.approx(each, rel=1e-6)


def test_the_size_of_its_fault_is_no_part_of_an_engine() -> None:
    circuit = CIRCUITS["coolant-temperature"](SHEET)
    fault = circuit.faults()["thermistor-drift-low"]
    one, ten = (circuit.size(fault, replace(NOMINAL, severity=s), site=SITE) for s in (0.25, 2.5))
    assert ten == pytest.approx(10 * one)
