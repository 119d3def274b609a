"""The ignition primary: a fused feed, the coil's primary, a wire to the control unit and its driver. No secondary."""

from flows.network.description import Description
from flows.network.driven import Driven, driven_while_cranking
from flows.sheet import MachineSheet

CIRCUIT = "ignition-coil"


def describe(sheet: MachineSheet) -> Description:
    """The circuit of this sheet."""
    coil = Driven(
        sheet=sheet, word="ignition", stem="ignition", load="primary", sensor="ignition-primary", driver_ohm=0.05
    )
    return driven_while_cranking(coil, circuit=CIRCUIT, code="P0351", pulses="ignition-pulses")
