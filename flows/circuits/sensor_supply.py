"""The five volt reference that three sensors share: a trunk from the control unit, a splice, three branches."""

from collections.abc import Iterator

from flows.circuits.three_sensors import SENSORS, chips, inputs, pulled, signals, tree
from flows.network.description import Description, Monitor, Sees
from flows.network.power import ground_pin, power, rail, supply_pin
from flows.sheet import MachineSheet

CIRCUIT = "sensor-supply"
LOW_V, HIGH_V = 4.55, 5.45  # the control unit stores a code of its reference beyond these; invented


def describe(sheet: MachineSheet) -> Description:
    """The circuit of this sheet. Grounds and signals are sound here: they have flows of their own."""
    return Description(
        name=CIRCUIT,
        sheet=sheet,
        runs=(*tree(sheet, "supply", sound=False), *signals(sheet), *tree(sheet, "ground", sound=True)),
        supply="reference-supply",
        parts=(
            *power(),
            rail(),
            *supply_pin(sheet, "pin.reference-supply"),
            ground_pin("reference-ground"),
            *inputs(sheet),
            *chips(sheet, healthy=False),
        ),
        inputs=SENSORS,
        sees=tuple(Sees(plus=f"{n}_plug.{n}-supply", minus="earth", share=sheet.supply.tolerance) for n in SENSORS),
        monitors=(
            Monitor(code="P0641", plus="pin.reference-supply", minus="earth", below=LOW_V),
            Monitor(code="P0641", plus="pin.reference-supply", minus="earth", above=HIGH_V),
        ),
        # of a sensor only what drags the supply down; its signal has a flow of its own
        without=tuple(f"{n}-sensor-{what}" for n in SENSORS for what in ("dead", "drift-high", "drift-low")),
    )


def variants(sheet: MachineSheet) -> Iterator[tuple[str, MachineSheet]]:
    """The inputs pulled up and down."""
    yield from pulled(sheet)
