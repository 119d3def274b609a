"""The injector circuit: a fused feed, the coil, a wire to the control unit, and the driver that pulls it to ground."""

from flows.network.description import Description
from flows.network.driven import Driven, driven_while_cranking
from flows.sheet import MachineSheet

CIRCUIT = "injector"


def describe(sheet: MachineSheet) -> Description:
    """The circuit of this sheet."""
    injector = Driven(sheet=sheet, word="injector", stem="injector", load="coil", sensor="injector")
    return driven_while_cranking(injector, circuit=CIRCUIT, code="P0201", pulses="injector-pulses")
