"""What is worked out for many engines at once is what each engine says alone: codes, movements, readings."""

import numpy as np
import pytest

from flows.circuits import CIRCUITS
from flows.network.described import LEAST_MOVED as DESCRIBED_LEAST
from flows.source import load_sheet
from flows.trial.engines import draw_engines
from flows.trial.solving import LEAST_MOVED, TrueValues

SHEET = load_sheet()


def test_a_movement_is_seen_as_by_the_circuit() -> None:
    assert LEAST_MOVED == DESCRIBED_LEAST


@pytest.mark.parametrize("name", sorted(CIRCUITS))
def test_codes_of_many_are_the_codes_of_each(name: str) -> None:
    circuit, engines = CIRCUITS[name](SHEET), draw_engines(3, seed=8)
    faults = circuit.faults()
    for fault in (None, *list(faults.values())[:: max(1, len(faults) // 12)]):
        values = TrueValues(circuit, fault, engines, meter_ohm=1e7)
        together = values.has_codes(np.arange(3))
        assert list(together) == [bool(values.codes(i)) for i in range(3)], fault


@pytest.mark.parametrize("name", ["coolant-temperature", "throttle-position"])
def test_movements_of_many_are_the_movements_of_each(name: str) -> None:
    circuit, engines = CIRCUITS[name](SHEET), draw_engines(3, seed=9)
    red = next(
        p for p in SHEET.points if p.startswith("display.") and p.partition(".")[2] in circuit.description.inputs
    )
    for fault in circuit.faults().values():
        if fault.kind != "intermittent":
            continue
        values = TrueValues(circuit, fault, engines, meter_ohm=1e7)
        seen = values.watch(red, None, "ratio", {"key": "on"}, fault.where, np.arange(3))
        alone = [
            circuit.watch(
                fault,
                red,
                None,
                "ratio",
                {"key": "on"},
                place=fault.where,
                site=engines.places[i],
                draw=engines.draws[i],
            )
            for i in range(3)
        ]
        assert [("moved" if moved else "steady") for moved in seen] == alone, fault
