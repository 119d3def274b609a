"""What hands do with the key off before a reading can be taken, in the order in which they can: only what differs."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace

from flows.bench import RUNNING, Bench, Stage
from flows.counting import in_words
from flows.model import DEFAULT_STATE, Measure
from flows.sheet import MachineSheet, Point

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
BREATH_WORDS = 25  # the most that is said without waiting for an answer
SAY_SET = "Say set."  # said once a session


@dataclass(frozen=True)
class Act:
    """One thing to do, before acts are joined to stages."""

    say: str
    minutes: float
    changes: Mapping[str, str] = field(default_factory=dict)
    red: str | None = None
    black: str | None = None
    live: bool = False  # may be done with the key on
    quick: bool = False  # key, dial or probe: needs no word of its own that it is done
    full: str = ""  # as said the first time, where that is longer

    @property
    def in_full(self) -> str:
        """The words for somebody who has not been told yet."""
        return self.full or self.say


def key_off(sheet: MachineSheet) -> Act:
    return Act("Key off.", sheet.costs.key_cycle, {"key": "off", "engine": "off"}, quick=True)


def acts(
    bench: Bench,
    wanted: Mapping[str, str],
    measure: Measure | None,
    sheet: MachineSheet,
    *,
    known: Collection[str] = (),
) -> list[Act]:
    """Everything that is done with the key off, and the key off before it. known: see `known_after`."""
    red, black = (measure.red, measure.black) if measure else (bench.red, bench.black)
    parts = part_acts(bench, wanted, sheet)
    probes = _probe_acts(bench, red, black, sheet, known=known)
    meter = _meter_acts(bench, measure, sheet) if measure else []
    if probes and any("dial" in act.changes for act in meter) and _at_a_pin(bench.red, sheet):
        meter = [Act("Red out.", 0, quick=True), *meter]  # no dial is turned to ohms across a battery
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
        acts.append(Act(f"Meter to {DIALS.get(dial, dial)}.", sheet.costs.dial, {"dial": dial}, quick=True))
    if (bench.hold or "none") != hold:
        say = "Min max off." if hold == "none" else "Min max on."
        acts.append(Act(say, sheet.costs.dial, {"hold": hold}, quick=True))
    return acts


def _probe_acts(
    bench: Bench, red: str | None, black: str | None, sheet: MachineSheet, *, known: Collection[str]
) -> list[Act]:
    """Black first, red last; a place already named in this breath is not named again."""
    acts: list[Act] = []
    moves = [("Black", black, bench.black), ("Red", red, bench.red)]
    beside = sheet.points.get(black or "") if black == bench.black else None
    if red and black and sheet.points[red].place == "hand" and red == black:
        say = "Touch the probe tips together."
        return [] if bench.red == red else [Act(say, sheet.costs.probe, red=red, black=black, quick=True)]
    for colour, point, at in moves:
        if point is None or point == at:
            continue
        spot = sheet.points[point]
        there = {sheet.points[p].place for p in (bench.red, bench.black) if p in sheet.points}
        there |= {beside.place} if beside else set()
        minutes = sheet.costs.probe + (0 if spot.place in there else sheet.places[spot.place].access_minutes)
        acts.append(
            Act(
                f"{colour} to {_named(spot, sheet, beside=beside, known=known)}.",
                minutes,
                red=point if colour == "Red" else None,
                black=point if colour == "Black" else None,
                quick=True,
                full=f"{colour} to {_named(spot, sheet, beside=beside, known=())}.",
            )
        )
        beside = spot
    return acts


def _at_a_pin(point: str | None, sheet: MachineSheet) -> bool:
    """Whether a probe there touches the machine."""
    return point in sheet.points and sheet.points[point].place != "hand"


def _named(spot: Point, sheet: MachineSheet, *, beside: Point | None, known: Collection[str]) -> str:
    """A point as it has to be said: plug and view once, then the plug and where on it; a colour alone is no place."""
    if beside is not None and beside.place == spot.place:
        return spot.short if spot.spoken != spot.short else _differing(spot.short, beside.short)
    if spot.spoken == spot.short:
        return spot.short
    if spot.name in known:
        return f"{sheet.places[spot.place].spoken}, {spot.short.rpartition(', ')[0]}"
    if _view(spot.place) in known:
        return f"{sheet.places[spot.place].spoken}, {spot.short}"
    return spot.spoken


def _differing(words: str, before: str) -> str:
    """What is left of these words without the first ones that were said just before: "battery positive post", after
    "battery negative post", is "positive post".
    """
    rest, said = words.split(), before.split()
    while len(rest) > 1 and said and rest[0] == said[0]:
        rest, said = rest[1:], said[1:]
    return " ".join(rest)


def _view(place: str) -> str:
    return f"view of {place}"


def known_after(stage: Stage, sheet: MachineSheet) -> frozenset[str]:
    """What a person knows who has done this stage: its probe points, how those plugs are looked at, how it is answered."""
    points = {point for point in (stage.red, stage.black) if point in sheet.points}
    return frozenset(points | {_view(sheet.points[point].place) for point in points} | {stage.reply})


def joined(
    acts: list[Act], bench: Bench, *, clear_probes: bool = False, known: Collection[str] = (), lead: str = ""
) -> tuple[Stage, ...]:
    """Acts in breaths, each answered with "set". lead: what is said before the first."""
    made: list[Stage] = []
    for breath in breaths_of(acts, known=known, lead=lead):
        if clear_probes:
            bench = replace(bench, red=None, black=None)
        made.append(answered(breath, bench, known))
        bench = bench.after(made[-1])
    return tuple(made)


def answered(breath: list[Act], bench: Bench, known: Collection[str]) -> Stage:
    """One breath that is answered with "set"."""
    say = " ".join([*(act.say for act in breath), *_hint(known)])
    return replace(done(breath, bench), say=say, full=" ".join([*(act.in_full for act in breath), SAY_SET]))


def _hint(known: Collection[str]) -> tuple[str, ...]:
    return () if "set" in known else (SAY_SET,)


def done(breath: list[Act], bench: Bench) -> Stage:
    """What these acts change, as a stage without words."""
    changes = {item: value for act in breath for item, value in act.changes.items()}
    red, black = bench.red, bench.black
    for act in breath:
        red, black = act.red or red, act.black or black
    return Stage("", changes, red, black, 0, sum(act.minutes for act in breath), "set")


def breaths_of(acts: list[Act], *, known: Collection[str], lead: str) -> list[list[Act]]:
    """Acts in breaths of at most BREATH_WORDS words, the lead before the first and "Say set." among them."""
    breaths: list[list[Act]] = []
    room = BREATH_WORDS - sum(len(say.split()) for say in (lead, *_hint(known)))
    for act in acts:
        if breaths and words_of([*breaths[-1], act]) <= room:
            breaths[-1].append(act)
            continue
        room += len(lead.split()) if len(breaths) == 1 else 0
        breaths.append([act])
    return breaths


def words_of(acts: list[Act]) -> int:
    """How many words these take to say."""
    return sum(len(act.say.split()) for act in acts)
