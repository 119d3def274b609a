"""The throttle motor: two wires from a bridge in the control unit, a motor, and a plate that springs hold a little open."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from flows.network.description import Description, Monitor, Sees, wire_run
from flows.network.faults import Fault
from flows.network.here import Here
from flows.network.kinds import COPPER_PER_K, Contact, Kind, Resistance
from flows.network.power import power, shown_v
from flows.network.stacked import Stack, StackSolution, Value
from flows.sensors import CoilSensor, ValuesPart
from flows.sheet import MachineSheet

CIRCUIT = "throttle-motor"
DEVICE = "motor_plug"
TEST = {"motor_test": "opening"}
PLUS, MINUS = "pin.motor-plus", "pin.motor-minus"
DRIVER_OHM = 0.03
ENOUGH = 0.88  # share of the battery across the motor with which the plate comes as far as asked; invented
CUTS_OUT = (  # faults at which the bridge guards itself
    "motor-plus-short-to-ground",
    "motor-plus-short-to-battery",
    "motor-minus-short-to-ground",
    "motor-minus-short-to-battery",
    "motor-plus-short-to-motor-minus-wire",
)


def describe(sheet: MachineSheet) -> Description:
    """The circuit of this sheet."""
    motor, plate = sheet.sensors["throttle-motor"], sheet.sensors["plate"]
    assert isinstance(motor, CoilSensor) and isinstance(plate, ValuesPart)
    values, plug = plate.values, sheet.item_of(DEVICE)
    loaded = {**TEST, plug: "out", "jumper": "motor-load"}
    moved = ({**TEST, "moving": place} for place in ("harness", "unit"))
    return Description(
        name=CIRCUIT,
        sheet=sheet,
        runs=tuple(wire_run(sheet, wire, device=DEVICE, role="drive") for wire in ("motor-plus", "motor-minus")),
        parts=(
            *power(),
            *_bridge(bias_ohm=values["bias_ohm"]),
            Resistance(
                name="motor",
                a="motor_sensor.motor-plus",
                b="motor_sensor.motor-minus",
                ohm=motor.ohm_20c,
                tolerance=motor.tolerance,
                per_k=COPPER_PER_K,
                where="motor_sensor",
            ),
            Plate(name="plate"),
        ),
        # the control unit makes up for less by driving longer; from here on it no longer can
        sees=(Sees(plus="motor_sensor.motor-plus", minus="motor_sensor.motor-minus", share=0.15, state=TEST),),
        monitors=(
            Monitor(code="P2102", plus=PLUS, minus="earth", below=2.0),
            Monitor(code="P2103", plus=MINUS, minus="earth", above=10.0),
            Monitor(code="P2100", plus=PLUS, minus=MINUS, above=6.0),
        ),
        displays={
            "plate": lambda solution, here: _percent(solution, here, values),
            "motor-plus": lambda solution, here: shown_v(solution.volt(PLUS, "earth")),
            "motor-minus": lambda solution, here: shown_v(solution.volt(MINUS, "earth")),
        },
        states=(TEST, loaded, *moved),
        duty=lambda here: values["duty"] if _driven(here) else None,
        hz=lambda here: values["hz"],
    )


def _driven(here: Here) -> bool:
    cut = any(here.has(fault) for fault in CUTS_OUT) or here.has("bridge-dead")
    cut |= here.has("motor-short") and here.at(DEVICE) == "in"
    return here.key_on and here.at("motor_test") == "opening" and not cut


def _bridge(*, bias_ohm: float) -> tuple[Kind, ...]:
    """One half that pulses to the battery and freewheels to earth, one that stays at earth, and the bias at rest."""
    pulsed = lambda here: float(_driven(here) and here.phase == 1)  # noqa: E731
    return (
        Contact(
            name="bridge", a="battery.positive", b=PLUS, closed=pulsed, ohm=DRIVER_OHM, can=("dead",), where="unit"
        ),
        Contact(
            name="freewheel",
            a=PLUS,
            b="earth",
            closed=lambda here: float(_driven(here) and here.phase == 0),
            ohm=DRIVER_OHM,
            healthy=True,
        ),
        Contact(
            name="low-side", a=MINUS, b="earth", closed=lambda here: float(_driven(here)), ohm=DRIVER_OHM, healthy=True
        ),
        Contact(
            name="bias-up",
            a="battery.positive",
            b=PLUS,
            closed=lambda here: float(here.key_on),
            ohm=bias_ohm,
            healthy=True,
        ),
        Resistance(name="bias-down", a=MINUS, b="earth", ohm=bias_ohm, healthy=True),
    )


@dataclass(frozen=True, kw_only=True)
class Plate(Kind):
    """The plate and its springs. Faults: sticks (stays where it rests), fallen (the spring that holds it open is gone)."""

    where: str = "motor_sensor"

    def faults(self) -> Iterator[Fault]:
        yield self.fault("sticks", "sticks")
        yield self.fault("fallen", "falls shut")

    def stamp(self, net: Stack, here: Here) -> None:
        """Nothing electrical about it."""


def _percent(solution: StackSolution, here: Here, values: Mapping[str, float]) -> Value:
    """Where the plate stands [percent open]: from rest as far as the motor is given of the battery."""
    rest = values["fallen_percent"] if here.has("plate-fallen") else values["rest_percent"]
    if here.has("plate-sticks") or here.has("motor-open"):
        return rest
    given = solution.volt("motor_sensor.motor-plus", "motor_sensor.motor-minus") / solution.volt(
        "battery.positive", "battery.negative"
    )
    share = np.clip(given / ENOUGH, 0.0, 1.0) if _driven(here) else 0.0
    return rest + (values["driven_percent"] - rest) * share
