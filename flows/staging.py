"""How a bench gets from where it is to where a step wants it: only what differs, key off first, black before red.

Every sentence here is heard by a person with both hands full: one act a sentence, the act or the value last.
"""

from dataclasses import replace

from flows.acts import Act, acts, joined, key_off, part_acts
from flows.bench import RUNNING, Bench, Stage
from flows.counting import in_words
from flows.model import DEFAULT_STATE, Measure, Step
from flows.sheet import MachineSheet

CALLS = {
    "dc_voltage": "Call the volts.",
    "ac_voltage": "Call the volts.",
    "resistance": "Call the ohms.",
    "current": "Call the amps.",
    "temperature": "Call the degrees.",
    "pressure": "Call the pressure.",
    "frequency": "Call the hertz.",
    "ratio": "Call the percent.",
}


def stages(bench: Bench, step: Step, sheet: MachineSheet) -> tuple[Stage, ...]:
    """What is said and done, in order, to take this step's reading from this bench. Empty for ask and look.

    The last stage asks for the reading (a watch: for each place, whether it moved).
    """
    if step.measure is None:
        wanted = {**bench.state, **(step.act.state if step.act else {})}
        return joined(acts(bench, wanted, None, sheet), bench) if step.act else ()
    measure = step.measure
    if sheet.points[measure.red].kind != "metal":
        return _gauge(bench, step, sheet)
    made = list(joined(acts(bench, measure.state, measure, sheet), bench))
    bench = _last(bench, made)
    return (*made, *_readings(bench, step, measure, sheet))


def put_right(bench: Bench, sheet: MachineSheet) -> tuple[Stage, ...]:
    """Everything back as the engine wants it; red comes off first, then black."""
    todo = [] if bench.state["key"] == "off" else [key_off(sheet)]
    if bench.red or bench.black:
        todo.append(Act("Red out, black out.", sheet.costs.probe))
    todo += part_acts(replace(bench, red=None, black=None), DEFAULT_STATE, sheet)
    return joined(todo, bench, clear_probes=True)


def _last(bench: Bench, made: list[Stage]) -> Bench:
    for stage in made:
        bench = bench.after(stage)
    return bench


def _readings(bench: Bench, step: Step, measure: Measure, sheet: MachineSheet) -> list[Stage]:
    """With everything in place: key on, crank if that is the check, and the call."""
    red, black, costs = bench.red, bench.black, sheet.costs
    key_on = measure.state["key"] == "on" and bench.state["key"] != "on"
    changes = {"key": "on"} if key_on else {}
    call = f"{_moving(measure, sheet)}{_call(measure)}"
    wait_s, minutes = (sheet.settle_s, costs.key_cycle) if key_on else (0.0, 0.0)
    if measure.state["engine"] == "cranking":
        return _cranked(bench, call, sheet)
    if measure.state["engine"] in RUNNING:
        clear, lead, changes = _started(bench, measure.state["engine"], sheet)
        if step.watch is not None:
            return [*clear, *_movements(bench, step, lead=lead, changes=changes, wait_s=0)]
        minutes = costs.crank if changes else 0.0
        return [*clear, Stage(f"{lead}{call}", changes, red, black, 0, minutes, "reading")]
    if step.watch is not None:
        return _movements(bench, step, lead="Key on. " if key_on else "", changes=changes, wait_s=wait_s)
    return [Stage(f"Key on. {call}" if key_on else call, changes, red, black, wait_s, minutes, "reading")]


def _cranked(bench: Bench, call: str, sheet: MachineSheet, *, before: str = "") -> list[Stage]:
    """The warning, five seconds of the starter, and the call when it has stopped: nothing is said while it turns."""
    clear = Stage("Stand clear of the engine. Say clear.", {}, bench.red, bench.black, 0, 0.1, "clear")
    say = f"{before}Key on, crank {in_words(sheet.cranking.max_s)} seconds, key off. {call}"
    changes = {"key": "on", "engine": "cranking"}
    crank = Stage(say, changes, bench.red, bench.black, sheet.cranking.max_s, sheet.costs.crank, "reading")
    return [clear, crank]


def _started(bench: Bench, engine: str, sheet: MachineSheet) -> tuple[list[Stage], str, dict[str, str]]:
    """Getting the engine to run as wanted: the warning, the words before the call, what changes."""
    now = bench.state["engine"]
    if now == engine:
        return [], "", {}
    speed = f"hold it at about {in_words(round(sheet.engine.fast_rpm, -2))}" if engine == "fast" else "let it idle"
    if now in RUNNING:
        return [], f"{speed.capitalize()}. ", {"engine": engine}
    clear = Stage("Stand clear of the engine. Say clear.", {}, bench.red, bench.black, 0, 0.1, "clear")
    return [clear], f"Start the engine, {speed}. ", {"key": "on", "engine": engine}


def _movements(bench: Bench, step: Step, *, lead: str, changes: dict[str, str], wait_s: float) -> list[Stage]:
    """One stage for each place to move; the first one also turns the key on."""
    assert step.watch is not None
    made: list[Stage] = []
    for place in step.watch.places:
        say = f"{lead}Move the {place}. Steady or moved?"
        made.append(Stage(say, changes, bench.red, bench.black, wait_s, 0.3, "movement"))
        lead, changes, wait_s = "", {}, 0.0
    return made


def _moving(measure: Measure, sheet: MachineSheet) -> str:
    """What is moved while the reading is taken."""
    place = measure.state.get("moving")
    if place is None:
        return ""
    return f"Move the {sheet.places[place].spoken if place in sheet.places else 'wiring loom'}. "


def _call(measure: Measure) -> str:
    return CALLS[measure.quantity] if measure.hold is None else f"Call the {_held(measure.hold)}."


def _held(hold: str) -> str:
    return {"min": "minimum", "max": "maximum"}[hold]


def _gauge(bench: Bench, step: Step, sheet: MachineSheet) -> tuple[Stage, ...]:
    """A display or thermometer: the probes stay where they are."""
    assert step.measure is not None
    measure, spot = step.measure, sheet.points[step.measure.red]
    made = list(joined(acts(bench, measure.state, None, sheet), bench))
    bench = _last(bench, made)
    if measure.state["engine"] == "cranking":
        return (*made, *_cranked(bench, _call(measure), sheet, before=f"Watch {spot.spoken}. "))
    key_on = measure.state["key"] == "on" and bench.state["key"] != "on"
    changes = {"key": "on"} if key_on else {}
    lead, wait_s = ("Key on. ", sheet.settle_s) if key_on else ("", 0.0)
    if measure.state["engine"] in RUNNING:
        clear, lead, changes = _started(bench, measure.state["engine"], sheet)
        made, wait_s = [*made, *clear], 0.0
    if step.watch is not None:
        lead = f"{lead}Watch {spot.spoken}. "
        return (*made, *_movements(bench, step, lead=lead, changes=changes, wait_s=wait_s))
    minutes = sheet.places[spot.place].access_minutes + (sheet.costs.key_cycle if key_on else 0)
    say = f"{lead}{_moving(measure, sheet)}Read {spot.spoken}. {_call(measure)}"
    return (*made, Stage(say, changes, bench.red, bench.black, wait_s, minutes, "reading"))
