"""The injector circuit: a fused feed, the coil, a wire to the control unit, and the driver that pulls it to ground."""

from flows.circuits.description import Description, End, Monitor, Run, Sees, wire_run
from flows.circuits.here import Here
from flows.circuits.kinds import COPPER_PER_K, Contact, Resistance
from flows.circuits.power import power
from flows.sheet import CoilSensor, MachineSheet, ValuesPart

CIRCUIT = "injector"
DEVICE = "injector_plug"
PIN, EARTH = "pin.injector-drive", "earth"
WATCH_OHM = 47e3  # through which the control unit watches its pin; invented
INSIDE = ("injector_sensor.injector-feed", "injector_sensor.injector-drive")
CRANKING = {"engine": "cranking"}


def describe(sheet: MachineSheet) -> Description:
    """The circuit of this sheet."""
    coil, pulses = sheet.sensors["injector"], sheet.sensors["injector-pulses"]
    assert isinstance(coil, CoilSensor) and isinstance(pulses, ValuesPart)
    duty = pulses.values["cranking_duty"]
    return Description(
        name=CIRCUIT,
        sheet=sheet,
        runs=(_feed(sheet), wire_run(sheet, "injector-drive", device=DEVICE, role="drive")),
        parts=(
            *power(),
            Contact(  # the main relay, whose own faults belong to another circuit
                name="main",
                a="battery.positive",
                b="injector_fuse_box.live",
                closed=lambda here: float(here.key_on),
                healthy=True,
            ),
            Contact(
                name="fuse",
                a="injector_fuse_box.live",
                b="fuse.injector",
                closed=_fuse_holds,
                can=("blown",),
                where="injector_fuse_box",
            ),
            Resistance(
                name="coil",
                a=INSIDE[0],
                b=INSIDE[1],
                ohm=coil.ohm_20c,
                tolerance=coil.tolerance,
                per_k=COPPER_PER_K,
                where="injector_sensor",
            ),
            Contact(
                name="driver",
                a=PIN,
                b=EARTH,
                closed=lambda here: float(here.turning and here.phase == 1),
                ohm=0.15,
                where="unit",
            ),
            Resistance(name="watch", a=PIN, b=EARTH, ohm=WATCH_OHM, healthy=True),
        ),
        # A tenth less across the injector lets it open late.
        sees=(Sees(plus=INSIDE[0], minus=INSIDE[1], share=0.1, state=CRANKING),),
        monitors=(
            Monitor(code="P0201", plus=PIN, minus=EARTH, below=5.0),
            Monitor(code="P0201", plus=PIN, minus=EARTH, below=1.0, alternating=True, state=CRANKING),
        ),
        displays={"injector": lambda solution, here: solution.volt(PIN, EARTH)},
        states=(CRANKING, {"injector_fuse": "pulled"}),
        points=("injector_fuse_box.live",),
        duty=lambda here: duty if here.turning else None,
    )


def _feed(sheet: MachineSheet) -> Run:
    """From the injector back to its fuse, which sits tight."""
    plug = End(place=DEVICE, inside=INSIDE[0], item=sheet.item_of(DEVICE), tag="plug")
    fuse = End(place="injector_fuse_box", inside="fuse.injector", tag="fuse", contact=False)
    return Run(wire="injector-feed", ends=(plug, fuse), role="feed")


def _fuse_holds(here: Here) -> float:
    """In its socket, and whole: a feed on ground has blown it."""
    return float(here.at("injector_fuse") == "in" and not here.has("injector-feed-short-to-ground"))
