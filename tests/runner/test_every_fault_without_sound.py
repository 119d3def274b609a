"""The whole conversation with the simulated technician, words handed over as text: every fault ends in its finding.

Sound and recogniser are tested in test_rehearsal.py and, for every fault, by `leadsman rehearse ... --fault all`.
"""

from typing import Any

import numpy as np
import pytest

from flows.circuits import CIRCUITS
from flows.meter import load_meter
from flows.model import Flow
from flows.site import Site
from flows.source import load_flow, load_sheet, shipped_flows
from flows.walking import next_step
from runner.job import Job
from runner.record.logbook import ListStore, Logbook
from runner.record.session import fold
from runner.rehearsal.engine import SimulatedEngine, drawn, is_right, notes_of
from runner.rehearsal.technician import Habits, Technician
from runner.talk.dialogue import Conversation
from runner.talk.line import Line
from speech.fakes import QuietVoice
from speech.ports import Heard, Listened, Silence

SHEET = load_sheet("th2")
FLOW = load_flow("manifold-pressure", SHEET)
CIRCUIT = CIRCUITS[FLOW.circuit](SHEET)
FAULTS = CIRCUIT.faults()
OTHERS = [name for name in shipped_flows() if name != FLOW.name]
MOST_CALL_OUTS = 200


class TextEars:
    """Hands the technician's words over; spoils every `spoil`-th reading, as a bad recogniser would."""

    def __init__(self, technician: Technician, *, spoil: int = 0) -> None:
        self.technician = technician
        self.spoil = spoil
        self.heard = 0

    def listen(self, kind: str, *, timeout_s: float) -> Listened:
        words = self.technician.reply()
        self.heard += 1
        assert self.heard < MOST_CALL_OUTS, "the conversation does not end"
        if words is None:
            return Silence(timeout_s)
        if self.spoil and kind == "reading" and self.heard % self.spoil == 0:
            words = words.replace("four", "five").replace("zero", "one")
        return Heard(words, confidence=1.0)

    def close(self) -> None: ...


def walk(
    name: str,
    *,
    site: Site | None = None,
    seed: int = 0,
    reaches: bool = True,
    spoil: int = 0,
    prove_after: list[dict[str, Any]] | None = None,
    flow: Flow = FLOW,
    circuit: Any = CIRCUIT,
) -> list[dict[str, Any]]:
    """Events of one session; with prove_after, of that session taken up again to prove a repair."""
    job = Job(flow, SHEET, site or Site(), load_meter("bench"))
    fault = circuit.faults().get(name)
    engine = SimulatedEngine(circuit, fault, site=job.site, meter=job.meter, draw=drawn(seed))
    habits = Habits(reaches_control_unit=reaches)
    technician = Technician(
        engine, meter=job.meter, steps=notes_of(job), habits=habits, rng=np.random.default_rng(seed)
    )
    store = ListStore()
    logbook = Logbook(store, events=prove_after or (), watchers=(technician.told,))
    line = Line(TextEars(technician, spoil=spoil), QuietVoice(heard_by=technician.hears), logbook)
    if prove_after:
        logbook.write("resumed", step=logbook.state.step)
        Conversation(job, line=line, logbook=logbook).prove()
    else:
        logbook.write("opened", session="t", flow=flow.name, step=flow.start)
        Conversation(job, line=line, logbook=logbook).run()
    return [*(prove_after or ()), *(dict(event) for event in store.events)]


def found(events: list[dict[str, Any]]) -> dict[str, Any]:
    return next(event for event in events if event["type"] == "found")


@pytest.mark.parametrize("name", ["none", *FAULTS])
def test_the_finding_blames_the_fault_and_nothing_outside_its_class(name: str) -> None:
    events = walk(name)
    blames = tuple(found(events)["blames"])
    assert is_right(blames, None if name == "none" else name, CIRCUIT.classes()), found(events)["finding"]


@pytest.mark.parametrize("name", ["none", "signal-open", "ground-resistance"])
def test_the_conversation_takes_the_branches_of_the_table(name: str) -> None:
    events = walk(name)
    for event in events:
        if event["type"] == "branched":
            assert event["to"] == next_step(FLOW, event["step"], event["outcome"])
    assert fold(events).step == found(events)["finding"]


@pytest.mark.parametrize("name", ["none", "supply-open", "signal-open", "sensor-dead"])
@pytest.mark.parametrize("spoil", [3, 4])
def test_misheard_readings_are_repaired_by_readback_and_second_calls(name: str, spoil: int) -> None:
    events = walk(name, spoil=spoil)
    objected = [e for e in events if e["type"] == "heard" and e["words"].startswith(("correction", "wrong"))]
    disagreed = [e for e in events if e["type"] == "said" and e["text"].startswith("I have ")]
    assert objected or disagreed, "nothing was misheard, so nothing was tested"
    blames = tuple(found(events)["blames"])
    assert is_right(blames, None if name == "none" else name, CIRCUIT.classes())


@pytest.mark.parametrize("altitude_m", [-300, 1600, 4500])
def test_a_healthy_engine_is_not_condemned_high_or_low_above_the_sea(altitude_m: int) -> None:
    assert found(walk("none", site=Site(altitude_m=altitude_m), seed=altitude_m + 301))["blames"] == []


def test_without_the_control_unit_the_finding_says_what_cannot_be_told_apart() -> None:
    ending = found(walk("signal-open", reaches=False))
    assert "signal-open" in ending["blames"]
    assert ending["status"] == "cannot_decide" or len(ending["blames"]) == 1


def test_nothing_is_left_apart_at_the_end() -> None:
    for name in ("signal-short-to-ground", "sensor-dead", "none"):
        closed = next(event for event in walk(name) if event["type"] == "closed")
        assert closed["put_right"] == []


@pytest.mark.parametrize("name", ["supply-open", "signal-open", "ground-resistance", "sensor-dead", "thermistor-short"])
def test_a_repair_is_proved_and_a_part_that_was_not_mended_is_not(name: str) -> None:
    events = walk(name)
    mended = fold(walk("none", prove_after=events))
    assert mended.status == "proved"
    before = {m.step for m in mended.replaced}
    assert before & set(mended.proof["steps"]), "the check that failed was read again, so before and after can be shown"
    assert fold(walk(name, prove_after=events)).status == "found, not proved"


def wrong_of(flow_name: str, every: int) -> list[str]:
    """Faults of a flow, one in so many, that the conversation does not end right on; "none" is always tried."""
    flow = load_flow(flow_name, SHEET)
    circuit = CIRCUITS[flow.circuit](SHEET)
    classes = circuit.classes()
    wrong = []
    for name in ("none", *list(circuit.faults())[::every]):
        ending = found(walk(name, flow=flow, circuit=circuit))
        if not is_right(tuple(ending["blames"]), None if name == "none" else name, classes):
            wrong.append(f"{name}: {ending['finding']}")
    return wrong


@pytest.mark.parametrize("flow_name", OTHERS)
def test_every_other_flow_ends_right_in_conversation(flow_name: str) -> None:
    assert wrong_of(flow_name, every=6) == []


@pytest.mark.slow
@pytest.mark.parametrize("flow_name", OTHERS)
def test_every_fault_of_every_other_flow_ends_right_in_conversation(flow_name: str) -> None:
    assert wrong_of(flow_name, every=1) == []
