"""Every check a circuit allows, and what each would tell: which suspects a reading is compatible with.

Suspects are rows: a fault at one size (three sizes for a fault that has one), seen or unseen where eyes matter, and the
healthy engine. A check reads each row in its middle engine; what it tells leaves every row that could, over the healthy
tolerances and the meter's U, have given the same. Told are outcomes: low, in or high of what a healthy engine reads
here, of nothing and of battery, all three for the price of one. With by_value, and on a display, the number itself is
told, as if a check came with every window there could be.
"""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, reduce
from itertools import combinations, product
from operator import and_
from typing import Any

import numpy as np

from flows.circuits.alike import points_of, states_of
from flows.circuits.faults import NOMINAL, Draw
from flows.meter import Meter
from flows.model import DEFAULT_STATE, Flow, Measure, Step
from flows.rules.live import ohms_forbidden
from flows.sheet import MachineSheet
from flows.site import Site
from flows.trial.costs import places_of
from flows.trial.engines import SEVERITY
from flows.trial.lots import Engines
from flows.trial.solving import TrueValues

SIZES = (SEVERITY[0] * 1.5, 1.0, SEVERITY[1] / 1.2)  # times typical: small, typical, large
HEALTHY = "none"


@dataclass(frozen=True)
class Suspect:
    """One row: a fault at one size, with its share of the prior."""

    fault: str  # HEALTHY for none
    draw: Draw
    weight: float


@dataclass(frozen=True)
class Setup:
    """Something that is paid for once: a place made accessible, a plug off, a resistor fitted."""

    name: str
    minutes: float


@dataclass(frozen=True)
class Check:
    """One thing to find out. labels[row]: the rows its outcome is compatible with, as bits of a number."""

    name: str
    minutes: float  # talk, probe and key, without what is paid for once
    setups: frozenset[Setup]
    labels: tuple[int, ...]

    @property
    def most_minutes(self) -> float:
        return self.minutes + sum(setup.minutes for setup in self.setups)


def suspects_of(circuit: Any, look_places: Iterable[str]) -> tuple[Suspect, ...]:
    """Every fault with its rows, equal shares a fault; the healthy engine last, with no share."""
    rows: list[Suspect] = []
    places = tuple(look_places)
    for name, fault in circuit.faults().items():
        sizes = SIZES if getattr(fault, "grows", None) is not None else (1.0,)
        hidden = [circuit.look(fault, place, draw=replace(NOMINAL, visible=False)) for place in places]
        plain = [circuit.look(fault, place, draw=NOMINAL) for place in places]
        seen = (True, False) if hidden != plain else (True,)
        draws = [replace(NOMINAL, severity=size, visible=visible) for size, visible in product(sizes, seen)]
        rows += [Suspect(name, draw, 1 / len(draws)) for draw in draws]
    return (*rows, Suspect(HEALTHY, NOMINAL, 0.0))


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
        draws = tuple(draw for row in rows for draw in _spread(row.draw))
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
        made = np.zeros((len(measures), len(self.rows), len(_spread(NOMINAL))))
        for values, numbers in self._cases:
            everyone = np.arange(len(numbers) * made.shape[2])
            for i, m in enumerate(measures):
                made[i, numbers] = values.reading(m.red, m.black, m.quantity, m.state, everyone).reshape(
                    len(numbers), -1
                )
        return made

    def _check(self, measure: Measure, values: np.ndarray) -> Check:
        top = self.meter.ranges[measure.quantity][-1].full_scale
        read = _Read(np.where(np.abs(values) > top, np.inf, values), measure.quantity, self.meter)
        labels = read.by_value() if self.by_value or measure.black is None else self._outcomes(read, measure)
        return Check(_name(measure), self._minutes(measure), self._setups(measure), labels)

    def _outcomes(self, read: "_Read", measure: Measure) -> tuple[int, ...]:
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
        return _Read(self._read_all([on])[0], "dc_voltage", self.meter).healthy()

    def codes(self) -> Check:
        """The codes that are stored, as a check that costs nothing beside the opening."""
        stored = [
            self.circuit.codes(f, site=self.site, draw=r.draw) for f, r in zip(self._faults, self.rows, strict=True)
        ]
        return Check("codes", 0.0, frozenset(), _alike(stored))

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
            yield Check(f"look at {place}", self.sheet.costs.talk, self._ways({place}), _alike(seen))

    def _watches(self) -> Iterator[Check]:
        """Every place the flow moves, watched on every reading the flow watches anywhere."""
        steps = [s for s in self.flow.steps.values() if s.watch is not None and s.measure is not None]
        read = {(s.measure.red, s.measure.black, s.measure.quantity): s for s in steps if s.measure is not None}
        moved: dict[str, Step] = {place: s for s in steps if s.watch is not None for place in s.watch.places}
        for (_, on), (place, near) in product(read.items(), moved.items()):
            assert on.measure is not None
            m = on.measure
            ways = self._setups(m) | self._ways(set(near.places) & set(self.sheet.places))
            seen = _alike(self._moves(m, place))
            yield Check(f"move {place}: {m.red}", self.sheet.costs.talk + 0.3, ways, seen)

    # -- what it reads and costs ----------------------------------------------------------------------------------

    def _moves(self, m: Measure, place: str) -> list[bool]:
        """Whether each row's middle engine moves the reading."""
        made, each = [False] * len(self.rows), len(_spread(NOMINAL))
        for values, numbers in self._cases:
            middles = np.arange(len(numbers)) * each
            for number, moved in zip(
                numbers, values.watch(m.red, m.black, m.quantity, m.state, place, middles), strict=True
            ):
                made[number] = bool(moved)
        return made

    def _minutes(self, m: Measure) -> float:
        """The least a check costs: talk; a probe moved, with the key off for it and on again, unless a gauge is read."""
        costs, settle = self.sheet.costs, 0.0
        if m.black is None:
            return costs.talk
        cranks = m.state.get("engine") == "cranking"
        key = 2 * costs.key_cycle if m.state["key"] == "on" and not cranks else 0.0
        hands = costs.crank + 0.1 if cranks else costs.probe
        settle = self.sheet.settle_s / 60 if m.state["key"] == "on" and not cranks else 0.0
        return costs.talk + key + hands + settle

    def _setups(self, m: Measure) -> frozenset[Setup]:
        """What has to be there once. Taken as paid for good, which it is not: the bound stays a lower one."""
        costs, state = self.sheet.costs, m.state
        made = set(self._ways(places_of(m, self.sheet)))
        for item, value in state.items():
            if item in self.sheet.settings and value != self.sheet.home(item):
                made.add(Setup(f"{item} {value}", self.sheet.settings[item].minutes))
            elif item in self.sheet.plugs and value == "out":
                made.add(Setup(item, costs.plug))
        if state.get("jumper", "none") != "none":
            made.add(Setup(f"jumper {state['jumper']}", costs.jumper))
        if state.get("vacuum", "none") != "none":
            made.add(Setup("vacuum", costs.vacuum))
        return frozenset(made)

    def _ways(self, places: set[str]) -> frozenset[Setup]:
        known = self.sheet.places
        return frozenset(Setup(f"to {p}", known[p].access_minutes) for p in places if p in known)


class _Read:
    """One reading of every row: the middle, and the ends over healthy tolerances."""

    def __init__(self, values: np.ndarray, quantity: str, meter: Meter) -> None:
        self._middle, (self._low, self._high) = values[:, 0], _hull(values)
        self._u = np.asarray(meter.expanded_uncertainty(quantity, np.where(np.isinf(self._middle), 0.0, self._middle)))

    def healthy(self) -> tuple[float, float]:
        """Ends of what a healthy engine shows: the last row."""
        if np.isinf(self._middle[-1]):
            return (math.inf, math.inf)
        return float(self._low[-1] - self._u[-1]), float(self._high[-1] + self._u[-1])

    def by_value(self) -> tuple[int, ...]:
        """Labels when the number itself is told."""
        u, middle = self._u[:, None], self._middle[:, None]
        with np.errstate(invalid="ignore"):
            fits = (middle >= self._low - u) & (middle <= self._high + u)
        fits |= np.isinf(middle) & np.isinf(self._high)
        return tuple(_bits(row) for row in fits)

    def by_outcome(self, low: float, high: float) -> tuple[int, ...]:
        """Labels when it is told whether the reading is low, in, high, or an open line."""
        least, most, opens = self._low - self._u, self._high + self._u, np.isinf(self._high)
        always = np.isinf(self._middle)
        if math.isinf(low):
            could = [~always, np.zeros_like(opens), opens]
            told = np.where(always, 2, 0)
        else:
            could = [~always & (least < low), ~always & (most > high), opens, ~always & (least <= high) & (most >= low)]
            told = np.select([always, self._middle < low, self._middle > high], [2, 0, 1], 3)
        bits = [_bits(row) for row in could]
        return tuple(bits[code] | 1 << i for i, code in enumerate(told))


def undominated(checks: Iterable[Check]) -> list[Check]:
    """Checks that tell something, without those for which another tells at least as much and costs no more.

    Sound: telling more never makes an order longer, since what is told can be ignored.
    """
    kept: list[tuple[Check, int]] = []
    seen: set[tuple[tuple[int, ...], float, frozenset[Setup]]] = set()
    for check in sorted(checks, key=lambda c: (sum(label.bit_count() for label in c.labels), c.most_minutes)):
        key = (check.labels, check.minutes, check.setups)
        if key in seen or all(label == (1 << len(check.labels)) - 1 for label in check.labels):
            continue
        seen.add(key)
        whole = _joined(check.labels)
        if not any(
            o.minutes <= check.minutes and o.setups <= check.setups and whole & told == told for o, told in kept
        ):
            kept.append((check, whole))
    return [check for check, _ in kept]


def _joined(labels: tuple[int, ...]) -> int:
    """All labels side by side as one number."""
    width = len(labels)
    return sum(label << i * width for i, label in enumerate(labels))


def _spread(draw: Draw) -> tuple[Draw, ...]:
    """The row's middle engine, then one healthy tolerance after the other at its end."""
    names = [n for n, v in vars(NOMINAL).items() if isinstance(v, float) and v == 0.0]
    return (draw, *(replace(draw, **{name: 1.0}) for name in names))  # type: ignore[arg-type]


def _hull(values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Ends of what a row may read: what each tolerance does to it, all added up, as if each acted in a straight line."""
    middle = values[:, 0]
    with np.errstate(invalid="ignore"):
        apart = np.where(np.isinf(middle)[:, None], 0.0, np.abs(values[:, 1:] - middle[:, None]))
        half = np.nan_to_num(apart, nan=0.0, posinf=np.inf).sum(axis=1)
        low = np.where(np.isinf(half), np.minimum(middle, values.min(axis=1)), middle - half)
    return np.where(np.isinf(middle), middle, low), middle + half


def _grouped(names: Iterable[str]) -> dict[str, list[int]]:
    made: dict[str, list[int]] = {}
    for number, name in enumerate(names):
        made.setdefault(name, []).append(number)
    return made


def _alike(seen: list[Any]) -> tuple[int, ...]:
    """Labels of what is seen plainly: compatible with all that look the same."""
    return tuple(_bits(np.array([other == one for other in seen])) for one in seen)


def _bits(row: np.ndarray) -> int:
    return sum(1 << int(i) for i in np.flatnonzero(row))


def _name(m: Measure) -> str:
    there = {k: v for k, v in m.state.items() if v != DEFAULT_STATE.get(k)}
    words = ", ".join(f"{k} {v}" for k, v in sorted(there.items()))
    return f"{m.quantity} {m.red} {m.black or ''} [{words}]"
