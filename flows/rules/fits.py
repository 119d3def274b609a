"""A step's window is of the quantity the step reads, and can be worked out on this machine."""

from collections.abc import Mapping
from typing import Any

from flows.meter import load_meter
from flows.rules.subject import Subject
from flows.site import Site
from flows.units import QUANTITIES, spoken_unit
from flows.windows import WindowError, compute

SITE = Site(outdoor_c=20, thermometer_c=20, qnh_hpa=1013)
METER = load_meter()
TRIED = (2.5, 0.5, 5.0, 12.6, 100.0)  # readings of earlier steps: one of them is no nonsense for any window


def fits(subject: Subject) -> None:
    """unit-misfit, unworkable-window: what a step expects is not what it reads, or no reading makes a window of it."""
    for name, step in subject.flow.steps.items():
        if step.measure is None or not step.expect:
            continue
        unit, why = _unit_of(subject, step.expect)
        wanted = QUANTITIES[step.measure.quantity].base
        function = next(iter(step.expect))
        if why:
            fix = "give it the part, input or step it asks for, or take another window"
            subject.problem(name, "expect", rule="unworkable-window", what=f"step '{name}': {why}", fix=fix)
        elif unit != wanted:
            what = f"step '{name}' reads {spoken_unit(wanted)}, and '{function}' is a window of {spoken_unit(unit)}"
            fix = f"measure what is {spoken_unit(unit)}, or expect a window of {spoken_unit(wanted)}"
            subject.problem(name, "expect", rule="unit-misfit", what=what, fix=fix)


def _unit_of(subject: Subject, expect: Mapping[str, Any]) -> tuple[str, str]:
    """Unit of the window, "" when none can be worked out; then why."""
    why = ""
    for tried in TRIED:
        readings = dict.fromkeys(subject.flow.steps, tried)
        try:
            return compute(expect, sheet=subject.sheet, site=SITE, meter=METER, readings=readings).unit, ""
        except WindowError as error:
            why = why or str(error)
    return "", why
