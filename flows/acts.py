"""What hands do with the key off before a reading can be taken, in the order in which they can: only what differs."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from flows.bench import RUNNING, Bench, Stage
from flows.counting import in_words
from flows.model import DEFAULT_STATE, Measure
from flows.sheet import MachineSheet

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
WORDS_MAX = 22  # longer than this is said in two breaths


@dataclass(frozen=True)
class Act:
    """One thing to do, before acts are joined to stages."""

    say: str
    minutes: float
    changes: Mapping[str, str] = field(default_factory=dict)
    red: str | None = None
    black: str | None = None
    live: bool = False  # may be done with the key on


def key_off(sheet: MachineSheet) -> Act:
    return Act("Key off.", sheet.costs.key_cycle, {"key": "off", "engine": "off"})


def acts(bench: Bench, wanted: Mapping[str, str], measure: Measure | None, sheet: MachineSheet) -> list[Act]:
    """Everything that is done with the key off, and the key off before it."""
    red, black = (measure.red, measure.black) if measure else (bench.red, bench.black)
    parts = part_acts(bench, wanted, sheet)
    probes = _probe_acts(bench, red, black, sheet)
    meter = _meter_acts(bench, measure, sheet) if measure else []
    if not (parts or probes or meter):
        stops = bench.state["engine"] in RUNNING and wanted["engine"] not in RUNNING
        return [key_off(sheet)] if bench.state["key"] != "off" and (wanted["key"] == "off" or stops) else []
    running = bench.state["engine"] in RUNNING and wanted["engine"] != bench.state["engine"]
    touched = any(not act.live for act in parts) or probes or wanted["key"] == "off"
    live = bench.state["key"] != "off" and (touched or running)
    return [*([key_off(sheet)] if live else []), *parts, *meter, *probes]


def part_acts(bench: Bench, wanted: Mapping[str, str], sheet: MachineSheet) -> list[Act]:
    """Jumper off, plugs, jumper on, pump: the order in which hands can do it."""
    now, costs = bench.state, sheet.costs
    acts: list[Act] = []
    if now["jumper"] != "none" and now["jumper"] != wanted["jumper"]:
        acts.append(Act("Take the resistor off.", costs.jumper / 2, {"jumper": "none"}))
    for item, place in (("control_unit_plug", "unit"), ("plug", "plug")):
        if now[item] != wanted[item] and place in sheet.places:
            verb = "Unplug" if wanted[item] == "out" else "Plug in"
            acts.append(Act(f"{verb} the {sheet.places[place].spoken}.", costs.plug, {item: wanted[item]}))
    acts += _item_acts(now, wanted, sheet)
    if wanted["jumper"] != "none" and now["jumper"] != wanted["jumper"]:
        acts.append(_fit(wanted["jumper"], sheet))
    if now["vacuum"] != wanted["vacuum"]:
        say = (
            f"Hand pump on the sensor port, pull {in_words(sheet.vacuum_kpa)} kilopascals."
            if wanted["vacuum"] == "on"
            else "Hand pump off, hose back on."
        )
        acts.append(Act(say, costs.vacuum, {"vacuum": wanted["vacuum"]}))
    if now["throttle"] != wanted["throttle"]:
        say = "Hold the throttle wide open." if wanted["throttle"] == "open" else "Let the throttle close."
        acts.append(Act(say, 0.05, {"throttle": wanted["throttle"]}))
    return acts


def _item_acts(now: Mapping[str, str], wanted: Mapping[str, str], sheet: MachineSheet) -> list[Act]:
    """Plugs and settings of the sheet beside those every machine has; what nobody names goes home."""
    acts: list[Act] = []
    items = [item for item in dict.fromkeys((*now, *wanted)) if item not in DEFAULT_STATE and item != "moving"]
    for item in items:
        home = sheet.home(item)
        value = wanted.get(item, home)
        if now.get(item, home) == value:
            continue
        if item in sheet.settings:
            setting = sheet.settings[item]
            acts.append(Act(setting.say[value], setting.minutes, {item: value}, live=not setting.key_off))
        elif item in sheet.plugs:
            place = sheet.places[sheet.plugs[item]]
            verb = "Unplug" if value == "out" else "Plug in"
            acts.append(Act(f"{verb} the {place.spoken}.", sheet.costs.plug, {item: value}))
    return acts


def _fit(name: str, sheet: MachineSheet) -> Act:
    jumper = sheet.jumpers[name]
    ends = " to ".join(sheet.points[p].short for p in jumper.between)
    return Act(f"{jumper.spoken.capitalize()}: {ends}.", sheet.costs.jumper, {"jumper": name})


def _meter_acts(bench: Bench, measure: Measure, sheet: MachineSheet) -> list[Act]:
    acts: list[Act] = []
    hold = measure.hold or "none"
    dial = measure.needs_range or measure.quantity
    if bench.dial != dial:
        acts.append(Act(f"Meter to {DIALS.get(dial, dial)}.", sheet.costs.dial, {"dial": dial}))
    if (bench.hold or "none") != hold:
        say = "Min max off." if hold == "none" else "Min max on."
        acts.append(Act(say, sheet.costs.dial, {"hold": hold}))
    return acts


def _probe_acts(bench: Bench, red: str | None, black: str | None, sheet: MachineSheet) -> list[Act]:
    """Black first, red last; a place already named in this breath is not named again."""
    acts: list[Act] = []
    moves = [("Black", black, bench.black), ("Red", red, bench.red)]
    said: str | None = sheet.points[bench.black].place if bench.black in sheet.points and black == bench.black else None
    if red and black and sheet.points[red].place == "hand" and red == black:
        return (
            [] if bench.red == red else [Act("Touch the probe tips together.", sheet.costs.probe, red=red, black=black)]
        )
    if red and black and bench.red and bench.black and red != bench.red and black != bench.black:
        acts.append(Act("Red out, black out.", 0))
    for colour, point, at in moves:
        if point is None or point == at:
            continue
        spot = sheet.points[point]
        words = spot.short if said == spot.place else spot.spoken
        there = {sheet.points[p].place for p in (bench.red, bench.black) if p in sheet.points} | {said}
        minutes = sheet.costs.probe + (0 if spot.place in there else sheet.places[spot.place].access_minutes)
        acts.append(
            Act(
                f"{colour} to {words}.",
                minutes,
                red=point if colour == "Red" else None,
                black=point if colour == "Black" else None,
            )
        )
        said = spot.place
    return acts


def joined(acts: list[Act], bench: Bench, *, clear_probes: bool = False) -> tuple[Stage, ...]:
    """Acts in breaths of at most WORDS_MAX words, each answered with "set"."""
    breaths: list[list[Act]] = []
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
