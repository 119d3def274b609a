"""The oxygen sensor circuit: a narrow-band cell against the control unit's bias, and its heater on a feed and a driver."""

from typing import Any

from flows.network.believing import seen_v
from flows.network.description import ControlInput, Description, Monitor, Sees, wire_run
from flows.network.driven import EARTH, Driven
from flows.network.here import Here
from flows.network.kinds import Source
from flows.network.power import ground_pin, power, rail, shown_v, supply_pin
from flows.physics.sensors import oxygen_cell_v
from flows.sensors import ValuesPart
from flows.sheet import MachineSheet

CIRCUIT = "oxygen-sensor"
DEVICE = "oxygen_plug"
SEEN = "inner.oxygen-signal"
IDLE = {"engine": "idle"}
RICH = {"engine": "idle", "air_board": "fitted"}
LEAN = {"engine": "idle", "vacuum_hose": "off"}


def describe(sheet: MachineSheet) -> Description:
    """The circuit of this sheet."""
    cell, pulses = sheet.sensors["oxygen"], sheet.sensors["oxygen-heater-pulses"]
    assert isinstance(cell, ValuesPart) and isinstance(pulses, ValuesPart)
    heater = Driven(
        sheet=sheet, word="oxygen", stem="oxygen-heater", load="heater", sensor="oxygen-heater", on=_running
    )
    duty = pulses.values["running_duty"]
    return Description(
        name=CIRCUIT,
        sheet=sheet,
        runs=(
            *heater.runs(),
            wire_run(sheet, "oxygen-signal", device=DEVICE),
            wire_run(sheet, "oxygen-ground", device=DEVICE, role="ground"),
        ),
        parts=(
            *power(),
            rail(),
            *supply_pin(sheet, healthy=True),
            ground_pin("oxygen-ground"),
            ControlInput(name="oxygen", entry=sheet.control_unit.inputs["oxygen"]),
            _cell(cell.values),
            *heater.parts(),
        ),
        # A tenth of a volt less of a rich signal, or a tenth less across the heater, is what the control unit minds.
        sees=(
            Sees(plus=SEEN, minus=EARTH, volt=0.1, state=RICH),
            Sees(plus=heater.inside[0], minus=heater.inside[1], share=0.1, state=IDLE),
        ),
        monitors=(
            Monitor(code="P0131", plus=SEEN, minus=EARTH, below=0.2),
            Monitor(code="P0132", plus=SEEN, minus=EARTH, above=1.5),
            Monitor(code="P0134", plus=SEEN, minus=EARTH, below=0.6, state=RICH),
            *heater.monitors("P0135", IDLE),
        ),
        displays={
            "oxygen": lambda solution, here: 100 * seen_v(solution, here.sheet, "oxygen-signal"),  # percent of a volt
            "oxygen-heater": lambda solution, here: shown_v(solution.volt(heater.pin, EARTH)),
        },
        without=("cell-high",),  # a cell gives no more than its gases make it
        states=(RICH, LEAN, {"oxygen_fuse": "pulled"}),
        points=(heater.live,),
        duty=lambda here: duty if _running(here) else None,
    )


def _running(here: Here) -> bool:
    """Hot exhaust, and the heater driven."""
    return here.state.get("engine") in ("idle", "fast")


def _cell(values: dict[str, float]) -> Source:
    """The cell: next to nothing while cold; hot, rich or lean by what is done to the air, the middle in closed loop."""
    rich, lean = (oxygen_cell_v(values[f"{mix}_atm"], values["hot_c"]) for mix in ("rich", "lean"))

    def volt(here: Here) -> Any:
        if not _running(here):
            return 0.0
        if here.at("air_board") == "fitted":
            return rich
        return lean if here.at("vacuum_hose") == "off" else (rich + lean) / 2

    return Source(
        name="cell",
        plus="oxygen_sensor.oxygen-signal",
        minus="oxygen_sensor.oxygen-ground",
        volt=volt,
        ohm=lambda here: values["hot_ohm"] if _running(here) else values["cold_ohm"],
        drift_span=(0.05, 0.95),
        where="oxygen_sensor",
    )
