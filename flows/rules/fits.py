"""A step's window is of the quantity the step reads, can be worked out on this machine, and rests on what it says."""

import re
from collections.abc import Mapping
from typing import Any

from flows.meter import load_meter
from flows.rules.subject import Subject
from flows.site import Site
from flows.units import QUANTITIES, spoken_unit
from flows.windows import WindowError, compute

SITE = Site(outdoor_c=20, thermometer_c=20, qnh_hpa=1013)
SHEET = re.compile(r"\b(this|the) (machine|sheet)", re.IGNORECASE)
METER = load_meter()
TRIED = (2.5, 0.5, 5.0, 12.6, 100.0)  # readings of earlier steps: one of them is no nonsense for any window


def fits(subject: Subject) -> None:
    """unit-misfit, unworkable-window, limit-off-sheet: not what the step reads, or no window, or not where it says."""
    for name, step in subject.flow.steps.items():
        if step.measure is None or not step.expect:
            continue
        unit, why = _unit_of(subject, step.expect)
        wanted = QUANTITIES[step.measure.quantity].base
        function, given = next(iter(step.expect.items()))
        if function == "between" and SHEET.search(str((given or {}).get("source", ""))):
            what = f"step '{name}' says that its limits stand on the sheet, and they stand here"
            fix = (
                "put them into a part of kind `values` on the sheet and take them with `on_sheet`, or name their source"
            )
            subject.problem(name, "expect", rule="limit-off-sheet", what=what, fix=fix)
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
