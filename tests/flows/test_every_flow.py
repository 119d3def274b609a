"""Every flow we ship, walked on every generated fault of its circuit, in every variant of the sheet.

A new flow is tested by lying in the library. Nothing is ever blamed wrongly; with the control unit's plug in reach
every fault of typical size is found; without it a flow may end undecided, saying so.
"""

from dataclasses import replace

import numpy as np
import pytest

from flows.circuits import CIRCUITS, Draw, variants
from flows.meter import load_meter
from flows.model import Flow
from flows.network.crowd import Crowd
from flows.network.described import DescribedCircuit
from flows.rules import lint
from flows.site import Site
from flows.source import LIBRARY, load_flow, load_sheet, shipped_flows
from flows.walker import World, drawn, verdict, walk
from flows.walks import Told, walks

SHEET = load_sheet("th2")
OWN_TEST = {"manifold-pressure"}  # walked by test_manifold_pressure_faults.py
FLOWS = [name for name in shipped_flows() if name not in OWN_TEST]
DRAWS = 1  # `leadsman trial` draws many more engines, far cheaper; here the walker that is independent of it meets one


@pytest.fixture(scope="module", params=FLOWS)
def flow(request: pytest.FixtureRequest) -> Flow:
    """One flow after the other, so that all tests of one share its circuit and what that has solved."""
    return load_flow(request.param, SHEET)


@pytest.fixture(scope="module")
def circuit(flow: Flow) -> DescribedCircuit:
    made = CIRCUITS[flow.circuit](SHEET)
    assert isinstance(made, DescribedCircuit)
    return made


@pytest.fixture(scope="module")
def told(flow: Flow) -> list[Told]:
    return list(walks(flow.name, draws=DRAWS))


def test_every_walk_ends_at_a_finding(told: list[Told]) -> None:
    assert not [str(one) for one in told if not one.walked.finding]


def test_nothing_is_blamed_wrongly(told: list[Told]) -> None:
    assert not [str(one) for one in told if one.verdict == "wrong"]


def test_every_fault_is_found_with_the_control_unit_in_reach(told: list[Told]) -> None:
    assert not [str(one) for one in told if one.reaches and one.draw == 0 and one.verdict != "right"]


def test_a_healthy_engine_is_never_blamed(told: list[Told]) -> None:
    assert not [str(one) for one in told if one.fault == "none" and one.walked.blames]


@pytest.mark.parametrize("shown_v", [0.0, 0.7])
def test_a_back_probe_that_never_touches_condemns_nothing(
    flow: Flow, circuit: DescribedCircuit, shown_v: float
) -> None:
    """At any pin of any plug, while that plug is in, the meter shows nothing or a ghost, however often it is seated."""
    world = World(SHEET, circuit, flow, load_meter(), misses_v=shown_v)
    measured = [step.measure for step in flow.steps.values() if step.measure is not None]
    points = {p for m in measured for p in (m.red, m.black) if p and SHEET.item_of(p.partition(".")[0])}
    for point in sorted(p for p in points if not p.startswith("unit.")):
        for fault in (None, *circuit.faults()):
            walked = walk(replace(world, misses=point), fault)
            assert verdict(walked, fault, circuit.classes()) != "wrong", (point, fault, walked.finding, walked.path)


def test_it_passes_lint(flow: Flow) -> None:
    assert not lint(LIBRARY / f"{flow.name}.yaml", SHEET)


def test_codes_of_the_circuit_lead_to_the_flow(flow: Flow) -> None:
    for _, sheet in variants(flow.circuit, SHEET):
        circuit = CIRCUITS[flow.circuit](sheet)
        stored = {code for fault in circuit.faults() for code in circuit.codes(fault)}
        assert stored <= set(flow.codes)
        assert stored <= set(sheet.codes), "give the codes of the circuit their words on the sheet"


def test_many_engines_at_once_read_as_one_at_a_time(flow: Flow, circuit: DescribedCircuit) -> None:
    draws, sites = _engines(5)
    crowd = Crowd(draws, sites)
    checks = [step.measure for step in flow.steps.values() if step.kind == "check" and step.measure is not None]
    for fault in list(circuit.faults())[::4]:
        for m in checks[::3]:
            many = circuit.readings(fault, m.red, m.black, m.quantity, m.state, crowd=crowd)
            one = [
                circuit.reading(fault, m.red, m.black, m.quantity, m.state, site=site, draw=draw)
                for site, draw in zip(sites, draws, strict=True)
            ]
            assert list(many) == pytest.approx(one, rel=1e-6, abs=1e-5)


def _engines(count: int) -> tuple[tuple[Draw, ...], tuple[Site, ...]]:
    made = [drawn(np.random.default_rng([7, i])) for i in range(count)]
    return tuple(engine for engine, *_ in made), tuple(site for _, site, *_ in made)
