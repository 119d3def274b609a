"""What is kept of one fault's network and used for the next is what would be stamped anew."""

from itertools import product

import pytest

from flows.circuits import CIRCUITS, MODULES
from flows.network.alike import states_of
from flows.network.sizing import REFERENCE
from flows.network.stacked import Stack
from flows.source import load_sheet
from flows.trial.engines import draw_engines

SHEET = load_sheet("th2")
ENGINE = draw_engines(1, seed=1).crowd


@pytest.mark.parametrize("name", sorted(MODULES))
def test_a_network_after_many_others_is_as_if_stamped_alone(name: str) -> None:
    """Drifts, which take the place of a tolerance, opens, shorts, pairs and what is brought out, one after the other."""
    circuit = CIRCUITS[name](SHEET)
    faults = (None, *circuit.faults(later=True).values(), *list(circuit.pairs().values())[:4])
    states = [*states_of(circuit.description)[::5], {"key": "on", "moving": "harness"}]
    for fault, state in product(faults, states):
        for here in circuit.solved(fault, state, ENGINE).phases_here:
            alone = Stack(REFERENCE, here.count)
            for stamp in circuit.description.stamps:
                stamp(alone, here)
            circuit.description.stamp_bridges(alone, here)
            kept = circuit.stack(here)
            assert kept.branches == alone.branches and kept.controls == alone.controls, (fault, state)


def test_what_a_fault_does_not_feel_is_not_solved_again() -> None:
    circuit = CIRCUITS["coolant-temperature"](SHEET)
    rest, moved, wet = ({"key": "on", **more} for more in ({}, {"moving": "harness"}, {"wet": "coolant_plug"}))
    for fault in (None, "coolant-signal-open"):
        assert circuit.solved(fault, rest) is circuit.solved(fault, moved) is circuit.solved(fault, wet)
    loose = "coolant-signal-intermittent"
    assert circuit.solved(loose, rest) is circuit.solved(loose, wet) is not circuit.solved(loose, moved)
    leaks = "coolant-signal-leak-to-ground-when-wet"
    assert circuit.solved(leaks, rest) is circuit.solved(leaks, moved) is not circuit.solved(leaks, wet)
