"""Faults that come and go, and two at once: which are made, what a finding is worth for them, and that none is condemned for another."""

from pathlib import Path

import numpy as np
import pytest

from flows.bench import Bench
from flows.circuits import CIRCUITS, MODULES, Fault
from flows.meter import load_meter
from flows.model import Act, Finding, Flow, Step
from flows.network.faults import about
from flows.network.pairs import MOST
from flows.rules.hazards import needed
from flows.source import load_flow, load_sheet, shipped_flows
from flows.staging import stages
from flows.trial.comings import said_of, walk_comings
from flows.trial.engines import draw_engines
from flows.trial.twos import walk_pairs
from flows.trial.walk import Course, Walker
from flows.walker import World, walk
from flows.walks import walks

SHEET = load_sheet("th2")
COOLANT = CIRCUITS["coolant-temperature"](SHEET)
SIGNAL = ("coolant_plug.coolant-signal", "battery.negative", "dc_voltage")

# Flow -> faults that its flow takes for another today, in some engines or in all, as `leadsman trial --come-and-go` tells.
# A line goes when the flow does not do so any more; none is added.
MISTAKEN: dict[str, set[str]] = {
    "accelerator-pedal": {
        "pedal-two-signal-short-to-battery-when-moved",
        "pedal-two-ground-resistance-when-moved",
    },
    "fuel-pump": {"pump-control-resistance-when-moved"},
    "manifold-pressure": {"ground-resistance-when-moved", "signal-short-to-temperature-wire-when-moved"},
    "oxygen-sensor": {
        "oxygen-heater-drive-short-to-ground-when-moved",
        "oxygen-heater-feed-open-when-shaken",
        "oxygen-signal-short-to-ground-when-shaken",
        "oxygen-signal-short-to-oxygen-ground-wire-when-shaken",
    },
}


def end(name: str, *blames: str, status: str = "found") -> Finding:
    return Finding(name=name, say=name, do=name, blames=blames, status=status)  # type: ignore[arg-type]


ENDS = (
    end("just-a", "a-open"),
    end("a-and-b", "a-open", "b-open"),
    end("a-or-b", "a-open", "b-open", status="cannot_decide"),
    end("a-terminals", "a-loose", "b-loose"),
    end("just-b", "b-open"),
    end("nothing", status="not_found"),
    end("no-access", status="cannot_decide"),
)
STEPS = {"s": Step(name="s", kind="act", say="Do it.", act=Act(), outcomes={"done": "nothing", "cannot": "nothing"})}
FLOW = Flow(name="f", title="f", circuit="c", start="s", steps=STEPS, findings={f.name: f for f in ENDS})
FAULTS = {
    name: Fault(name, "open", name, wire=name.partition("-")[0]) for name in ("a-open", "b-open", "a-loose", "b-loose")
}
CLASSES = {name: frozenset({name}) for name in FAULTS} | {
    n: frozenset({"a-loose", "b-loose"}) for n in ("a-loose", "b-loose")
}


@pytest.mark.parametrize(
    ("finding", "said"),
    [
        ("just-a", "found"),  # its wire, whatever is wrong with it
        ("a-and-b", "wrong"),  # another wire condemned beside it
        ("a-or-b", "undecided"),  # said to be undecided
        ("a-terminals", "found"),  # no measurement tells these two apart
        ("just-b", "wrong"),
        ("nothing", "not found"),
        ("no-access", "undecided"),
        ("", "undecided"),  # a walk without an end
    ],
)
def test_what_a_finding_is_worth_for_a_fault_of_wire_a_that_comes_and_goes(finding: str, said: str) -> None:
    fault = Fault("a-short-when-moved", "intermittent", "", wire="a", of=(FAULTS["a-open"],))
    assert said_of(FLOW, finding, fault, faults=FAULTS, classes=CLASSES) == said


def test_it_is_there_only_under_its_condition_and_at_its_place() -> None:
    fault = COOLANT.come_and_go()["coolant-signal-leak-to-ground-when-wet"]
    assert fault.where == "coolant_plug"
    sound, wet, elsewhere, moved = (
        COOLANT.reading(fault, *SIGNAL, {"key": "on", **state})
        for state in ({}, {"wet": "coolant_plug"}, {"wet": "unit"}, {"moving": "coolant_plug"})
    )
    assert sound == elsewhere == moved == COOLANT.reading(None, *SIGNAL, {"key": "on"})
    assert wet == COOLANT.reading("coolant-signal-leak-to-ground", *SIGNAL, {"key": "on"}) < sound - 0.3


def test_a_running_engine_shakes_and_a_warm_one_warms() -> None:
    shaken, hot = (COOLANT.come_and_go()[f"coolant-signal-open-when-{word}"] for word in ("shaken", "hot"))
    opens = COOLANT.reading("coolant-signal-open", *SIGNAL, {"key": "on"})
    assert COOLANT.reading(shaken, *SIGNAL, {"key": "on", "engine": "idle"}) == pytest.approx(opens, abs=1e-3)
    assert COOLANT.reading(hot, *SIGNAL, {"key": "on", "warmth": "warm"}) == pytest.approx(opens, abs=1e-3)
    for fault in (shaken, hot):
        assert COOLANT.reading(fault, *SIGNAL, {"key": "on"}) > 1


BROUGHT_OUT = load_flow(Path(__file__).parents[1] / "flows_good" / "brought-out.yaml", SHEET)


@pytest.mark.parametrize(
    ("word", "finding"), [("wet", "wet"), ("hot", "hot"), ("cold", "cold"), ("shaken", "nothing"), ("moved", "loose")]
)
def test_a_watch_step_wets_warms_and_cools(word: str, finding: str) -> None:
    """Walked by many engines at once and by one alone."""
    walker = Walker(Course(BROUGHT_OUT, COOLANT, SHEET, load_meter()), draw_engines(3, seed=1))
    world = World(SHEET, COOLANT, BROUGHT_OUT, load_meter())
    ending = "leak-to-ground" if word == "wet" else "resistance" if word == "moved" else "open"
    fault = COOLANT.come_and_go()[f"coolant-signal-{ending}-when-{word}"]
    assert set(walker.walk(fault).finding_of(3)) == {finding}
    assert walk(world, fault).finding == finding


def test_what_no_measurement_tells_apart_of_those_that_come_and_go() -> None:
    classes = COOLANT.classes_come_and_go()
    wet = {f"coolant-signal-leak-to-{other}-when-wet" for other in ("ground", "coolant-ground-wire")}
    assert classes["coolant-signal-leak-to-ground-when-wet"] == wet
    for name in ("coolant-signal-open-when-hot", "coolant-ground-open-when-shaken"):
        assert classes[name] == {name}


@pytest.mark.parametrize(
    ("by", "said", "caution"),
    [("wet", "Wet the", "wetting"), ("warmed", "Warm the", "hot_air"), ("chilled", "Cool the", "cold_spray")],
)
def test_what_is_said_for_it_and_its_caution(by: str, said: str, caution: str) -> None:
    step = next(step for step in BROUGHT_OUT.steps.values() if step.watch is not None and step.watch.by == by)
    assert any(f"{said} coolant sensor plug." in stage.say for stage in stages(Bench(), step, SHEET))
    assert caution in needed(step, SHEET) and caution in step.cautions


def test_one_that_comes_and_goes_can_be_named() -> None:
    """As `python -m flows.walks FLOW --faults NAME` and a rehearsal name it."""
    name = "coolant-signal-short-to-ground-when-moved"
    state = {"key": "on", "moving": "harness"}
    assert COOLANT.reading(name, *SIGNAL, state) == COOLANT.reading("coolant-signal-short-to-ground", *SIGNAL, state)
    told = [one for one in walks("coolant-temperature", faults=(name,)) if one.reaches]
    assert told and {one.verdict for one in told} == {"right"}


def test_its_code_was_stored_while_it_was_there() -> None:
    assert COOLANT.codes(COOLANT.come_and_go()["coolant-signal-open-when-cold"]) == ("P0118",)


@pytest.mark.parametrize("name", sorted(MODULES))
def test_conditions_and_pairs_are_made_of_the_faults_that_stay(name: str) -> None:
    circuit = CIRCUITS[name](SHEET)
    every = circuit.faults(later=True)
    for fault in circuit.come_and_go().values():
        (stays,) = fault.of
        assert stays == every[stays.name] and about(fault) == about(stays)
        assert fault.where == "harness" or fault.where in SHEET.places
    pairs = circuit.pairs()
    assert len(pairs) <= MOST
    for pair in pairs.values():
        one, two = pair.of
        assert one != two and (one.wire == two.wire or {one.kind, two.kind}.isdisjoint({"part", "intermittent"}))


def test_both_of_a_pair_are_there_at_once() -> None:
    pair = next(p for p in COOLANT.pairs().values() if {f.kind for f in p.of} == {"open", "short"})
    ends = [f"{place}.coolant-signal" for place in ("coolant_plug", "unit")]
    off = {"key": "off", "coolant_plug": "out", "control_unit_plug": "out"}
    assert np.isinf(COOLANT.reading(pair, *ends, "resistance", off))
    assert pair.of[0].wire == "coolant-signal"


@pytest.mark.parametrize("name", shipped_flows())
def test_no_fault_that_comes_and_goes_condemns_what_it_is_not(name: str) -> None:
    flow = load_flow(name, SHEET)
    walker = Walker(Course(flow, CIRCUITS[flow.circuit](SHEET), SHEET, load_meter()), draw_engines(6, seed=1))
    wrong = {made.fault.name for made in walk_comings(walker) if made.said["wrong"]}
    assert wrong <= MISTAKEN.get(name, set())
    assert MISTAKEN.get(name, set()) <= set(walker.course.circuit.come_and_go())


def test_of_two_faults_one_is_found_and_after_its_repair_the_other() -> None:
    """A bound that holds today; the figures come from `leadsman trial --pairs`."""
    right = walks = 0
    for name in ("coolant-temperature", "throttle-position"):
        flow = load_flow(name, SHEET)
        walker = Walker(Course(flow, CIRCUITS[flow.circuit](SHEET), SHEET, load_meter()), draw_engines(4, seed=1))
        for two in walk_pairs(walker):
            assert not two.outside, two.outside
            right, walks = right + two.said["right"], walks + two.said.total()
    assert right >= 0.9 * walks > 0
