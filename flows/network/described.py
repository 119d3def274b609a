"""A described circuit solved: readings, displays, codes and faults of one description, one engine or many at once."""

import math
from collections.abc import Mapping
from functools import cached_property, lru_cache

import numpy as np

from flows.model import DEFAULT_STATE
from flows.network.alike import classes_of, conditions_of, states_of
from flows.network.believing import believed, seen_v
from flows.network.conditions import ON_THE_BENCH, come_and_go, without_effect
from flows.network.crowd import Crowd, alone
from flows.network.description import Description
from flows.network.faults import NOMINAL, Draw, Fault, by_name
from flows.network.here import Here
from flows.network.moded import Moded
from flows.network.pairs import pairs_of
from flows.network.sizing import REFERENCE, Sizes, Sizing
from flows.network.solved import Solved
from flows.network.stacked import Stack, StackSolution
from flows.network.stamped import Stamps
from flows.network.unserved import unserved
from flows.sensors import PotentiometerSensor
from flows.site import Site

HERE = Site()
NOMINAL_ENGINE = alone(HERE, NOMINAL)
TRIES = 20  # of modes
LEAST_MOVED = {"display": 2.0, "dc_voltage": 0.05, "ac_voltage": 0.05, "resistance": 1.0, "current": 0.1}
State = Mapping[str, str]
Key = tuple[tuple[str, str], ...]


class DescribedCircuit:
    """The circuit of one description; the same methods as every circuit, and `readings` for many engines at once."""

    def __init__(self, description: Description) -> None:
        self.description, self.sheet, self.name = description, description.sheet, description.name
        self._stamps = Stamps(description, REFERENCE)
        self.sizing = Sizing(description, self._made)
        self._one = lru_cache(maxsize=4096)(self._solve)
        self._many = lru_cache(maxsize=24)(self._solve)
        generated = by_name(description.generated())
        self._every = {n: f for n, f in generated.items() if f.grows is None or self.sizing.ever_counts(f, HERE)}
        self._later = unserved(description.name, self._every)

    # -- faults -------------------------------------------------------------------------------------------------

    def faults(self, *, later: bool = False) -> dict[str, Fault]:
        """Every fault by name; one that never leaves a tolerance, however big, is none here.

        later: those too that its flow does not look for yet.
        """
        return {name: fault for name, fault in self._every.items() if later or name not in self._later}

    def come_and_go(self) -> dict[str, Fault]:
        """Faults under a condition, by name."""
        return dict(by_name(come_and_go(self.description, self._every.values())))

    def pairs(self) -> dict[str, Fault]:
        """Two at once of those that its flow looks for, by name; bounded in number."""
        return dict(by_name(pairs_of(self.description, self.faults().values())))

    def classes(self) -> dict[str, frozenset[str]]:
        """Fault -> the faults that no probe pair, quantity and state separates from it (itself included)."""
        return self._classes

    @cached_property
    def _classes(self) -> dict[str, frozenset[str]]:
        return classes_of(self, self._every, states_of(self.description))

    def classes_come_and_go(self) -> dict[str, frozenset[str]]:
        """The same among those that come and go, each brought out; one that nothing on the bench brings out is alone."""
        return self._classes_come_and_go

    @cached_property
    def _classes_come_and_go(self) -> dict[str, frozenset[str]]:
        faults = self.come_and_go()
        shown = {name: fault for name, fault in faults.items() if fault.when in ON_THE_BENCH}
        alike = classes_of(self, shown, [*states_of(self.description), *conditions_of(shown.values())])
        return {name: alike.get(name, frozenset({name})) for name in faults}

    def size(self, fault: Fault, draw: Draw = NOMINAL, *, site: Site = HERE) -> float:
        """Size of a fault: a few times the least at which something leaves its tolerance here."""
        return float(self.sizing.size(fault, alone(site, draw))[0])

    # -- what can be read ---------------------------------------------------------------------------------------

    def reading(
        self,
        fault: Fault | str | None,
        red: str,
        black: str | None,
        quantity: str,
        state: State,
        *,
        site: Site = HERE,
        meter_ohm: float = 10e6,
        draw: Draw = NOMINAL,
    ) -> float:
        """True value at the probe tips, on a display or a gauge, base unit; inf for an open line on ohms."""
        crowd = alone(site, draw)
        return float(self.readings(fault, red, black, quantity, state, crowd=crowd, meter_ohm=meter_ohm)[0])

    def readings(
        self,
        fault: Fault | str | None,
        red: str,
        black: str | None,
        quantity: str,
        state: State,
        *,
        crowd: Crowd,
        meter_ohm: float = 10e6,
    ) -> np.ndarray:
        """`reading` for many engines, solved together: one value an engine."""
        kind, _, name = red.partition(".")
        solved = self.solved(fault, state, crowd)
        if kind == "display":
            return self._shown(solved, name)
        if red in self.description.gauges:
            return np.broadcast_to(self.description.gauges[red](solved.here), solved.here.count).astype(float)
        if kind == "thermometer":
            return solved.here.air_c
        if kind == "clamp":
            return self._clamped(solved, red)
        if black is None:
            raise ValueError(f"a reading at {red} needs a second point")
        if red == black:
            return np.zeros(solved.here.count)
        return self._at_tips(solved, red, black, quantity, meter_ohm)

    def _at_tips(self, solved: Solved, red: str, black: str, quantity: str, meter_ohm: float) -> np.ndarray:
        if quantity == "resistance":
            ohm = solved.first.between_ohm(red, black)
            live = np.abs(solved.dc(red, black)) > 0.05
            return np.where(live | (ohm > 2e8), np.inf, ohm)
        if quantity == "ac_voltage":
            return solved.ac(red, black, meter_ohm=meter_ohm)
        if quantity == "frequency":
            hz = self.description.hz
            swings = solved.ac(red, black, meter_ohm=meter_ohm) > 0.2
            return np.where(swings, hz(solved.here) if callable(hz) else hz, 0.0)
        if quantity != "dc_voltage":
            raise ValueError(f"no {quantity} between two points; it has dc_voltage, ac_voltage, resistance, frequency")
        return solved.dc(red, black, meter_ohm=meter_ohm)

    def _clamped(self, solved: Solved, clamp: str) -> np.ndarray:
        run = self.description.run(self.description.clamps[clamp])
        return solved.dc(run.node(1), run.node(0)) / self.description.ohm(run, solved.here)

    def display(
        self, fault: Fault | str | None, name: str, state: State, *, site: Site = HERE, draw: Draw = NOMINAL
    ) -> float:
        """What the data display shows: the substitute after a code."""
        return float(self._shown(self.solved(fault, state, alone(site, draw)), name)[0])

    def _shown(self, solved: Solved, name: str) -> np.ndarray:
        if name in self.description.displays:
            value = self.description.displays[name](solved.first, solved.here)
            return np.broadcast_to(np.asarray(value, dtype=float), solved.here.count)
        entry = self.sheet.control_unit.inputs[name]
        volt = seen_v(solved.first, self.sheet, entry.wire)
        value = believed(solved.first, solved.here, name)
        if isinstance(self.sheet.sensors[name], PotentiometerSensor):
            value = np.clip(value, 0.0, 100.0)  # a display shows no opening below shut or above wide open
        value = np.where(volt > entry.high_above_v, entry.substitute_high, value)
        return np.where(volt < entry.low_below_v, entry.substitute_low, value)

    def codes(
        self, fault: Fault | str | None, state: State | None = None, *, site: Site = HERE, draw: Draw = NOMINAL
    ) -> tuple[str, ...]:
        """Codes the control unit has stored, those of a fault that only comes when moved among them."""
        found = self._fault(fault)
        base = {**DEFAULT_STATE, "key": "on", **(state or {})}
        if found is not None and found.kind == "intermittent":
            base[found.when] = found.where
        solved = self.solved(found, base, alone(site, draw))
        stored = []
        for name in self.description.inputs:
            entry = self.sheet.control_unit.inputs[name]
            volt = float(seen_v(solved.first, self.sheet, entry.wire)[0])
            if volt < entry.low_below_v:
                stored.append(entry.code_low)
            elif volt > entry.high_above_v:
                stored.append(entry.code_high)
        for monitor in self.description.monitors:
            there = self.solved(found, {**base, **monitor.state}, alone(site, draw))
            volt = float((there.ac if monitor.alternating else there.dc)(monitor.plus, monitor.minus)[0])
            low = monitor.below is not None and volt < monitor.below
            if low or (monitor.above is not None and volt > monitor.above):
                stored.append(monitor.code)
        return tuple(dict.fromkeys(stored))

    def look(self, fault: Fault | str | None, place: str, *, draw: Draw = NOMINAL) -> str:
        """What eyes find at a place: what the description says can be seen there."""
        found = self._fault(fault)
        seen = found is not None and self.description.looks.get(found.name) == place and draw.visible
        return "bad" if seen else "fine"

    def watch(
        self,
        fault: Fault | str | None,
        red: str,
        black: str | None,
        quantity: str,
        state: State,
        *,
        place: str,
        by: str = "moving",
        site: Site = HERE,
        meter_ohm: float = 10e6,
        draw: Draw = NOMINAL,
    ) -> str:
        """Whether MIN/MAX shows a change while this place is moved, wet, warmed or chilled: "steady" or "moved"."""
        rest, moved = (
            self.reading(fault, red, black, quantity, {**state, by: there}, site=site, meter_ohm=meter_ohm, draw=draw)
            for there in ("", self.moved_place(place))
        )
        if math.isinf(rest) or math.isinf(moved):
            return "steady" if rest == moved else "moved"
        least = LEAST_MOVED["display"] if red.startswith("display.") else LEAST_MOVED.get(quantity, 0.05)
        return "moved" if abs(rest - moved) > least else "steady"

    def moved_place(self, words: str) -> str:
        """Place of the sheet from its name, its spoken words or the sentence that asks to move it; else the harness."""
        if words in self.sheet.places or words == "harness":
            return words
        lowered = words.lower()
        spoken = {place.spoken.lower(): name for name, place in self.sheet.places.items()}
        found = [said for said in spoken if said in lowered]
        return spoken[max(found, key=len)] if found else "harness"

    # -- solving ------------------------------------------------------------------------------------------------

    def solved(self, fault: Fault | str | None, state: State, crowd: Crowd = NOMINAL_ENGINE) -> Solved:
        """The network in this state; kept, since one state answers for all probe pairs."""
        found = self._fault(fault)
        idle = without_effect(found, state)
        set_so = {**DEFAULT_STATE, **state}.items()
        key = tuple(sorted((k, v) for k, v in set_so if v and v != self.sheet.home(k) and k not in idle))
        solve = self._one if len(crowd) == 1 else self._many
        return solve(found, key, crowd)

    def solve(self, fault: Fault | None, state: State, crowd: Crowd) -> Solved:
        """The network in this state, solved anew."""
        return self._made(fault, self.sizing.of(fault, crowd), state, crowd)

    def _solve(self, fault: Fault | None, key: Key, crowd: Crowd) -> Solved:
        return self.solve(fault, dict(key), crowd)

    def _made(self, fault: Fault | None, sizes: Sizes, state: State, crowd: Crowd) -> Solved:
        here = Here(self.sheet, {**DEFAULT_STATE, **state}, crowd, fault, sizes)
        duty = self.description.duty(here)
        if duty is None:
            return Solved(here, [(1.0, self._settled(here))])
        each = [Here(self.sheet, here.state, crowd, fault, sizes, phase=phase) for phase in (1, 0)]
        phases = [(w, self._settled(now)) for w, now in zip((duty, 1 - duty), each, strict=True)]
        return Solved(here, phases, each)

    def _settled(self, here: Here) -> StackSolution:
        """Solved again until every part's mode is the one its voltages call for."""
        moded = [part for part in self.description.parts if isinstance(part, Moded)]
        here.modes = {part.name: np.full(here.count, part.start) for part in moded}
        for attempt in range(TRIES):
            solution = self.stack(here).solve()
            wanted = {part.name: part.follows(solution, here) for part in moded}
            changed = [name for name, mode in here.modes.items() if not np.array_equal(wanted[name], mode)]
            if not changed or attempt == TRIES - 1:
                break
            together = changed if attempt < TRIES // 2 else changed[:1]  # two that chase each other go one at a time
            here.modes = {**here.modes, **{name: wanted[name] for name in together}}
        return solution

    def stack(self, here: Here) -> Stack:
        """The network as stamped, in the modes that `here` has."""
        return self._stamps.stack(here)

    def _fault(self, fault: Fault | str | None) -> Fault | None:
        if not isinstance(fault, str):
            return fault
        if fault in ("", "none"):
            return None
        if fault in self._every:
            return self._every[fault]
        found = (self.come_and_go() | self.pairs()).get(fault)
        if found is None:
            raise ValueError(f"this circuit has no fault '{fault}'; it has {', '.join(sorted(self._every))}")
        return found
