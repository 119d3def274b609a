"""Ohms that must not be measured: on a live circuit, or through the control unit."""

from flows.model import DEFAULT_STATE, Measure
from flows.sheet import MachineSheet

LIVE = "Ohms on a live circuit hurt meter and control unit. Key off first."
THROUGH = "Ohms through the control unit may hurt it, and tell nothing. Take its plug off first."


def danger_of(measure: Measure, sheet: MachineSheet) -> str:
    """Why a reading must not be taken, as a sentence; "" when it may be."""
    if measure.quantity != "resistance":
        return ""
    state = {**DEFAULT_STATE, **measure.state}
    if state["key"] == "on" or state["engine"] != "off":
        return LIVE
    plugged = bool(sheet.item_of("unit")) and state["control_unit_plug"] == "in"
    return THROUGH if plugged and any(_reaches_unit(p, state, sheet) for p in (measure.red, measure.black) if p) else ""


def _reaches_unit(point: str, state: dict[str, str], sheet: MachineSheet) -> bool:
    """Whether a wire leads from this point to the control unit with nothing taken off in between."""
    place, _, name = point.partition(".")
    wire = sheet.wires.get(name)
    if wire is None or "unit" not in wire.pins:
        return False
    device = place.removesuffix("_sensor") + "_plug"
    own_pin = place == "sensor" or place.endswith("_sensor")
    item = sheet.item_of("plug" if place == "sensor" else device) if own_pin else ""
    return not (item and state.get(item) == "out")
