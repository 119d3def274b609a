"""The throttle position circuit: a potentiometer, three wires, an input pulled down or up in the control unit."""

from collections.abc import Iterator

from flows.network.description import ControlInput, Description, wire_run
from flows.network.here import Here
from flows.network.kinds import Potentiometer
from flows.network.power import ground_pin, power, rail, supply_pin
from flows.sensors import PotentiometerSensor
from flows.sheet import MachineSheet

CIRCUIT = "throttle-position"
DEVICE = "throttle_plug"


def describe(sheet: MachineSheet) -> Description:
    """The circuit of this sheet."""
    sensor = sheet.sensors["throttle"]
    assert isinstance(sensor, PotentiometerSensor)

    def share(here: Here) -> float:
        return sensor.share(1.0 if here.at("throttle") == "open" else 0.0)

    return Description(
        name=CIRCUIT,
        sheet=sheet,
        runs=(
            wire_run(sheet, "throttle-supply", device=DEVICE, role="supply"),
            wire_run(sheet, "throttle-signal", device=DEVICE),
            wire_run(sheet, "throttle-ground", device=DEVICE, role="ground"),
        ),
        supply="throttle-supply",
        parts=(
            *power(),
            rail(),
            *supply_pin(sheet, "pin.throttle-supply"),
            ground_pin("throttle-ground"),
            ControlInput(name="throttle", entry=sheet.control_unit.inputs["throttle"]),
            Potentiometer(
                name="sensor",
                top="throttle_sensor.throttle-supply",
                wiper="throttle_sensor.throttle-signal",
                bottom="throttle_sensor.throttle-ground",
                ohm=sensor.ohm,
                wiper_ohm=sensor.wiper_ohm,
                share=share,
                rest_share=sensor.closed_share,
                tolerance=sensor.tolerance_share,
                moved_at="throttle_lever",
                where="throttle_sensor",
            ),
        ),
        inputs=("throttle",),
        states=({"throttle": "open"},),
    )


def variants(sheet: MachineSheet) -> Iterator[tuple[str, MachineSheet]]:
    """The input pulled down, as the TH-2 has it, and pulled up."""
    yield "pulled down", sheet
    unit = sheet.control_unit
    entry = unit.inputs["throttle"].model_copy(update={"pull": "up", "pull_to_v": sheet.supply.nominal_v})
    yield (
        "pulled up",
        sheet.model_copy(
            update={"control_unit": unit.model_copy(update={"inputs": {**unit.inputs, "throttle": entry}})}
        ),
    )
