"""The sensor ground that three sensors share: three branches, a splice, a trunk to the control unit."""

from collections.abc import Iterator

from flows.circuits.three_sensors import SENSORS, chips, inputs, pulled, signals, tree
from flows.network.description import Description
from flows.network.power import ground_pin, power, rail, supply_pin
from flows.sheet import MachineSheet

CIRCUIT = "sensor-ground"


def describe(sheet: MachineSheet) -> Description:
    """The circuit of this sheet. Supply, signals and sensors are sound here: they have flows of their own."""
    return Description(
        name=CIRCUIT,
        sheet=sheet,
        runs=(*tree(sheet, "supply", sound=True), *signals(sheet), *tree(sheet, "ground", sound=False)),
        parts=(
            *power(),
            rail(),
            *supply_pin(sheet, "pin.reference-supply", healthy=True),
            ground_pin("reference-ground"),
            *inputs(sheet),
            *chips(sheet, healthy=True),
        ),
        inputs=SENSORS,
    )


def variants(sheet: MachineSheet) -> Iterator[tuple[str, MachineSheet]]:
    """The inputs pulled up and down."""
    yield from pulled(sheet)
