"""Ohms only on what is dead and free at both ends, and never through the control unit or the pressure chip."""

from flows.model import Measure
from flows.rules.subject import Subject
from flows.sheet import MachineSheet, Point


def live_ohms(subject: Subject) -> None:
    """ohms-live: resistance with the key on, with an end still plugged in, or through the chip."""
    for name, step in subject.flow.steps.items():
        if step.measure is None or step.measure.quantity != "resistance":
            continue
        why = ohms_forbidden(step.measure, subject.sheet)
        if why:
            fix = "key off, both plugs off, and between pins of the harness"
            subject.problem(name, "measure", rule="ohms-live", what=f"step '{name}' reads ohms {why}", fix=fix)


def ohms_forbidden(measure: Measure, sheet: MachineSheet) -> str:
    """Why ohms may not be read so, "" where they may."""
    points = [sheet.points[p] for p in (measure.red, measure.black) if p]
    if measure.state.get("key") != "off" or measure.state.get("engine") != "off":
        return "with the key on"
    wires = [p.name.rpartition(".")[2] for p in points if p.name.rpartition(".")[2] in sheet.wires]
    if not wires:
        return ""
    if any(p.place == "sensor" for p in points):
        return "" if set(wires) <= {"temperature", "ground"} else "through the pressure chip"
    for point in points:
        why = _plugged(point, measure, sheet)
        if why:
            return why
    return ""


def _plugged(point: Point, measure: Measure, sheet: MachineSheet) -> str:
    """Which end of this point's wire is still plugged in; a device's own pins want its own plug off only."""
    wire = sheet.wires.get(point.name.rpartition(".")[2])
    device = point.place.removesuffix("_sensor") + "_plug"
    ends = [device] if point.place.endswith("_sensor") else list(wire.pins) if wire else []
    for place in sorted(ends, key=lambda name: name == "unit"):
        item = sheet.item_of(place)
        if item and measure.state.get(item) != "out":
            return (
                "through the control unit" if place == "unit" else f"with the {sheet.places[place].spoken} plugged in"
            )
    return ""
