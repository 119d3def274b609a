"""How a bench gets from where it is to where a step wants it: only what differs, key off first, black before red.

Every sentence here is heard by a person with both hands full: one act a sentence, the act or the value last.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

from flows.model import DEFAULT_STATE, Measure, Step
from flows.sheet import MachineSheet

Reply = Literal["set", "clear", "reading", "movement"]

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
DIALS = {
    "mV": "millivolts",
    "mA": "milliamps",
    "dc_voltage": "volts D C",
    "ac_voltage": "volts A C",
    "resistance": "ohms",
    "current": "amps",
    "frequency": "hertz",
    "ratio": "percent",
}
RUNNING = ("idle", "fast")
MOVED = ("out", "pulled", "bridged", "off", "fitted")  # positions of a bench item that must be put right
WORDS_MAX = 22  # longer than this is said in two breaths


@dataclass(frozen=True)
class Bench:
    """What stands where: the state of the engine's circuit, the probes and the meter."""

    state: Mapping[str, str] = field(default_factory=lambda: dict(DEFAULT_STATE))
    red: str | None = None
    black: str | None = None
    dial: str | None = None  # quantity (or range, "mV") the meter is turned to; None until it is known
    hold: str | None = None

    def out_of_place(self) -> tuple[str, ...]:
        """What is unplugged, fitted or pumped up, to be read back and put right."""
        names = {
            ("plug", "out"): "sensor plug is out",
            ("control_unit_plug", "out"): "control unit plug is out",
            ("vacuum", "on"): "hand pump is on the hose",
        }
        found = [text for (item, value), text in names.items() if self.state.get(item) == value]
        others = [item for item in self.state if item not in DEFAULT_STATE and self.state[item] in MOVED]
        found += [f"{item.replace('_', ' ')} is {self.state[item]}" for item in others]
        if self.state.get("jumper", "none") != "none":
            found.insert(0, "resistor is fitted")
        return tuple(found)

    def after(self, stage: "Stage") -> "Bench":
        """The bench once this stage is done."""
        state = {**self.state, **{k: v for k, v in stage.changes.items() if k not in ("dial", "hold")}}
        dial = stage.changes.get("dial", self.dial)
        hold = stage.changes.get("hold", self.hold)
        return replace(
            self, state=state, red=stage.red, black=stage.black, dial=dial, hold=None if hold == "none" else hold
        )


@dataclass(frozen=True)
class Stage:
    """One breath of the tool, and what the technician has done when he answers it."""

    say: str
    changes: Mapping[str, str]
    red: str | None
    black: str | None
    wait_s: float
    minutes: float
    reply: Reply


@dataclass(frozen=True)
class _Act:
    """One thing to do, before acts are joined to stages."""

    say: str
    minutes: float
    changes: Mapping[str, str] = field(default_factory=dict)
    red: str | None = None
    black: str | None = None
    live: bool = False  # may be done with the key on


def stages(bench: Bench, step: Step, sheet: MachineSheet) -> tuple[Stage, ...]:
    """What is said and done, in order, to take this step's reading from this bench. Empty for ask and look.

    The last stage asks for the reading (a watch: for each place, whether it moved).
    """
    if step.measure is None:
        wanted = {**bench.state, **(step.act.state if step.act else {})}
        return _joined(_acts(bench, wanted, None, sheet), bench) if step.act else ()
    measure = step.measure
    if sheet.points[measure.red].kind != "metal":
        return _gauge(bench, step, sheet)
    made = list(_joined(_acts(bench, measure.state, measure, sheet), bench))
    bench = _last(bench, made)
    return (*made, *_readings(bench, step, measure, sheet))


def put_right(bench: Bench, sheet: MachineSheet) -> tuple[Stage, ...]:
    """Everything back as the engine wants it; red comes off first, then black."""
    acts = [] if bench.state["key"] == "off" else [_key_off(sheet)]
    if bench.red or bench.black:
        acts.append(_Act("Red out, black out.", sheet.costs.probe))
    acts += _part_acts(replace(bench, red=None, black=None), DEFAULT_STATE, sheet)
    return _joined(acts, bench, clear_probes=True)


def _last(bench: Bench, made: list[Stage]) -> Bench:
    for stage in made:
        bench = bench.after(stage)
    return bench


def _key_off(sheet: MachineSheet) -> _Act:
    return _Act("Key off.", sheet.costs.key_cycle, {"key": "off", "engine": "off"})


def _acts(bench: Bench, wanted: Mapping[str, str], measure: Measure | None, sheet: MachineSheet) -> list[_Act]:
    """Everything that is done with the key off, and the key off before it."""
    red, black = (measure.red, measure.black) if measure else (bench.red, bench.black)
    parts = _part_acts(bench, wanted, sheet)
    probes = _probe_acts(bench, red, black, sheet)
    meter = _meter_acts(bench, measure, sheet) if measure else []
    if not (parts or probes or meter):
        stops = bench.state["engine"] in RUNNING and wanted["engine"] not in RUNNING
        return [_key_off(sheet)] if bench.state["key"] != "off" and (wanted["key"] == "off" or stops) else []
    running = bench.state["engine"] in RUNNING and wanted["engine"] != bench.state["engine"]
    touched = any(not act.live for act in parts) or probes or wanted["key"] == "off"
    live = bench.state["key"] != "off" and (touched or running)
    return [*([_key_off(sheet)] if live else []), *parts, *meter, *probes]


def _part_acts(bench: Bench, wanted: Mapping[str, str], sheet: MachineSheet) -> list[_Act]:
    """Jumper off, plugs, jumper on, pump: the order in which hands can do it."""
    now, costs = bench.state, sheet.costs
    acts: list[_Act] = []
    if now["jumper"] != "none" and now["jumper"] != wanted["jumper"]:
        acts.append(_Act("Take the resistor off.", costs.jumper / 2, {"jumper": "none"}))
    for item, place in (("control_unit_plug", "unit"), ("plug", "plug")):
        if now[item] != wanted[item] and place in sheet.places:
            verb = "Unplug" if wanted[item] == "out" else "Plug in"
            acts.append(_Act(f"{verb} the {sheet.places[place].spoken}.", costs.plug, {item: wanted[item]}))
    acts += _item_acts(now, wanted, sheet)
    if wanted["jumper"] != "none" and now["jumper"] != wanted["jumper"]:
        acts.append(_fit(wanted["jumper"], sheet))
    if now["vacuum"] != wanted["vacuum"]:
        say = (
            f"Hand pump on the sensor port, pull {_spoken(sheet.vacuum_kpa)} kilopascals."
            if wanted["vacuum"] == "on"
            else "Hand pump off, hose back on."
        )
        acts.append(_Act(say, costs.vacuum, {"vacuum": wanted["vacuum"]}))
    if now["throttle"] != wanted["throttle"]:
        say = "Hold the throttle wide open." if wanted["throttle"] == "open" else "Let the throttle close."
        acts.append(_Act(say, 0.05, {"throttle": wanted["throttle"]}))
    return acts


def _item_acts(now: Mapping[str, str], wanted: Mapping[str, str], sheet: MachineSheet) -> list[_Act]:
    """Plugs and settings of the sheet beside those every machine has; what nobody names goes home."""
    acts: list[_Act] = []
    items = [item for item in dict.fromkeys((*now, *wanted)) if item not in DEFAULT_STATE and item != "moving"]
    for item in items:
        home = sheet.home(item)
        value = wanted.get(item, home)
        if now.get(item, home) == value:
            continue
        if item in sheet.settings:
            setting = sheet.settings[item]
            acts.append(_Act(setting.say[value], setting.minutes, {item: value}, live=not setting.key_off))
        elif item in sheet.plugs:
            place = sheet.places[sheet.plugs[item]]
            verb = "Unplug" if value == "out" else "Plug in"
            acts.append(_Act(f"{verb} the {place.spoken}.", sheet.costs.plug, {item: value}))
    return acts


def _fit(name: str, sheet: MachineSheet) -> _Act:
    jumper = sheet.jumpers[name]
    ends = " to ".join(sheet.points[p].short for p in jumper.between)
    return _Act(f"{jumper.spoken.capitalize()}: {ends}.", sheet.costs.jumper, {"jumper": name})


def _meter_acts(bench: Bench, measure: Measure, sheet: MachineSheet) -> list[_Act]:
    acts: list[_Act] = []
    hold = measure.hold or "none"
    dial = measure.needs_range or measure.quantity
    if bench.dial != dial:
        acts.append(_Act(f"Meter to {DIALS.get(dial, dial)}.", sheet.costs.dial, {"dial": dial}))
    if (bench.hold or "none") != hold:
        say = "Min max off." if hold == "none" else "Min max on."
        acts.append(_Act(say, sheet.costs.dial, {"hold": hold}))
    return acts


def _probe_acts(bench: Bench, red: str | None, black: str | None, sheet: MachineSheet) -> list[_Act]:
    """Black first, red last; a place already named in this breath is not named again."""
    acts: list[_Act] = []
    moves = [("Black", black, bench.black), ("Red", red, bench.red)]
    said: str | None = sheet.points[bench.black].place if bench.black in sheet.points and black == bench.black else None
    if red and black and sheet.points[red].place == "hand" and red == black:
        return (
            []
            if bench.red == red
            else [_Act("Touch the probe tips together.", sheet.costs.probe, red=red, black=black)]
        )
    if red and black and bench.red and bench.black and red != bench.red and black != bench.black:
        acts.append(_Act("Red out, black out.", 0))
    for colour, point, at in moves:
        if point is None or point == at:
            continue
        spot = sheet.points[point]
        words = spot.short if said == spot.place else spot.spoken
        there = {sheet.points[p].place for p in (bench.red, bench.black) if p in sheet.points} | {said}
        minutes = sheet.costs.probe + (0 if spot.place in there else sheet.places[spot.place].access_minutes)
        acts.append(
            _Act(
                f"{colour} to {words}.",
                minutes,
                red=point if colour == "Red" else None,
                black=point if colour == "Black" else None,
            )
        )
        said = spot.place
    return acts


def _joined(acts: list[_Act], bench: Bench, *, clear_probes: bool = False) -> tuple[Stage, ...]:
    """Acts in breaths of at most WORDS_MAX words, each answered with "set"."""
    breaths: list[list[_Act]] = []
    for act in acts:
        words = len(act.say.split())
        if breaths and sum(len(a.say.split()) for a in breaths[-1]) + words <= WORDS_MAX:
            breaths[-1].append(act)
        else:
            breaths.append([act])
    made: list[Stage] = []
    red, black = bench.red, bench.black
    for breath in breaths:
        changes = {k: v for act in breath for k, v in act.changes.items()}
        if clear_probes:
            red = black = None
        for act in breath:
            red, black = act.red or red, act.black or black
        say = " ".join([*(a.say for a in breath), "Say set."])
        made.append(Stage(say, changes, red, black, 0, sum(a.minutes for a in breath), "set"))
    return tuple(made)


def _readings(bench: Bench, step: Step, measure: Measure, sheet: MachineSheet) -> list[Stage]:
    """With everything in place: key on, crank if that is the check, and the call."""
    red, black, costs = bench.red, bench.black, sheet.costs
    made: list[Stage] = []
    key_on = measure.state["key"] == "on" and bench.state["key"] != "on"
    changes = {"key": "on"} if key_on else {}
    call = f"{_moving(measure, sheet)}{_call(measure)}"
    wait_s, minutes = (sheet.settle_s, costs.key_cycle) if key_on else (0.0, 0.0)
    if measure.state["engine"] == "cranking":
        return [*made, *_cranked(bench, call, sheet)]
    if measure.state["engine"] in RUNNING:
        clear, lead, changes = _started(bench, measure.state["engine"], sheet)
        if step.watch is not None:
            return [*clear, *_movements(bench, step, lead=lead, changes=changes, wait_s=0)]
        minutes = costs.crank if changes else 0.0
        return [*clear, Stage(f"{lead}{call}", changes, red, black, 0, minutes, "reading")]
    if step.watch is not None:
        return _movements(bench, step, lead="Key on. " if key_on else "", changes=changes, wait_s=wait_s)
    made.append(Stage(f"Key on. {call}" if key_on else call, changes, red, black, wait_s, minutes, "reading"))
    return made


def _cranked(bench: Bench, call: str, sheet: MachineSheet, *, before: str = "") -> list[Stage]:
    """The warning, five seconds of the starter, and the call when it has stopped: nothing is said while it turns."""
    clear = Stage("Stand clear of the engine. Say clear.", {}, bench.red, bench.black, 0, 0.1, "clear")
    say = f"{before}Key on, crank {_spoken(sheet.cranking.max_s)} seconds, key off. {call}"
    changes = {"key": "on", "engine": "cranking"}
    crank = Stage(say, changes, bench.red, bench.black, sheet.cranking.max_s, sheet.costs.crank, "reading")
    return [clear, crank]


def _started(bench: Bench, engine: str, sheet: MachineSheet) -> tuple[list[Stage], str, dict[str, str]]:
    """Getting the engine to run as wanted: the warning, the words before the call, what changes."""
    now = bench.state["engine"]
    if now == engine:
        return [], "", {}
    speed = f"hold it at about {_spoken(round(sheet.engine.fast_rpm, -2))}" if engine == "fast" else "let it idle"
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
    made = list(_joined(_acts(bench, measure.state, None, sheet), bench))
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


ONES = [
    "zero",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
]
TENS = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]


def _spoken(number: float) -> str:
    """Small whole numbers in words.

    >>> _spoken(30), _spoken(5)
    ('thirty', 'five')
    """
    whole = round(number)
    if whole >= 1000:
        return f"{_spoken(whole // 1000)} thousand" + (f" {_spoken(whole % 1000)}" if whole % 1000 else "")
    if whole < 20:
        return ONES[max(whole, 0)]
    if whole < 100:
        return TENS[whole // 10 - 2] + (f" {ONES[whole % 10]}" if whole % 10 else "")
    return f"{ONES[whole // 100]} hundred" + (f" {_spoken(whole % 100)}" if whole % 100 else "")
