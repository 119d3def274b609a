"""The simulated engine of a rehearsal or practice: a circuit with a hidden fault, and who is right about it."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from flows.meter import Meter
from flows.network.faults import NOMINAL, Draw, Fault
from flows.site import Site
from runner.job import Job
from runner.rehearsal.technician import StepNotes


class SimulatedEngine:
    """A circuit with one hidden fault, as hands, eyes and a meter can reach it."""

    def __init__(self, circuit: Any, fault: Fault | None, *, site: Site, meter: Meter, draw: Draw) -> None:
        self._circuit = circuit
        self._fault = fault
        self._here: dict[str, Any] = {"site": site, "draw": draw}
        self._meter = meter

    def true_value(
        self, red: str, black: str | None, quantity: str, state: Mapping[str, str], *, hold: str | None
    ) -> float:
        return self._circuit.reading(
            self._fault, red, black, quantity, state, meter_ohm=self._meter.input_ohm, **self._here
        )

    def looks(self, place: str) -> str:
        return self._circuit.look(self._fault, place, draw=self._here["draw"])

    def moves(
        self, place: str, red: str, black: str | None, quantity: str, state: Mapping[str, str], *, by: str = "moving"
    ) -> bool:
        here = {"meter_ohm": self._meter.input_ohm, **self._here}
        seen = self._circuit.watch(self._fault, red, black, quantity, state, place=place, by=by, **here)
        return bool(seen == "moved")

    def codes(self) -> tuple[str, ...]:
        return tuple(self._circuit.codes(self._fault, **self._here))


def drawn(seed: int) -> Draw:
    """A healthy engine out of many: seed 0 is the nominal one, any other a draw inside the sheet's tolerances."""
    if seed == 0:
        return NOMINAL
    rng = np.random.default_rng([seed, 1])
    supply, pressure, thermistor, weather, suction, battery = (
        round(float(share), 3) for share in rng.uniform(-1, 1, 6)
    )
    return Draw(
        supply=supply,
        pressure=pressure,
        thermistor=thermistor,
        weather=weather,
        suction=suction,
        battery=battery,
        severity=float(rng.uniform(1, 3)),
    )


def notes_of(job: Job) -> dict[str, StepNotes]:
    """What a technician needs hands and eyes for, step by step."""
    return {
        name: StepNotes(
            kind=step.kind,
            quantity=step.measure.quantity if step.measure else None,
            hold=step.measure.hold if step.measure else None,
            look_place=step.look.place if step.look else None,
            reply=step.ask.reply if step.ask else None,
            choices=step.ask.choices if step.ask else (),
            places=step.places,
            watch_places=step.watch.places if step.watch else (),
        )
        for name, step in job.flow.steps.items()
    }


def is_right(blames: tuple[str, ...], fault: str | None, classes: Mapping[str, frozenset[str]]) -> bool:
    """The finding holds the injected fault and nothing outside its class; with no fault, nothing is blamed."""
    if fault is None:
        return not blames
    return fault in blames and set(blames) <= classes[fault]
