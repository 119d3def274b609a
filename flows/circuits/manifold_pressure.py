"""The manifold pressure and intake temperature circuit: one plug, four wires, a pressure chip and a thermistor in it."""

from collections.abc import Iterator
from functools import partial

import numpy as np

from flows.network.description import ControlInput, Description, Run, wire_run
from flows.network.faults import Fault
from flows.network.here import Here
from flows.network.kinds import ThermistorPart
from flows.network.moded import Ratiometric
from flows.network.power import ground_pin, power, rail, supply_pin
from flows.physics.atmosphere import P0_KPA
from flows.sensors import RatiometricPressure, Thermistor
from flows.sheet import MachineSheet
from flows.windows.temperature import ohm_at

CIRCUIT = "manifold-pressure"
ROLES = {"supply": "supply", "signal": "signal", "temperature": "signal", "ground": "ground"}  # in the plug's order
WIRE_OHM = (0.5, 3e6)  # resistance of a bad wire, searched for the least that counts
DRIFT_KPA = (0.2, 40.0)
SUCTION_SHARE = 0.8  # of the sheet's half width by which one engine draws more than another
HOSE = (
    Fault("hose-leak", "part", "hose off or leaking", where="hose"),
    Fault("hose-blocked", "part", "hose blocked", where="hose"),
    Fault("port-blocked", "part", "sensor port blocked", where="hose"),
)


def describe(sheet: MachineSheet) -> Description:
    """The circuit of this sheet, by its sensors `pressure` and `temperature`."""
    sheet = sheet.only("pressure", "temperature")
    chip, thermistor = sheet.sensors["pressure"], sheet.sensors["temperature"]
    if not isinstance(chip, RatiometricPressure) or not isinstance(thermistor, Thermistor):
        raise ValueError("this circuit needs a ratiometric_pressure 'pressure' and a thermistor 'temperature'")
    inputs = sheet.control_unit.inputs
    return Description(
        name=CIRCUIT,
        sheet=sheet,
        runs=tuple(_run(sheet, wire) for wire in ROLES),
        parts=(
            *power(),
            rail(),
            *supply_pin(sheet, out="pin.supply"),
            ground_pin("ground"),
            *(ControlInput(name=name, entry=entry) for name, entry in inputs.items()),
            _chip(sheet, chip),
            ThermistorPart(
                name="thermistor",
                a="sensor.temperature",
                b="sensor.ground",
                curve_ohm=partial(ohm_at, thermistor),
                tolerance_k=thermistor.tolerance_k,
                where="sensor",
            ),
        ),
        inputs=("pressure", "temperature"),
        supply="supply",
        looks={"hose-leak": "hose"},  # only a hose that is off can be seen from outside
        extra=HOSE,
        states=(
            {"vacuum": "on"},
            *({"engine": "cranking", "throttle": throttle} for throttle in ("closed", "open")),
        ),
    )


def _run(sheet: MachineSheet, wire: str) -> Run:
    made = wire_run(sheet, wire, device="plug", role=ROLES[wire], inside={"plug": f"sensor.{wire}"})  # type: ignore[arg-type]
    return Run(wire=wire, ends=made.ends, role=made.role, spans=WIRE_OHM)


def _chip(sheet: MachineSheet, chip: RatiometricPressure) -> Ratiometric:
    low_kpa, high_kpa = DRIFT_KPA
    return Ratiometric(
        name="sensor",
        supply="sensor.supply",
        out="sensor.signal",
        ground="sensor.ground",
        share=partial(_share, chip),
        supply_ohm=sheet.supply.nominal_v / chip.supply_ma * 1000,
        output_ohm=chip.output_ohm,
        low_share=chip.low_share,
        high_share=chip.high_share,
        sink_ohm=chip.sink_ohm if chip.unpowered == "sinks" else None,
        drift_span=(low_kpa * chip.a_per_kpa, high_kpa * chip.a_per_kpa),
        share_as="pressure",
        where="sensor",
    )


def _share(chip: RatiometricPressure, here: Here) -> np.ndarray:
    """Share of its supply that a chip of this engine puts out for the pressure at its port."""
    off_kpa = here.share("pressure") * np.array([chip.tolerance_at_kpa(float(t)) for t in here.air_c])
    made: np.ndarray = chip.a_per_kpa * (port_kpa(here) + off_kpa) - chip.b
    return made


def outside_kpa(here: Here) -> np.ndarray:
    """Pressure outside each engine: what its place says, moved by the weather."""
    spans = np.array([site.pressure_kpa()[:3] for site in here.crowd.places])[here.crowd.place_of]
    low, nominal, high = spans.T
    made: np.ndarray = nominal + here.share("weather") * (high - low) / 2
    return made


def port_kpa(here: Here) -> np.ndarray:
    """Pressure at the chip: outside, less what a hand pump or the cranking engine draws through the hose."""
    outside: np.ndarray = here.crowd.once("outside_kpa", partial(outside_kpa, here))
    if here.has("port-blocked"):
        return outside
    if here.at("vacuum") == "on":
        return outside - here.sheet.vacuum_kpa
    if here.at("engine") != "cranking" or here.has("hose-leak") or here.has("hose-blocked"):
        return outside
    drop = here.sheet.cranking.drop_kpa["open" if here.at("throttle") == "open" else "closed"]
    middle, half = (drop.low + drop.high) / 2, (drop.high - drop.low) / 2
    return outside - (middle + here.share("suction") * half * SUCTION_SHARE) * outside / P0_KPA


def variants(sheet: MachineSheet) -> Iterator[tuple[str, MachineSheet]]:
    """The pressure input pulled up and down, and the chip's output without power floating and sinking."""
    for pull in ("up", "down"):
        for unpowered in ("floats", "sinks"):
            pull_to_v = sheet.supply.nominal_v if pull == "up" else 0.0
            entry = sheet.control_unit.inputs["pressure"].model_copy(update={"pull": pull, "pull_to_v": pull_to_v})
            inputs = {**sheet.control_unit.inputs, "pressure": entry}
            unit = sheet.control_unit.model_copy(update={"inputs": inputs})
            chip = sheet.sensors["pressure"].model_copy(update={"unpowered": unpowered})
            sensors = {**sheet.sensors, "pressure": chip}
            yield f"{pull}/{unpowered}", sheet.model_copy(update={"control_unit": unit, "sensors": sensors})
