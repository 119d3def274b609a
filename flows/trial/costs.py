"""Minutes of a session: hands, key, plugs and talk from the machine sheet; the way to a place once a session.

Trial and best possible are charged alike. A second call of a reading is charged in neither.
"""

from dataclasses import dataclass, field

from flows.bench import RUNNING, Bench
from flows.model import Measure, Step
from flows.sheet import MachineSheet
from flows.staging import stages

CLEAR_MINUTES = 0.1  # "Stand clear of the engine. Say clear.", as flows.staging charges it


@dataclass(frozen=True)
class Hands:
    """Where a session stands: the bench, the places already made accessible, and the minutes it took."""

    bench: Bench = field(default_factory=Bench)
    reached: frozenset[str] = frozenset()
    minutes: float = 0.0


class Clock:
    """Charges steps; the sheet's own staging without its ways to places, and each way once."""

    def __init__(self, sheet: MachineSheet) -> None:
        self._sheet = sheet
        places = {name: place.model_copy(update={"access_minutes": 0.0}) for name, place in sheet.places.items()}
        self._near = sheet.model_copy(update={"places": places})

    def after(self, hands: Hands, step: Step) -> Hands:
        """The session once this step has been answered."""
        bench, minutes = hands.bench, self._sheet.costs.talk + step.minutes
        for stage in stages(bench, step, self._near):
            bench = bench.after(stage)
            minutes += stage.minutes + stage.wait_s / 60
        new = self.places(step, hands.bench) - hands.reached
        minutes += sum(self._sheet.places[place].access_minutes for place in new)
        return Hands(bench, hands.reached | new, hands.minutes + minutes)

    def refused(self, hands: Hands) -> Hands:
        """The session after a step that could not be done: asked, answered "cannot", nothing moved."""
        return Hands(hands.bench, hands.reached, hands.minutes + self._sheet.costs.talk)

    def places(self, step: Step, bench: Bench) -> frozenset[str]:
        """Places this step needs."""
        found = {name for name in step.places if name in self._sheet.places}
        if step.measure is not None:
            found |= places_of(step.measure, self._sheet)
        if step.look is not None and step.look.place in self._sheet.places:
            found.add(step.look.place)
        return frozenset(found)


def places_of(measure: Measure, sheet: MachineSheet) -> set[str]:
    """Places of the probes, of the plugs that are off, and of the pump."""
    found = {sheet.points[point].place for point in (measure.red, measure.black) if point in sheet.points}
    found |= {place for item, place in sheet.plugs.items() if measure.state.get(item) == "out"}
    moved = {item: setting.place for item, setting in sheet.settings.items() if setting.place}
    found |= {place for item, place in moved.items() if measure.state.get(item, sheet.home(item)) != sheet.home(item)}
    if measure.state.get("vacuum") == "on" and "hose" in sheet.places:
        found.add("hose")
    return found


@dataclass(frozen=True)
class Setup:
    """Something that is paid for once: a place made accessible, a plug off, a resistor fitted."""

    name: str
    minutes: float


def least_minutes(m: Measure, sheet: MachineSheet) -> float:
    """The least a check costs [min]: talk; a probe moved, with the key off for it and on again, unless a gauge is read.

    Who cranks pays for that alone. Starting an engine that then runs is one of the setups.
    """
    costs = sheet.costs
    if m.state.get("engine") == "cranking":
        return costs.talk + costs.crank + CLEAR_MINUTES + sheet.cranking.max_s / 60
    if m.black is None:
        return costs.talk
    live = 2 * costs.key_cycle + sheet.settle_s / 60 if m.state["key"] == "on" else 0.0
    return costs.talk + costs.probe + live


def setups_of(m: Measure, sheet: MachineSheet) -> frozenset[Setup]:
    """What has to be there once. Taken as paid for good, which it is not: the bound stays a lower one."""
    costs, state = sheet.costs, m.state
    made = set(ways_to(places_of(m, sheet), sheet))
    for item, value in state.items():
        if item in sheet.settings and value != sheet.home(item):
            made.add(Setup(f"{item} {value}", sheet.settings[item].minutes))
        elif item in sheet.plugs and value == "out":
            made.add(Setup(item, costs.plug))
    if state.get("jumper", "none") != "none":
        made.add(Setup(f"jumper {state['jumper']}", costs.jumper))
    if state.get("vacuum", "none") != "none":
        made.add(Setup("vacuum", costs.vacuum))
    if state.get("engine") in RUNNING:
        made.add(
            Setup("start", CLEAR_MINUTES) if m.black is None else Setup("start, probed", CLEAR_MINUTES + costs.crank)
        )
    return frozenset(made)


def ways_to(places: set[str], sheet: MachineSheet) -> frozenset[Setup]:
    """The ways to these places, as far as the sheet has them."""
    known = sheet.places
    return frozenset(Setup(f"to {p}", known[p].access_minutes) for p in places if p in known)
