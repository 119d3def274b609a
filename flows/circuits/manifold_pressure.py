"""The manifold pressure and intake temperature circuit: battery, grounds, control unit, four wires, chip, thermistor.

Nodes: battery.*, engine.block, earth (the control unit's own ground), inner.* (behind its inputs), pin.* (its pins),
unit.* and plug.* (the terminals at both ends of the harness, where probes go), sensor.* (the sensor's pins).
"""

import math
from collections.abc import Iterator, Mapping
from functools import lru_cache

from flows.circuits.classes import classes_of
from flows.circuits.faults import NOMINAL, OPEN_OHM, SHORT_OHM, Draw, Fault, Wrong, apply, by_name, wire_faults
from flows.circuits.network import Network, Solution
from flows.circuits.parts import PressureChip, Regulator
from flows.model import DEFAULT_STATE
from flows.physics.atmosphere import P0_KPA
from flows.physics.thermistor import beta_c, beta_ohm, steinhart_hart_c, steinhart_hart_ohm
from flows.physics.wiring import wire_ohm
from flows.sheet import MachineSheet, RatiometricPressure, Thermistor
from flows.site import Site

ORDER = ("supply", "signal", "temperature", "ground")
CONTACT_OHM = 0.005
ENGINE_CABLE_OHM = 0.0004
UNIT_CABLE_OHM = 0.008
UNIT_A = 0.8  # what the control unit itself takes with the key on
TYPICAL = 4.0  # a typical fault is this many times the least that counts
HERE = Site()

PART_FAULTS = (
    Fault("sensor-dead", "part", "pressure chip dead", where="sensor"),
    Fault("sensor-shorted", "part", "pressure chip shorts its supply", where="sensor"),
    Fault("sensor-drift-high", "part", "pressure reads high", where="sensor", grows=(0.2, 40)),
    Fault("sensor-drift-low", "part", "pressure reads low", where="sensor", grows=(0.2, 40)),
    Fault("thermistor-open", "part", "thermistor open", where="sensor"),
    Fault("thermistor-short", "part", "thermistor shorted", where="sensor"),
    Fault("thermistor-drift-high", "part", "thermistor reads warm", where="sensor", grows=(0.2, 40)),
    Fault("thermistor-drift-low", "part", "thermistor reads cold", where="sensor", grows=(0.2, 40)),
    Fault("regulator-low", "part", "sensor supply low", where="unit", grows=(0.001, 0.3)),
    Fault("regulator-high", "part", "sensor supply high", where="unit", grows=(0.001, 0.3)),
    Fault("regulator-dead", "part", "sensor supply dead", where="unit"),
    Fault("pressure-input-open", "part", "control unit's pressure input open", where="unit"),
    Fault("pressure-input-short", "part", "control unit's pressure input on ground", where="unit"),
    Fault("temperature-input-open", "part", "control unit's temperature input open", where="unit"),
    Fault("temperature-input-short", "part", "control unit's temperature input on ground", where="unit"),
    Fault("battery-weak", "part", "battery weak", where="battery"),
    Fault("engine-ground-resistance", "part", "engine ground cable bad", where="battery", grows=(0.001, 2)),
    Fault("unit-ground-resistance", "part", "control unit's ground bad", where="unit", grows=(0.005, 10)),
    Fault("hose-leak", "part", "hose off or leaking", where="hose"),
    Fault("hose-blocked", "part", "hose blocked", where="hose"),
    Fault("port-blocked", "part", "sensor port blocked", where="hose"),
)
SIZES = {"battery-weak": 0.7}


class ManifoldPressure:
    """The circuit of one machine sheet."""

    name = "manifold-pressure"

    def __init__(self, sheet: MachineSheet) -> None:
        self.sheet = sheet
        pressure, thermistor = sheet.sensors["pressure"], sheet.sensors["temperature"]
        if not isinstance(pressure, RatiometricPressure) or not isinstance(thermistor, Thermistor):
            raise ValueError("this circuit needs a ratiometric_pressure 'pressure' and a thermistor 'temperature'")
        self.pressure, self.thermistor = pressure, thermistor
        self._faults = by_name(self._generated())
        self._least: dict[tuple[str, Site], float] = {}
        self._classes: dict[str, frozenset[str]] | None = None
        self._solved = lru_cache(maxsize=4096)(self._solve)

    # -- faults -------------------------------------------------------------------------------------------------

    def _generated(self) -> Iterator[Fault]:
        yield from wire_faults(ORDER, ground="ground", supply="supply")
        yield from PART_FAULTS

    def faults(self) -> dict[str, Fault]:
        """Every fault of this circuit by name."""
        return dict(self._faults)

    def size(self, fault: Fault, draw: Draw = NOMINAL, *, site: Site = HERE) -> float:
        """Size of a fault: a few times the least at which what the control unit sees here leaves its tolerance."""
        if fault.grows is None:
            return SIZES.get(fault.name, 0.0)
        key = (fault.name, site)
        if key not in self._least:
            self._least[key] = self._search(fault, site)
        return self._least[key] * TYPICAL * draw.severity

    def _search(self, fault: Fault, site: Site) -> float:
        assert fault.grows is not None
        low, high = (math.log(x) for x in fault.grows)
        for _ in range(16):
            middle = (low + high) / 2
            low, high = (low, middle) if self._counts(fault, math.exp(middle), site) else (middle, high)
        return math.exp(high)

    def _counts(self, fault: Fault, size: float, site: Site) -> bool:
        """Whether a fault of this size shows: in what the control unit believes, the supply, or a ground limit."""
        state = {**DEFAULT_STATE, "key": "on"}
        solution = self._make(apply(fault, moving="", size=size), state, site=site, draw=NOMINAL)
        supply = self.sheet.supply
        if abs(solution.volt("plug.ground", "battery.negative")) > self.sheet.limits.sensor_ground_v:
            return True
        if abs(solution.volt("rail", "earth") / supply.nominal_v - 1) > supply.tolerance:
            return True
        pressure_kpa, temperature_c = self._believed(solution)
        true_kpa, true_c = self._outside_kpa(site, NOMINAL), _air_c(site)
        wrong_kpa, wrong_k = abs(pressure_kpa - true_kpa), abs(temperature_c - true_c)
        return wrong_kpa > self.pressure.tolerance_at_kpa(true_c) or wrong_k > self.thermistor.tolerance_k

    def classes(self) -> dict[str, frozenset[str]]:
        """Fault -> the faults that no probe pair, quantity and state separates from it (itself included)."""
        if self._classes is None:
            self._classes = classes_of(self)
        return self._classes

    # -- what can be read ---------------------------------------------------------------------------------------

    def reading(
        self,
        fault: Fault | str | None,
        red: str,
        black: str | None,
        quantity: str,
        state: Mapping[str, str],
        *,
        site: Site = HERE,
        meter_ohm: float = 10e6,
        draw: Draw = NOMINAL,
    ) -> float:
        """True value at the probe tips (or on the display), base unit; inf for an open line on ohms.

        state may have "moving": plug, harness or unit, for faults that come when something is moved.
        """
        if red.startswith("display."):
            return self.display(fault, red.removeprefix("display."), state, site=site, draw=draw)
        if red == "thermometer.air":
            return _air_c(site)
        if black is None:
            raise ValueError(f"a reading at {red} needs a second point")
        if red == black:
            return 0.0
        solution = self.solution(fault, state, site=site, draw=draw)
        if quantity == "resistance":
            live = abs(solution.volt(red, black)) > 0.05
            ohm = solution.between_ohm(red, black)
            return math.inf if live or ohm > 2e8 else ohm
        if quantity != "dc_voltage":
            raise ValueError(f"this circuit has no {quantity} to read; it has dc_voltage and resistance")
        return solution.metered_v(red, black, meter_ohm=meter_ohm)

    def display(
        self,
        fault: Fault | str | None,
        name: str,
        state: Mapping[str, str],
        *,
        site: Site = HERE,
        draw: Draw = NOMINAL,
    ) -> float:
        """What the data display shows for "pressure" [kPa] or "temperature" [degC]: the substitute after a code."""
        solution = self.solution(fault, state, site=site, draw=draw)
        entry = self.sheet.control_unit.inputs[name]
        volt = self._seen_v(solution, entry.wire)
        if volt < entry.low_below_v:
            return entry.substitute_low
        if volt > entry.high_above_v:
            return entry.substitute_high
        return self._believed(solution)[0 if name == "pressure" else 1]

    def codes(
        self,
        fault: Fault | str | None,
        state: Mapping[str, str] | None = None,
        *,
        site: Site = HERE,
        draw: Draw = NOMINAL,
    ) -> tuple[str, ...]:
        """Codes the control unit has stored, those of a fault that only comes when moved among them."""
        found = self._fault(fault)
        state = {**DEFAULT_STATE, "key": "on", **(state or {})}
        if found is not None and found.kind == "intermittent":
            state["moving"] = found.where
        solution = self.solution(found, state, site=site, draw=draw)
        stored = []
        for entry in self.sheet.control_unit.inputs.values():
            volt = self._seen_v(solution, entry.wire)
            if volt < entry.low_below_v:
                stored.append(entry.code_low)
            elif volt > entry.high_above_v:
                stored.append(entry.code_high)
        return tuple(stored)

    def look(self, fault: Fault | str | None, place: str, *, draw: Draw = NOMINAL) -> str:
        """What eyes find at a place. Only a hose that is off can be seen from outside."""
        found = self._fault(fault)
        return "bad" if found is not None and found.name == "hose-leak" and place == "hose" and draw.visible else "fine"

    def watch(
        self,
        fault: Fault | str | None,
        red: str,
        black: str | None,
        quantity: str,
        state: Mapping[str, str],
        *,
        place: str,
        site: Site = HERE,
        meter_ohm: float = 10e6,
        draw: Draw = NOMINAL,
    ) -> str:
        """Whether MIN/MAX shows a change while this place is moved: "steady" or "moved"."""
        rest, moved = (
            self.reading(
                fault, red, black, quantity, {**state, "moving": there}, site=site, meter_ohm=meter_ohm, draw=draw
            )
            for there in ("", moved_place(place))
        )
        if math.isinf(rest) or math.isinf(moved):
            return "steady" if rest == moved else "moved"
        least = 2.0 if red.startswith("display.") else 0.05
        return "moved" if abs(rest - moved) > least else "steady"

    def solution(
        self, fault: Fault | str | None, state: Mapping[str, str], *, site: Site = HERE, draw: Draw = NOMINAL
    ) -> Solution:
        """The solved network in this state; kept, since one state answers for all probe pairs."""
        return self._solved(self._fault(fault), tuple(sorted({**DEFAULT_STATE, **state}.items())), site, draw)

    def _solve(self, fault: Fault | None, state: tuple[tuple[str, str], ...], site: Site, draw: Draw) -> Solution:
        settings = dict(state)
        size = self.size(fault, draw, site=site) if fault else 0.0
        wrong = apply(fault, moving=settings.get("moving", ""), size=size)
        return self._make(wrong, settings, site=site, draw=draw)

    def _fault(self, fault: Fault | str | None) -> Fault | None:
        if isinstance(fault, str):
            if fault in ("", "none"):
                return None
            if fault not in self._faults:
                raise ValueError(f"this circuit has no fault '{fault}'; it has {', '.join(sorted(self._faults))}")
            return self._faults[fault]
        return fault

    # -- what the control unit makes of it ----------------------------------------------------------------------

    def _seen_v(self, solution: Solution, wire: str) -> float:
        """What the converter makes of an input: its share of the rail, in volts of a nominal supply."""
        rail_v, nominal_v = solution.volt("rail", "earth"), self.sheet.supply.nominal_v
        if rail_v < 1:
            return 0.0
        return min(max(solution.volt(f"inner.{wire}", "earth") / rail_v, 0.0), 1.0) * nominal_v

    def _believed(self, solution: Solution) -> tuple[float, float]:
        """Pressure [kPa] and temperature [degC] the control unit works out, codes or not."""
        nominal_v = self.sheet.supply.nominal_v
        share = self._seen_v(solution, "signal") / nominal_v
        pressure_kpa = (share + self.pressure.b) / self.pressure.a_per_kpa
        entry = self.sheet.control_unit.inputs["temperature"]
        share = min(max(self._seen_v(solution, "temperature") / nominal_v, 1e-4), 1 - 1e-4)
        return pressure_kpa, self._curve_c(entry.pull_ohm * share / (1 - share))

    def _curve_c(self, ohm: float) -> float:
        curve = self.thermistor.steinhart_hart
        if curve is not None:
            return steinhart_hart_c(ohm, a=curve.a, b=curve.b, c=curve.c)
        assert self.thermistor.r25_ohm is not None and self.thermistor.beta_k is not None
        return beta_c(ohm, r25_ohm=self.thermistor.r25_ohm, beta_k=self.thermistor.beta_k)

    def _curve_ohm(self, temperature_c: float) -> float:
        curve = self.thermistor.steinhart_hart
        if curve is not None:
            return steinhart_hart_ohm(temperature_c, a=curve.a, b=curve.b, c=curve.c)
        assert self.thermistor.r25_ohm is not None and self.thermistor.beta_k is not None
        return beta_ohm(temperature_c, r25_ohm=self.thermistor.r25_ohm, beta_k=self.thermistor.beta_k)

    # -- pressure -----------------------------------------------------------------------------------------------

    def _outside_kpa(self, site: Site, draw: Draw) -> float:
        low, nominal, high, _ = site.pressure_kpa()
        return nominal + draw.weather * (high - low) / 2

    def _port_kpa(self, wrong: Wrong, state: Mapping[str, str], *, site: Site, draw: Draw) -> float:
        """Pressure at the chip."""
        outside_kpa = self._outside_kpa(site, draw)
        if wrong.part == "port-blocked":
            return outside_kpa
        if state["vacuum"] == "on":
            return outside_kpa - self.sheet.vacuum_kpa
        if state["engine"] != "cranking" or wrong.part in ("hose-leak", "hose-blocked"):
            return outside_kpa
        drop = self.sheet.cranking.drop_kpa["open" if state["throttle"] == "open" else "closed"]
        middle, half = (drop.low + drop.high) / 2, (drop.high - drop.low) / 2
        return outside_kpa - (middle + draw.suction * half * 0.8) * outside_kpa / P0_KPA

    # -- the network --------------------------------------------------------------------------------------------

    def _make(self, wrong: Wrong, state: Mapping[str, str], *, site: Site, draw: Draw) -> Solution:
        parts = self._moded(wrong, state, site=site, draw=draw)
        modes = [part.start for part in parts]
        solution = None
        for _ in range(14):
            network = Network("battery.negative")
            self._power(network, wrong, state, draw=draw)
            self._unit(network, wrong, state, draw=draw)
            self._harness(network, wrong, state)
            self._sensor(network, wrong, site=site, draw=draw)
            for part, mode in zip(parts, modes, strict=True):
                part.stamp(network, mode)
            solution = network.solve()
            wanted = [part.follows(solution, mode) for part, mode in zip(parts, modes, strict=True)]
            if wanted == modes:
                break
            modes = wanted
        assert solution is not None
        return solution

    def _moded(
        self, wrong: Wrong, state: Mapping[str, str], *, site: Site, draw: Draw
    ) -> list[Regulator | PressureChip]:
        parts: list[Regulator | PressureChip] = [self._chip(wrong, state, site=site, draw=draw)]
        if state["key"] == "on" and wrong.part != "regulator-dead":
            supply = self.sheet.supply
            volt = self._rail_v(wrong, draw)
            parts.append(Regulator("pin.supply", "earth", volt, supply.output_ohm, supply.limit_ma / 1000))
        return parts

    def _rail_v(self, wrong: Wrong, draw: Draw) -> float:
        """The control unit's five volts: sensor supply, pull-ups and converter hang on it."""
        supply = self.sheet.supply
        sign = {"regulator-low": -1, "regulator-high": 1}.get(wrong.part, 0)
        return supply.nominal_v * (1 + draw.supply * supply.tolerance) * (1 + sign * wrong.size)

    def _chip(self, wrong: Wrong, state: Mapping[str, str], *, site: Site, draw: Draw) -> PressureChip:
        chip = self.pressure
        offset_kpa = draw.pressure * chip.tolerance_at_kpa(_air_c(site))
        offset_kpa += {"sensor-drift-high": wrong.size, "sensor-drift-low": -wrong.size}.get(wrong.part, 0.0)
        share = chip.a_per_kpa * (self._port_kpa(wrong, state, site=site, draw=draw) + offset_kpa) - chip.b
        return PressureChip(
            "sensor.supply",
            "sensor.signal",
            "sensor.ground",
            share=min(max(share, chip.low_share), chip.high_share),
            supply_ohm=2.0 if wrong.part == "sensor-shorted" else self.sheet.supply.nominal_v / chip.supply_ma * 1000,
            output_ohm=chip.output_ohm,
            sink_ohm=chip.sink_ohm if chip.unpowered == "sinks" else None,
            dead=wrong.part == "sensor-dead",
        )

    def _power(self, network: Network, wrong: Wrong, state: Mapping[str, str], *, draw: Draw) -> None:
        battery = self.sheet.battery
        weak = wrong.part == "battery-weak"
        emf_v, ohm = 12.55 + 0.1 * draw.battery - (wrong.size if weak else 0), battery.internal_ohm * (3 if weak else 1)
        if battery.chemistry == "lifepo4":
            emf_v += 0.7
        network.source("battery.positive", "battery.negative", volt=emf_v, ohm=ohm)
        cable = ENGINE_CABLE_OHM + (wrong.size if wrong.part == "engine-ground-resistance" else 0)
        network.resistor("engine.block", "battery.negative", cable)
        if state["key"] == "on":
            network.resistor("battery.positive", "engine.block", 12.5 / max(battery.key_on_a - UNIT_A, 0.1))
        if state["engine"] == "cranking":
            network.resistor("battery.positive", "engine.block", 10.5 / battery.cranking_a)

    def _unit(self, network: Network, wrong: Wrong, state: Mapping[str, str], *, draw: Draw) -> None:
        cable = UNIT_CABLE_OHM + (wrong.size if wrong.part == "unit-ground-resistance" else 0)
        network.resistor("earth", "engine.block", cable)
        key_on = state["key"] == "on"
        if key_on:
            network.resistor("battery.positive", "earth", 12.5 / UNIT_A)
            network.source("rail", "earth", volt=self._rail_v(wrong, draw), ohm=0.1)
        network.resistor("pin.supply", "earth", self.sheet.supply.nominal_v / self.sheet.supply.other_load_ma * 1000)
        network.resistor("pin.ground", "earth", 0.02)
        for name, entry in self.sheet.control_unit.inputs.items():
            inner, pin = f"inner.{entry.wire}", f"pin.{entry.wire}"
            if entry.pull == "up" and key_on:
                share = entry.pull_to_v / self.sheet.supply.nominal_v
                network.source(inner, "earth", volt=self._rail_v(wrong, draw) * share, ohm=entry.pull_ohm)
            else:
                network.resistor(inner, "earth", entry.pull_ohm)
            network.resistor(inner, pin, OPEN_OHM if wrong.part == f"{name}-input-open" else CONTACT_OHM)
            if wrong.part == f"{name}-input-short":
                network.resistor(inner, "earth", SHORT_OHM)

    def _harness(self, network: Network, wrong: Wrong, state: Mapping[str, str]) -> None:
        for wire in ORDER:
            spec = self.sheet.wires[wire]
            if state["control_unit_plug"] == "in":
                network.resistor(f"pin.{wire}", f"unit.{wire}", wrong.unit_contact_ohm.get(wire, CONTACT_OHM))
            ohm = wire_ohm(spec.area_mm2, spec.length_m) + wrong.series_ohm.get(wire, 0.0)
            network.resistor(f"unit.{wire}", f"plug.{wire}", ohm)
            if state["plug"] == "in":
                network.resistor(f"plug.{wire}", f"sensor.{wire}", wrong.plug_contact_ohm.get(wire, CONTACT_OHM))
        for one, two in wrong.shorts:
            network.resistor(one, two, SHORT_OHM)
        if state["jumper"] != "none":
            jumper = self.sheet.jumpers[state["jumper"]]
            network.resistor(*jumper.between, jumper.ohm)

    def _sensor(self, network: Network, wrong: Wrong, *, site: Site, draw: Draw) -> None:
        offset_k = draw.thermistor * self.thermistor.tolerance_k
        offset_k += {"thermistor-drift-high": wrong.size, "thermistor-drift-low": -wrong.size}.get(wrong.part, 0.0)
        ohm = {"thermistor-open": OPEN_OHM, "thermistor-short": 1.0}.get(wrong.part)
        network.resistor("sensor.temperature", "sensor.ground", ohm or self._curve_ohm(_air_c(site) + offset_k))


def moved_place(words: str) -> str:
    """plug, harness or unit from its name or from the sentence that asks to move it.

    >>> moved_place("Move the control unit plug."), moved_place("Move the sensor plug."), moved_place("the loom")
    ('unit', 'plug', 'harness')
    """
    if words in ("plug", "harness", "unit"):
        return words
    lowered = words.lower()
    return "unit" if "control unit" in lowered else "plug" if "plug" in lowered else "harness"


def _air_c(site: Site) -> float:
    return site.outdoor_c if site.thermometer_c is None else site.thermometer_c
