"""The oxygen sensor circuit: a narrow-band cell against the control unit's bias, and its heater on a feed and a driver."""

from typing import Any

from flows.circuits.believing import seen_v
from flows.circuits.description import ControlInput, Description, End, Monitor, Run, Sees, wire_run
from flows.circuits.here import Here
from flows.circuits.kinds import Contact, Resistance, Source
from flows.circuits.power import ground_pin, power, rail, supply_pin
from flows.physics.sensors import oxygen_cell_v
from flows.sheet import CoilSensor, MachineSheet, ValuesPart

CIRCUIT = "oxygen-sensor"
DEVICE = "oxygen_plug"
SEEN, PIN, EARTH = "inner.oxygen-signal", "pin.oxygen-heater-drive", "earth"
HEATER = ("oxygen_sensor.oxygen-heater-feed", "oxygen_sensor.oxygen-heater-drive")
WATCH_OHM = 47e3  # through which the control unit watches the heater's pin; invented
RUNNING = ("idle", "fast")
IDLE = {"engine": "idle"}
RICH = {"engine": "idle", "air_board": "fitted"}
LEAN = {"engine": "idle", "vacuum_hose": "off"}


def describe(sheet: MachineSheet) -> Description:
    """The circuit of this sheet."""
    heater, cell = sheet.sensors["oxygen-heater"], sheet.sensors["oxygen"]
    pulses = sheet.sensors["oxygen-heater-pulses"]
    assert isinstance(heater, CoilSensor) and isinstance(cell, ValuesPart) and isinstance(pulses, ValuesPart)
    duty = pulses.values["running_duty"]
    return Description(
        name=CIRCUIT,
        sheet=sheet,
        runs=(
            wire_run(sheet, "oxygen-heater-drive", device=DEVICE, role="drive"),
            _feed(sheet),
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
            *_heater(heater),
        ),
        # A tenth of a volt less of a rich signal, or a tenth less across the heater, is what the control unit minds.
        sees=(
            Sees(plus=SEEN, minus=EARTH, volt=0.1, state=RICH),
            Sees(plus=HEATER[0], minus=HEATER[1], share=0.1, state=IDLE),
        ),
        monitors=(
            Monitor(code="P0131", plus=SEEN, minus=EARTH, below=0.2),
            Monitor(code="P0132", plus=SEEN, minus=EARTH, above=1.5),
            Monitor(code="P0134", plus=SEEN, minus=EARTH, below=0.6, state=RICH),
            Monitor(code="P0135", plus=PIN, minus=EARTH, below=5.0),
            Monitor(code="P0135", plus=PIN, minus=EARTH, below=1.0, alternating=True, state=IDLE),
        ),
        displays={
            "oxygen": lambda solution, here: 100 * seen_v(solution, here.sheet, "oxygen-signal"),  # percent of a volt
            "oxygen-heater": lambda solution, here: solution.volt(PIN, EARTH),
        },
        without=("cell-high",),  # a cell gives no more than its gases make it
        states=(RICH, LEAN, {"oxygen_fuse": "pulled"}),
        points=("oxygen_fuse_box.live",),
        duty=lambda here: duty if here.state.get("engine") in RUNNING else None,
    )


def _cell(values: dict[str, float]) -> Source:
    """The cell: next to nothing while cold; hot, rich or lean by what is done to the air, the middle in closed loop."""
    rich, lean = (oxygen_cell_v(values[f"{mix}_atm"], values["hot_c"]) for mix in ("rich", "lean"))

    def hot(here: Here) -> bool:
        return here.state.get("engine") in RUNNING

    def volt(here: Here) -> Any:
        if not hot(here):
            return 0.0
        if here.at("air_board") == "fitted":
            return rich
        return lean if here.at("vacuum_hose") == "off" else (rich + lean) / 2

    return Source(
        name="cell",
        plus="oxygen_sensor.oxygen-signal",
        minus="oxygen_sensor.oxygen-ground",
        volt=volt,
        ohm=lambda here: values["hot_ohm"] if hot(here) else values["cold_ohm"],
        drift_span=(0.05, 0.95),
        where="oxygen_sensor",
    )


def _heater(heater: CoilSensor) -> tuple[Contact | Resistance, ...]:
    """Main relay, fuse, heater, driver and what watches its pin."""
    return (
        Contact(
            name="main",
            a="battery.positive",
            b="oxygen_fuse_box.live",
            closed=lambda here: float(here.key_on),
            healthy=True,
        ),
        Contact(
            name="fuse",
            a="oxygen_fuse_box.live",
            b="fuse.oxygen",
            closed=_fuse_holds,
            can=("blown",),
            where="oxygen_fuse_box",
        ),
        Resistance(
            name="heater",
            a=HEATER[0],
            b=HEATER[1],
            ohm=heater.ohm_20c,
            tolerance=heater.tolerance,
            per_k=heater.per_k,
            where="oxygen_sensor",
        ),
        Contact(
            name="driver",
            a=PIN,
            b=EARTH,
            closed=lambda here: float(here.state.get("engine") in RUNNING and here.phase == 1),
            ohm=0.15,
            where="unit",
        ),
        Resistance(name="watch", a=PIN, b=EARTH, ohm=WATCH_OHM, healthy=True),
    )


def _feed(sheet: MachineSheet) -> Run:
    """From the heater back to its fuse, which sits tight."""
    plug = End(place=DEVICE, inside=HEATER[0], item=sheet.item_of(DEVICE), tag="plug")
    fuse = End(place="oxygen_fuse_box", inside="fuse.oxygen", tag="fuse", contact=False)
    return Run(wire="oxygen-heater-feed", ends=(plug, fuse), role="feed")


def _fuse_holds(here: Here) -> float:
    """In its socket, and whole: a feed on ground has blown it."""
    return float(here.at("oxygen_fuse") == "in" and not here.has("oxygen-heater-feed-short-to-ground"))
