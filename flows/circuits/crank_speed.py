"""The crank speed circuit: an inductive pick-up, two wires, an input that is pulled up and so sees an open coil."""

from flows.network.description import ControlInput, Description, Monitor, Sees, wire_run
from flows.network.kinds import Generator
from flows.network.power import ground_pin, power, rail, supply_pin
from flows.sensors import CoilSensor, ValuesPart
from flows.sheet import MachineSheet

CIRCUIT = "crank-speed"
DEVICE = "crank_plug"
SEEN, EARTH = "inner.crank-signal", "earth"
LEAST_V = 0.45  # pulses [V rms] below which the control unit counts no teeth; invented
CRANKING = {"engine": "cranking"}


def describe(sheet: MachineSheet) -> Description:
    """The circuit of this sheet."""
    coil, pulses = sheet.sensors["crank"], sheet.sensors["crank-pulses"]
    assert isinstance(coil, CoilSensor) and isinstance(pulses, ValuesPart)
    entry = sheet.control_unit.inputs["crank"]
    hz_per_rpm = pulses.values["hz_per_rpm"]
    return Description(
        name=CIRCUIT,
        sheet=sheet,
        runs=(
            wire_run(sheet, "crank-signal", device=DEVICE),
            wire_run(sheet, "crank-ground", device=DEVICE, role="ground"),
        ),
        parts=(
            *power(),
            rail(),
            *supply_pin(sheet, healthy=True),
            ground_pin("crank-ground"),
            ControlInput(name="crank", entry=entry),
            Generator(
                name="sensor",
                a="crank_sensor.crank-signal",
                b="crank_sensor.crank-ground",
                ohm_20c=coil.ohm_20c,
                tolerance=coil.tolerance,
                volt_per_rpm=pulses.values["volt_per_rpm"],
                hz_per_rpm=hz_per_rpm,
                where="crank_sensor",
            ),
        ),
        # The bias may lie half a volt off, the pulses a third, before teeth are missed.
        sees=(
            Sees(plus=SEEN, minus=EARTH, volt=0.5),
            Sees(plus=SEEN, minus=EARTH, share=0.33, alternating=True, state=CRANKING),
        ),
        monitors=(
            Monitor(code=entry.code_low, plus=SEEN, minus=EARTH, below=entry.low_below_v),
            Monitor(code=entry.code_high, plus=SEEN, minus=EARTH, above=entry.high_above_v),
            Monitor(code=entry.code_low, plus=SEEN, minus=EARTH, below=LEAST_V, alternating=True, state=CRANKING),
        ),
        states=(CRANKING,),
        hz=lambda here: here.rpm * hz_per_rpm,
    )
