"""Every check a circuit allows, and what each would tell: which suspects a reading is compatible with.

Suspects are rows: a fault at one size (three sizes for a fault that has one), seen or unseen where eyes matter, and the
healthy engine. A check reads each row in its middle engine; what it tells leaves every row that could, over the healthy
tolerances and the meter's U, have given the same. Told are outcomes: low, in or high of what a healthy engine reads
here, of nothing and of battery, all three for the price of one. With by_value, and on a display, the number itself is
told, as if a check came with every window there could be.
"""

from collections.abc import Iterable, Iterator, Sequence
from functools import cached_property, reduce
from itertools import combinations, product
from operator import and_
from typing import Any

import numpy as np

from flows.meter import Meter
from flows.model import DEFAULT_STATE, Flow, Measure
from flows.network.alike import points_of, states_of
from flows.network.faults import NOMINAL
from flows.rules.live import ohms_forbidden
from flows.sheet import MachineSheet
from flows.site import Site
from flows.trial.costs import least_minutes, setups_of, ways_to
from flows.trial.lots import Engines
from flows.trial.solving import TrueValues
from flows.trial.telling import HEALTHY, Check, Read, Suspect, alike, spread, suspects_of, undominated


class CheckTable:
    """All checks of one circuit for one set of suspects; built once for a flow."""

    def __init__(
        self,
        circuit: Any,
        sheet: MachineSheet,
        meter: Meter,
        flow: Flow,
        *,
        site: Site | None = None,
        by_value: bool = False,
    ) -> None:
        self.circuit, self.sheet, self.meter, self.flow = circuit, sheet, meter, flow
        self._own = getattr(circuit, "sheet", sheet)  # what of the sheet this circuit knows
        self.site, self.by_value = site or Site(), by_value
        looks = [step.look.place for step in flow.steps.values() if step.look is not None]
        self.look_places = tuple(dict.fromkeys(looks))
        self.rows = suspects_of(circuit, self.look_places)
        faults = circuit.faults()
        self._faults = [None if row.fault == HEALTHY else faults[row.fault] for row in self.rows]
        self._cases = [
            (self._case([self.rows[i] for i in numbers], faults.get(name)), numbers)
            for name, numbers in _grouped(row.fault for row in self.rows).items()
        ]

    def _case(self, rows: Sequence[Suspect], fault: Any) -> TrueValues:
        """One fault in all engines that its rows are read in: each row's middle one first, then its spread."""
        draws = tuple(draw for row in rows for draw in spread(row.draw))
        n = len(draws)
        engines = Engines(draws, (self.site,), np.zeros(n, dtype=int), np.zeros(n), np.zeros(n), np.ones(n, dtype=bool))
        return TrueValues(self.circuit, fault, engines, meter_ohm=self.meter.input_ohm)

    def checks(self) -> list[Check]:
        """Every check that tells any two suspects apart, the cheapest of those that tell the same."""
        measures = [*self._displays()]
        for state in self.states():
            for red, black in self._pairs(state):
                measures += self._measures(red, black, state)
        told = zip(measures, self._read_all(measures), strict=True)
        return undominated([*self.looks(), *self._watches(), *(self._check(m, values) for m, values in told)])

    def check(self, measure: Measure) -> Check:
        """One reading as a check."""
        return self._check(measure, self._read_all([measure])[0])

    def _read_all(self, measures: Sequence[Measure]) -> np.ndarray:
        """True values of each measure, row and engine; fault by fault, so that a circuit keeps what it has solved."""
        made = np.zeros((len(measures), len(self.rows), len(spread(NOMINAL))))
        for values, numbers in self._cases:
            everyone = np.arange(len(numbers) * made.shape[2])
            for i, m in enumerate(measures):
                made[i, numbers] = values.reading(m.red, m.black, m.quantity, m.state, everyone).reshape(
                    len(numbers), -1
                )
        return made

    def _check(self, measure: Measure, values: np.ndarray) -> Check:
        top = self.meter.ranges[measure.quantity][-1].full_scale
        read = Read(np.where(np.abs(values) > top, np.inf, values), measure.quantity, self.meter)
        labels = read.by_value() if self.by_value or measure.black is None else self._outcomes(read, measure)
        return Check(_name(measure), least_minutes(measure, self.sheet), setups_of(measure, self.sheet), labels)

    def _outcomes(self, read: Read, measure: Measure) -> tuple[int, ...]:
        windows = [read.healthy()]
        if measure.quantity == "dc_voltage":
            most = self.sheet.limits.sensor_ground_v
            windows += [(-most, most), self._battery_v]
        told = [read.by_outcome(*ends) for ends in windows]
        return tuple(reduce(and_, row) for row in zip(*told, strict=True))

    @cached_property
    def _battery_v(self) -> tuple[float, float]:
        """What a healthy battery reads with the key on."""
        if not {"battery.positive", "battery.negative"} <= set(self.sheet.points):
            return (0.0, 0.0)
        on = Measure(quantity="dc_voltage", red="battery.positive", black="battery.negative", state={"key": "on"})
        return Read(self._read_all([on])[0], "dc_voltage", self.meter).healthy()

    def codes(self) -> Check:
        """The codes that are stored, as a check that costs nothing beside the opening."""
        stored = [
            self.circuit.codes(f, site=self.site, draw=r.draw) for f, r in zip(self._faults, self.rows, strict=True)
        ]
        return Check("codes", 0.0, frozenset(), alike(stored))

    def states(self) -> list[dict[str, str]]:
        """States a technician can bring about, one thing beside the key at a time, and those the flow uses."""
        made = [dict(state) for state in states_of(self.circuit.description) if not state.get("moving")]
        made += [dict(step.measure.state) for step in self.flow.steps.values() if step.measure is not None]
        whole = {tuple(sorted({**DEFAULT_STATE, **state}.items())) for state in made}
        return [dict(state) for state in sorted(whole)]

    # -- what there is --------------------------------------------------------------------------------------------

    def points(self) -> tuple[str, ...]:
        """Metal points of this circuit: those it knows, those the flow uses, and pins of the same wires elsewhere."""
        described = self.circuit.description
        everything = {**DEFAULT_STATE, **dict.fromkeys(described.items(), "out")}
        return tuple(p for p in points_of(described, everything) if p in self.sheet.points)

    def _pairs(self, state: dict[str, str]) -> Iterator[tuple[str, str]]:
        reached = [p for p in points_of(self.circuit.description, state) if p in self.sheet.points]
        yield from combinations(reached, 2)

    def _measures(self, red: str, black: str, state: dict[str, str]) -> Iterator[Measure]:
        """What a meter can read between two points: ohms where lint allows them only, what alternates while it turns."""
        used = {s.measure.quantity for s in self.flow.steps.values() if s.measure is not None and s.measure.black}
        turning = state.get("engine", "off") != "off"
        dead = not ohms_forbidden(Measure(quantity="resistance", red=red, black=black, state=state), self.sheet)
        for quantity in sorted(used | {"dc_voltage", "resistance"}):
            if quantity == "dc_voltage" or (dead if quantity == "resistance" else turning):
                yield Measure(quantity=quantity, red=red, black=black, state=state)

    def _displays(self) -> Iterator[Measure]:
        """The data display and other gauges the flow reads, in every state with the key on."""
        gauges = {
            (step.measure.red, step.measure.quantity)
            for step in self.flow.steps.values()
            if step.measure is not None and self.sheet.points[step.measure.red].kind != "metal"
        }
        for state, (red, quantity) in product(self.states(), sorted(gauges)):
            if state["key"] == "on":
                yield Measure(quantity=quantity, red=red, state=state)

    def looks(self) -> Iterator[Check]:
        """Every place the flow looks at."""
        for place in self.look_places:
            seen = [self.circuit.look(f, place, draw=r.draw) for f, r in zip(self._faults, self.rows, strict=True)]
            yield Check(f"look at {place}", self.sheet.costs.talk, ways_to({place}, self.sheet), alike(seen))

    def _watches(self) -> Iterator[Check]:
        """Every place the flow moves, watched on every reading the flow watches anywhere."""
        steps = [s for s in self.flow.steps.values() if s.watch is not None and s.measure is not None]
        read = {(s.measure.red, s.measure.black, s.measure.quantity): s for s in steps if s.measure is not None}
        moved = dict.fromkeys(place for s in steps if s.watch is not None for place in s.watch.places)
        for (_, on), moving in product(read.items(), moved):
            assert on.measure is not None
            m = on.measure
            near = {name for name, place in self.sheet.places.items() if place.spoken == moving}
            ways = setups_of(m, self.sheet) | ways_to(near, self.sheet)
            seen = alike(self._moves(m, moving))
            yield Check(f"move {moving}: {m.red}", least_minutes(m, self.sheet) + 0.3, ways, seen)

    # -- what it reads and costs ----------------------------------------------------------------------------------

    def _moves(self, m: Measure, place: str) -> list[bool]:
        """Whether each row's middle engine moves the reading."""
        made, each = [False] * len(self.rows), len(spread(NOMINAL))
        for values, numbers in self._cases:
            middles = np.arange(len(numbers)) * each
            for number, moved in zip(
                numbers, values.watch(m.red, m.black, m.quantity, m.state, place, middles), strict=True
            ):
                made[number] = bool(moved)
        return made


def _grouped(names: Iterable[str]) -> dict[str, list[int]]:
    made: dict[str, list[int]] = {}
    for number, name in enumerate(names):
        made.setdefault(name, []).append(number)
    return made


def _name(m: Measure) -> str:
    there = {k: v for k, v in m.state.items() if v != DEFAULT_STATE.get(k)}
    words = ", ".join(f"{k} {v}" for k, v in sorted(there.items()))
    return f"{m.quantity} {m.red} {m.black or ''} [{words}]"
