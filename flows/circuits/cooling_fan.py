"""The cooling fan: fuse, motor, and a temperature switch that grounds it; live with the key off too."""

from flows.network.description import Description, End, Run, Sees
from flows.network.faults import OPEN_OHM
from flows.network.here import Here
from flows.network.kinds import COPPER_PER_K, Contact, Resistance
from flows.network.power import power
from flows.sensors import CoilSensor
from flows.sheet import MachineSheet

CIRCUIT = "cooling-fan"
CLOSES_C = 82  # invented
FUSE_OHM = 0.006
SHORT = "fan-feed-short-to-ground"


def describe(sheet: MachineSheet) -> Description:
    """The circuit of this sheet. A feed on ground has blown the fuse by the time anybody measures."""
    motor = sheet.sensors["fan"]
    assert isinstance(motor, CoilSensor)
    warm = {"warmth": "warm"}
    plug, switch = sheet.item_of("fan_plug"), sheet.item_of("fan_switch_plug")
    feed = Run(
        wire="fan-feed",
        ends=(
            End(place="fan_plug", inside="fan_sensor.fan-feed", item=plug),
            End(place="fan_fuse", inside="fuse.out", tag="fuse"),
        ),
        role="feed",
    )
    back = Run(
        wire="fan-return",
        ends=(
            End(place="fan_plug", inside="fan_sensor.fan-return", item=plug),
            End(place="fan_switch_plug", inside="switch.in", item=switch, tag="switch"),
        ),
        role="feed",  # on ground the fan runs all the time
    )
    return Description(
        name=CIRCUIT,
        sheet=sheet,
        runs=(feed, back),
        parts=(
            *power(),
            Contact(name="fuse", a="battery.positive", b="fuse.out", closed=_fuse_whole, ohm=FUSE_OHM, can=("blown",)),
            Resistance(
                name="motor",
                a="fan_sensor.fan-feed",
                b="fan_sensor.fan-return",
                ohm=motor.ohm_20c,
                tolerance=motor.tolerance,
                per_k=COPPER_PER_K,
                can=("open",),
            ),
            Contact(
                name="test-wire",
                a="fan_switch_plug.fan-return",
                b="engine.block",
                closed=lambda here: here.at("fan_bridge") == "fitted",
                ohm=0.005,
                off_ohm=OPEN_OHM,
                healthy=True,
            ),
            Contact(
                name="switch",
                a="switch.in",
                b="engine.block",
                closed=lambda here: here.coolant_c > CLOSES_C,
                ohm=0.006,
                can=("stuck-open", "stuck-closed", "resistance"),
            ),
        ),
        sees=(Sees(plus="fan_plug.fan-feed", minus="fan_plug.fan-return", share=0.1, state=warm),),
        clamps={"clamp.fan": "fan-feed"},
        states=(warm, {"fan_bridge": "fitted", switch: "out"}, {**warm, "moving": "fan_switch_plug"}),
        # the fan hangs on the engine, not on the control unit
        without=("unit-ground-resistance",),
    )


def _fuse_whole(here: Here) -> float:
    return 0.0 if here.has(SHORT) or here.at("fan_fuse_link") == "pulled" else 1.0
