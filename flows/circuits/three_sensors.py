"""Oil, fuel and water pressure sensors on one five volt reference and one sensor ground, each shared through a splice."""

from collections.abc import Iterator
from dataclasses import replace

from flows.network.description import ControlInput, End, Role, Run, wire_run
from flows.network.kinds import Kind
from flows.network.moded import Ratiometric
from flows.sensors import RatiometricPressure
from flows.sheet import MachineSheet

SENSORS = ("oil", "fuel", "water")


def tree(sheet: MachineSheet, rail: Role, *, sound: bool) -> tuple[Run, ...]:
    """The branches of `supply` or `ground` from the three plugs to their splice, and the trunk to the control unit.

    A branch on ground or battery is one piece of copper with the trunk: its shorts are the trunk's.
    sound: these wires have no faults here.
    """
    splice = f"splice.reference-{rail}"
    cut = End(place="splice", inside=splice, tag="splice", contact=False)
    unit = End(place="unit", inside=f"pin.reference-{rail}", item=sheet.item_of("unit"), tag="unit")
    branches = [
        Run(wire=f"{name}-{rail}", ends=(_plug(sheet, f"{name}-{rail}", name), cut), role=rail, shorts=())
        for name in SENSORS
    ]
    runs = (*branches, Run(wire=f"reference-{rail}", ends=(cut, unit), role=rail))
    return tuple(replace(run, kinds=(), shorts=()) for run in runs) if sound else runs


def _plug(sheet: MachineSheet, wire: str, name: str) -> End:
    place = f"{name}_plug"
    return End(place=place, inside=f"{name}_sensor.{wire}", item=sheet.item_of(place), tag="plug")


def signals(sheet: MachineSheet) -> tuple[Run, ...]:
    """The signal wires, sound: each has its own sensor's flow."""
    made = (wire_run(sheet, f"{name}-signal", device=f"{name}_plug") for name in SENSORS)
    return tuple(replace(run, kinds=(), shorts=()) for run in made)


def inputs(sheet: MachineSheet) -> tuple[Kind, ...]:
    """The control unit's inputs, sound."""
    known = sheet.control_unit.inputs
    return tuple(ControlInput(name=name, entry=known[name], healthy=True) for name in SENSORS)


def chips(sheet: MachineSheet, *, healthy: bool) -> tuple[Kind, ...]:
    """The three sensors with the engine at rest: no pressure."""
    return tuple(_chip(sheet, name, healthy=healthy) for name in SENSORS)


def _chip(sheet: MachineSheet, name: str, *, healthy: bool) -> Ratiometric:
    part = sheet.sensors[name]
    assert isinstance(part, RatiometricPressure)
    return Ratiometric(
        name=f"{name}-sensor",
        supply=f"{name}_sensor.{name}-supply",
        out=f"{name}_sensor.{name}-signal",
        ground=f"{name}_sensor.{name}-ground",
        share=-part.b,  # type: ignore[arg-type]  # a number stands for itself
        supply_ohm=sheet.supply.nominal_v / part.supply_ma * 1000,
        output_ohm=part.output_ohm,
        low_share=part.low_share,
        high_share=part.high_share,
        sink_ohm=part.sink_ohm if part.unpowered == "sinks" else None,
        tolerance=part.tolerance_kpa * part.a_per_kpa,
        where=f"{name}_sensor",
        healthy=healthy,
    )


def pulled(sheet: MachineSheet) -> Iterator[tuple[str, MachineSheet]]:
    """The inputs pulled up, as the TH-2 has them, and pulled down."""
    yield "pulled up", sheet
    unit = sheet.control_unit
    down = {n: unit.inputs[n].model_copy(update={"pull": "down", "pull_to_v": 0.0}) for n in SENSORS}
    yield (
        "pulled down",
        sheet.model_copy(update={"control_unit": unit.model_copy(update={"inputs": unit.inputs | down})}),
    )
