"""A danger is named before it is met: by the step itself or by every way that leads to it."""

from collections.abc import Mapping

from flows.model import Step
from flows.rules.subject import Subject
from flows.sheet import MachineSheet

BROUGHT_OUT = {"wet": "wetting", "warmed": "hot_air", "chilled": "cold_spray"}


def needed(step: Step, sheet: MachineSheet) -> frozenset[str]:
    """Cautions this step calls for."""
    measure = step.measure
    if measure is None:
        return frozenset()
    wanted: set[str] = set()
    if measure.state.get("engine") == "cranking":
        wanted |= {"moving_parts", "crank_plugs_in", "high_volts", "brakes"}
    if measure.state.get("engine") in ("idle", "fast"):
        wanted |= {"moving_parts", "brakes", "exhaust"}
    if any(measure.state.get(item) == "out" for item in sheet.plugs):
        wanted.add("unplugging")
    places = {sheet.points[p].place for p in (measure.red, measure.black) if p}
    plugs = set(sheet.plugs.values())
    devices = {place for place in places if place == "sensor" or place.endswith("_sensor")}
    if measure.quantity == "resistance" and (places & plugs or devices):
        wanted.add("ohms_dead")
    if measure.quantity != "resistance" and places & plugs:
        wanted |= {"no_piercing", "meter_10m"}
    if step.watch is not None and step.watch.by in BROUGHT_OUT:
        wanted.add(BROUGHT_OUT[step.watch.by])
    if "battery" in places:
        wanted.add("battery")
    return frozenset(wanted)


def hazards(subject: Subject) -> None:
    """hazard-without-caution: some way leads to the step without its caution."""
    known = subject.filling.cautions
    before = spoken_before(subject.flow.steps, subject.flow.start)
    for name, step in subject.flow.steps.items():
        if name not in before:
            continue  # only run as proof or at the close, after all of it has been said
        missing = sorted(c for c in needed(step, subject.sheet) - before[name] - set(step.cautions) if c in known)
        if missing:
            what = f"a way leads to step '{name}' without its caution {', '.join(missing)}"
            fix = f"add `cautions: [{', '.join([*step.cautions, *missing])}]`"
            subject.problem(name, rule="hazard-without-caution", what=what, fix=fix)


def spoken_before(steps: Mapping[str, Step], start: str) -> dict[str, frozenset[str]]:
    """Step -> cautions that have been spoken on every way to it. Only steps that the start leads to."""
    before: dict[str, frozenset[str]] = {start: frozenset()}
    todo = [start]
    while todo:
        name = todo.pop()
        after = before[name] | set(steps[name].cautions)
        for target in steps[name].outcomes.values():
            if target not in steps:
                continue
            meets = after if target not in before else before[target] & after
            if target not in before or meets != before[target]:
                before[target] = meets
                todo.append(target)
    return before
