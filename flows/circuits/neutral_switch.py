"""The neutral switch circuit: a switch to the engine block, closed in neutral; an input pulled up in the control unit."""

from dataclasses import replace

from flows.network.description import ControlInput, Description, End, Monitor, Run, Sees, wire_run
from flows.network.kinds import Contact
from flows.network.power import power, rail, shown_v, supply_pin
from flows.sensors import ValuesPart
from flows.sheet import MachineSheet

CIRCUIT = "neutral-switch"
DEVICE = "neutral_plug"
SEEN, EARTH = "inner.neutral-signal", "earth"
GEAR = {"gear_lever": "gear"}


def describe(sheet: MachineSheet) -> Description:
    """The circuit of this sheet."""
    part = sheet.sensors["neutral"]
    assert isinstance(part, ValuesPart)
    ground = Run(
        wire="neutral-ground",
        ends=(
            End(place=DEVICE, inside="neutral_sensor.neutral-ground", item=sheet.item_of(DEVICE), tag="plug"),
            End(place="engine", inside="engine.block", tag="engine", contact=False),
        ),
        role="ground",
    )
    return Description(
        name=CIRCUIT,
        sheet=sheet,
        # On a battery wire the closed switch blows that wire's fuse: the signal is well again, and the complaint another.
        runs=(replace(wire_run(sheet, "neutral-signal", device=DEVICE), shorts=("ground", "supply")), ground),
        parts=(
            *power(grounds=False),  # the ground flows look for these
            rail(),
            *supply_pin(sheet, healthy=True),
            ControlInput(name="neutral", entry=sheet.control_unit.inputs["neutral"]),
            Contact(
                name="switch",
                a="neutral_sensor.neutral-signal",
                b="neutral_sensor.neutral-ground",
                closed=lambda here: float(here.at("gear_lever") == "neutral"),
                ohm=part.values["contact_ohm"],
                can=("stuck-open", "stuck-closed", "resistance"),
                where="neutral_sensor",
            ),
        ),
        # Half a volt from nothing or from the five volts, and the control unit may take the one for the other.
        sees=(Sees(plus=SEEN, minus=EARTH, volt=0.5), Sees(plus=SEEN, minus=EARTH, volt=0.5, state=GEAR)),
        monitors=(
            Monitor(code="P0852", plus=SEEN, minus=EARTH, above=2.5),
            Monitor(code="P0851", plus=SEEN, minus=EARTH, below=2.5, state=GEAR),
        ),
        # The ground wire ends on the engine block: what touches or leaks to it touches or leaks to ground.
        without=("neutral-signal-short-to-neutral-ground-wire", "neutral-signal-leak-to-neutral-ground-wire"),
        displays={"neutral": lambda solution, here: shown_v(solution.volt(SEEN, EARTH))},
        states=(GEAR,),
    )
