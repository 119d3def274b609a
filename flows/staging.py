"""How a bench gets from where it is to where a step wants it: only what differs, key off first, black before red.

Every sentence here is heard by a person with both hands full: one act a sentence, the act or the value last.
"""

from collections.abc import Collection
from dataclasses import replace

from flows.acts import BREATH_WORDS, Act, acts, answered, breaths_of, done, joined, key_off, part_acts, words_of
from flows.bench import RUNNING, Bench, Stage
from flows.counting import in_words
from flows.model import BRINGING_OUT, DEFAULT_STATE, Measure, Step
from flows.sheet import MachineSheet, Point

STEADY, OR_MOVED = "Steady", "Steady or moved?"
CALLS = {
    "dc_voltage": "Call the volts.",
    "ac_voltage": "Call the volts.",
    "resistance": "Call the ohms.",
    "current": "Call the amps.",
    "temperature": "Call the degrees.",
    "pressure": "Call the pressure.",
    "frequency": "Call the hertz.",
    "engine_speed": "Call the r p m.",
    "ratio": "Call the percent.",
}
HELD = {"min": "minimum", "max": "maximum"}


def stages(bench: Bench, step: Step, sheet: MachineSheet, *, known: Collection[str] = ()) -> tuple[Stage, ...]:
    """What is said and done, in order, to take this step's reading from this bench. Empty for ask and look.

    The last stage asks for the reading (a watch: for each place, whether it moved). known: what need not be said in full
    again, see flows.acts.known_after.
    """
    if step.measure is None:
        wanted = {**bench.state, **(step.act.state if step.act else {})}
        return (
            joined(acts(bench, wanted, None, sheet, known=known), bench, known=known, lead=step.say) if step.act else ()
        )
    measure = step.measure
    gauge = sheet.points[measure.red].kind != "metal"
    todo = acts(bench, measure.state, None if gauge else measure, sheet, known=known)
    there = bench.after(done(todo, bench))
    read = _gauge if gauge else _readings
    both = zip(read(there, step, measure, sheet, known), read(there, step, measure, sheet, ()), strict=True)
    return _together(todo, [replace(short, full=full.say) for short, full in both], bench, lead=step.say, known=known)


def _together(
    todo: list[Act], read: list[Stage], bench: Bench, *, lead: str, known: Collection[str]
) -> tuple[Stage, ...]:
    """Breaths that are answered with "set"; the last probes, dial and key go with the call when it fits one breath.

    What is taken apart or fitted is always answered before anything is called.
    """
    breaths = breaths_of(todo, known=known, lead=lead)
    last = breaths.pop() if breaths else []
    first = next((at for at in range(len(last), 0, -1) if not last[at - 1].quick), 0)
    quick = last[first:]
    led_by = 0 if breaths or first else len(lead.split())
    if read[0].reply == "movement" or led_by + words_of(quick) + len(read[0].say.split()) > BREATH_WORDS:
        first, quick = len(last), []
    made: list[Stage] = []
    for breath in (*breaths, last[:first]):
        if breath:
            made.append(answered(breath, bench, known))
            bench = bench.after(made[-1])
    hands = done(quick, bench)
    call = replace(
        read[0],
        say=" ".join([*(act.say for act in quick), read[0].say]),
        full=" ".join([*(act.in_full for act in quick), read[0].full]),
        changes={**hands.changes, **read[0].changes},
        minutes=hands.minutes + read[0].minutes,
    )
    return (*made, call, *read[1:])


def put_right(bench: Bench, sheet: MachineSheet, *, known: Collection[str] = ()) -> tuple[Stage, ...]:
    """Everything back as the engine wants it; red comes off first, then black."""
    todo = [] if bench.state["key"] == "off" else [key_off(sheet)]
    if bench.red or bench.black:
        todo.append(Act("Red out, black out.", sheet.costs.probe))
    todo += part_acts(replace(bench, red=None, black=None), DEFAULT_STATE, sheet)
    return joined(todo, bench, clear_probes=True, known=known)


def _readings(bench: Bench, step: Step, measure: Measure, sheet: MachineSheet, known: Collection[str]) -> list[Stage]:
    """With everything in place: key on, crank if that is the check, and the call."""
    red, black, costs = bench.red, bench.black, sheet.costs
    key_on = measure.state["key"] == "on" and bench.state["key"] != "on"
    changes = {"key": "on"} if key_on else {}
    call = f"{_moving(measure, sheet)}{_call(measure, known)}"
    wait_s, minutes = (sheet.settle_s, costs.key_cycle) if key_on else (0.0, 0.0)
    if measure.state["engine"] == "cranking":
        return _cranked(bench, call, sheet, known)
    if measure.state["engine"] in RUNNING:
        clear, lead, changes = _started(bench, measure.state["engine"], sheet, known)
        if step.watch is not None:
            return [*clear, *_movements(bench, step, known, lead=lead, changes=changes, wait_s=0)]
        minutes = costs.crank if changes else 0.0
        return [*clear, Stage(f"{lead}{call}", changes, red, black, 0, minutes, "reading")]
    if step.watch is not None:
        return _movements(bench, step, known, lead="Key on. " if key_on else "", changes=changes, wait_s=wait_s)
    return [Stage(f"Key on. {call}" if key_on else call, changes, red, black, wait_s, minutes, "reading")]


def _cranked(bench: Bench, call: str, sheet: MachineSheet, known: Collection[str], *, before: str = "") -> list[Stage]:
    """The warning, five seconds of the starter, and the call when it has stopped: nothing is said while it turns."""
    say = f"{before}Key on, crank {in_words(sheet.cranking.max_s)} seconds, key off. {call}"
    changes = {"key": "on", "engine": "cranking"}
    crank = Stage(say, changes, bench.red, bench.black, sheet.cranking.max_s, sheet.costs.crank, "reading")
    return [_clear(bench, known), crank]


def _clear(bench: Bench, known: Collection[str]) -> Stage:
    """The warning before anything turns; answered each time."""
    say = "Stand clear of the engine."
    asks = "Clear?" if "clear" in known else "Say clear."
    return Stage(f"{say} {asks}", {}, bench.red, bench.black, 0, 0.1, "clear")


def _started(
    bench: Bench, engine: str, sheet: MachineSheet, known: Collection[str]
) -> tuple[list[Stage], str, dict[str, str]]:
    """Getting the engine to run as wanted: the warning, the words before the call, what changes."""
    now = bench.state["engine"]
    if now == engine:
        return [], "", {}
    speed = f"hold it at about {in_words(round(sheet.engine.fast_rpm, -2))}" if engine == "fast" else "let it idle"
    if now in RUNNING:
        return [], f"{speed.capitalize()}. ", {"engine": engine}
    return [_clear(bench, known)], f"Start the engine, {speed}. ", {"key": "on", "engine": engine}


def _movements(
    bench: Bench, step: Step, known: Collection[str], *, lead: str, changes: dict[str, str], wait_s: float
) -> list[Stage]:
    """One stage for each place to move, wet, warm or cool; the first one also turns the key on."""
    assert step.watch is not None
    made: list[Stage] = []
    asks = f"{STEADY}?" if "movement" in known else OR_MOVED
    verb, minutes = BRINGING_OUT[step.watch.by]
    for place in step.watch.places:
        move = f"{lead}{verb} the {place}."
        stage = Stage(f"{move} {asks}", changes, bench.red, bench.black, wait_s, minutes, "movement")
        made.append(stage)
        lead, changes, wait_s, asks = "", {}, 0.0, f"{STEADY}?"
    return made


def _moving(measure: Measure, sheet: MachineSheet) -> str:
    """What is moved while the reading is taken."""
    place = measure.state.get("moving")
    if place is None:
        return ""
    return f"Move the {sheet.places[place].spoken if place in sheet.places else 'wiring loom'}. "


def _call(measure: Measure, known: Collection[str] = ()) -> str:
    """What to call out; once that was said it is asked for by its name alone."""
    say = CALLS[measure.quantity] if measure.hold is None else f"Call the {HELD[measure.hold]}."
    return f"{say.removeprefix('Call the ').rstrip('.').capitalize()}?" if "reading" in known else say


def _gauge(bench: Bench, step: Step, measure: Measure, sheet: MachineSheet, known: Collection[str]) -> list[Stage]:
    """A display or thermometer: the probes stay where they are."""
    spot = sheet.points[measure.red]
    if measure.state["engine"] == "cranking":
        return _cranked(bench, _call(measure, known), sheet, known, before=f"Watch {spot.spoken}. ")
    made: list[Stage] = []
    key_on = measure.state["key"] == "on" and bench.state["key"] != "on"
    changes = {"key": "on"} if key_on else {}
    lead, wait_s = ("Key on. ", sheet.settle_s) if key_on else ("", 0.0)
    if measure.state["engine"] in RUNNING:
        made, lead, changes = _started(bench, measure.state["engine"], sheet, known)
        wait_s = 0.0
    if step.watch is not None:
        lead = f"{lead}Watch {_short(spot) if 'display' in step.say or spot.name in known else spot.spoken}. "
        return [*made, *_movements(bench, step, known, lead=lead, changes=changes, wait_s=wait_s)]
    minutes = sheet.places[spot.place].access_minutes + (sheet.costs.key_cycle if key_on else 0)
    say = f"{lead}{_moving(measure, sheet)}{_shown(spot, known)}"
    return [*made, Stage(say, changes, bench.red, bench.black, wait_s, minutes, "reading")]


def _shown(spot: Point, known: Collection[str]) -> str:
    """What is read off: that it is to be called, and where the display is, is said once."""
    if spot.name not in known:
        return f"Call {spot.spoken}."
    return f"{_short(spot)[:1].upper()}{_short(spot)[1:]}?"


def _short(spot: Point) -> str:
    """What is read off a display, without where the display is."""
    return spot.spoken.partition(" on the ")[0] if spot.kind == "display" else spot.spoken
