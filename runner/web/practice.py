"""Practice on a page: probe points are clicked on the schematic, the reading is predicted, the fault is named.

Every change is a plain form, so that it works without script; script only puts the points clicked into the form.
"""

import secrets
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from threading import Lock

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from flows.site import Site
from flows.source import shipped_flows
from flows.units import UnitMismatch, to_base
from runner.jobs import load_job
from runner.practice.exercise import OVER_RANGE, Exercise, PracticeError, begin
from runner.practice.scoring import BestOrder, debrief, score
from runner.practice.terminal import fault_words
from runner.schematic import Schematic, schematic_of
from runner.schematic.schematic import points_read
from runner.web.paper import page
from runner.web.sections import Page, Role, Section
from speech.numbers import NumberProblem, parse_reading
from speech.typed import words_of

MOST = 50  # exercises held at once; the oldest goes
QUANTITIES = (("dc_voltage", "volts DC"), ("ac_voltage", "volts AC"), ("resistance", "ohms"))
BEST_WAIT_S = 8.0  # then the debrief is shown without it, and can be loaded again


@dataclass
class Desk:
    """One trainee's exercise with its picture."""

    exercise: Exercise
    schematic: Schematic
    best: BestOrder
    trouble: str = ""
    last_red: str = ""
    last_black: str = ""
    lock: Lock = field(default_factory=Lock)


class Room:
    """The exercises under way, one a visitor."""

    def __init__(
        self, *, machine: str, meter: str, site: Site, best: Callable[[Exercise], BestOrder] = BestOrder
    ) -> None:
        """best: what works out the best order beside an exercise."""
        self._machine, self._meter, self._site, self._best = machine, meter, site, best
        self._desks: OrderedDict[str, Desk] = OrderedDict()
        self._lock = Lock()

    def of(self, key: str) -> Desk | None:
        """The exercise of a visitor."""
        with self._lock:
            return self._desks.get(key)

    def begin(self, key: str, flow: str, *, seed: int | None = None, fault: str = "") -> Desk:
        """A new exercise for a visitor, in place of the one before. Raises PracticeError for a flow there is not."""
        if flow not in shipped_flows():
            raise PracticeError(f"There is no flow {flow!r}. Choose one of the list.")
        job = load_job(flow, machine=self._machine, meter=self._meter, site=self._site)
        exercise = begin(job, seed=secrets.randbelow(2**31) if seed is None else seed, fault=fault)
        schematic = schematic_of(exercise.circuit, wanted=points_read(job.flow))
        desk = Desk(exercise, schematic, self._best(exercise))
        with self._lock:
            self._desks[key] = desk
            self._desks.move_to_end(key)
            while len(self._desks) > MOST:
                self._desks.popitem(last=False)
        return desk

    def leave(self, key: str) -> None:
        """The visitor's exercise is put away."""
        with self._lock:
            self._desks.pop(key, None)


def section(room: Room) -> Section:
    """The pages of practice."""
    posts = (("start", start), ("choose", choose), ("probe", probe), ("make", make), ("name", name), ("leave", leave))
    return Section(
        pages=(
            Page("/", show, least=Role.TRAINEE),
            Page("/practice", show, least=Role.TRAINEE),
            *(Page(f"/practice/{word}", handler, least=Role.TRAINEE, method="POST") for word, handler in posts),
        ),
        menu=(("Practice", "/practice", Role.TRAINEE),),
        state={"practice": room},
    )


# -- pages ---------------------------------------------------------------------------------------------------------


def show(request: Request) -> Response:
    """The list of flows, the exercise, or its debrief."""
    desk = _desk(request)
    if desk is None:
        return page(request, "practice_start.html", flows=shipped_flows())
    exercise = desk.exercise
    if exercise.named is not None:
        result = score(exercise, desk.best, wait_s=BEST_WAIT_S)
        return page(request, "practice_end.html", exercise=exercise, result=result, lines=debrief(result))
    trouble, desk.trouble = desk.trouble, ""
    return page(
        request,
        "practice.html",
        exercise=exercise,
        desk=desk,
        trouble=trouble,
        picture=desk.schematic.svg(live=True),
        quantities=QUANTITIES,
        metal=[point for point in desk.schematic.points if exercise.job.sheet.points[point].kind == "metal"],
        items=_items(exercise),
        engines=_engines(exercise),
        faults=[("none", "A sound engine"), *((f, fault_words(f)) for f in sorted(exercise.circuit.faults()))],
    )


def start(request: Request) -> Response:
    """Hide a fault in the circuit of the flow chosen."""
    request.app.state.practice.begin(request.state.visitor.key, request.state.form.get("flow", ""))
    return _back()


def choose(request: Request) -> Response:
    """Choose one of the flow's checks."""
    number = request.state.form.get("number", "")
    return _done(request, lambda e: e.choose(int(number) if number.isascii() and number.isdigit() else 0))


def probe(request: Request) -> Response:
    """Put the probes on two points of one's own."""
    form, desk = request.state.form, _desk(request)
    state = {item.removeprefix("state-"): value for item, value in form.items() if item.startswith("state-")}
    if desk is not None:
        desk.last_red, desk.last_black = form.get("red", ""), form.get("black", "")
    return _done(
        request, lambda e: e.probe(form.get("red", ""), form.get("black", ""), form.get("quantity", ""), state)
    )


def make(request: Request) -> Response:
    """Make the chosen check, with what was predicted; or put it back."""
    form = request.state.form
    if form.get("do") == "back":
        return _done(request, lambda e: e.put_back())
    return _done(request, lambda e: e.make(predicted=_predicted(e, form.get("predicted", "")), minded="minded" in form))


def name(request: Request) -> Response:
    """Name the fault."""
    return _done(request, lambda e: e.name(request.state.form.get("fault", "")))


def leave(request: Request) -> Response:
    """Leave the exercise."""
    request.app.state.practice.leave(request.state.visitor.key)
    return _back()


# -- behind them ---------------------------------------------------------------------------------------------------


def _desk(request: Request) -> Desk | None:
    room: Room = request.app.state.practice
    return room.of(request.state.visitor.key)


def _back() -> Response:
    return RedirectResponse("/practice", status_code=303)


def _done(request: Request, act: Callable[[Exercise], object]) -> Response:
    """Do something to the visitor's exercise; what cannot be done is said on the page."""
    desk = _desk(request)
    if desk is not None and desk.exercise.named is None:
        with desk.lock:
            try:
                act(desk.exercise)
            except PracticeError as error:
                desk.trouble = str(error)
    return _back()


def _predicted(exercise: Exercise, typed: str) -> float | str | None:
    """A prediction in the base unit, or a word; None for none. Raises PracticeError for what is no reading."""
    step = exercise.pending
    typed = typed.strip()[:60]
    if not typed or step is None:
        return None
    if step.measure is None or step.watch is not None:
        return typed.lower()
    spoken = parse_reading(words_of(typed, "reading"))
    if isinstance(spoken, NumberProblem):
        raise PracticeError(f"{typed!r} is no reading. Write it like 4.96 V, 2.2 k or OL.")
    if spoken.value is None:
        return OVER_RANGE
    try:
        return to_base(spoken.value, spoken.unit, step.measure.quantity)
    except UnitMismatch as error:
        raise PracticeError(f"{error} Write it in such a unit.") from None


def _items(exercise: Exercise) -> list[tuple[str, str]]:
    """Plugs of this circuit that may be taken off: bench item and words."""
    sheet = exercise.job.sheet
    places = {point.partition(".")[0] for point in schematic_of(exercise.circuit).points}
    return [(item, sheet.places[place].spoken) for item, place in sheet.plugs.items() if place in places]


def _engines(exercise: Exercise) -> list[str]:
    """How the engine may be for a probing: as the flow's own checks have it."""
    used = {step.measure.state["engine"] for step in exercise.job.flow.steps.values() if step.measure}
    return ["off", *sorted(used - {"off"})]
