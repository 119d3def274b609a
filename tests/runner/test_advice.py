"""Suspects and what is left, said during a session; a reading that fits nothing is offered to be read again."""

import pytest

from flows.judging import Reading
from flows.meter import load_meter
from flows.site import Site
from flows.source import load_flow, load_sheet
from runner.job import Job
from runner.record.logbook import ListStore, Logbook
from runner.talk.advice import Advisor, grounds_for
from runner.talk.dialogue import Conversation
from runner.talk.line import Line
from speech.fakes import QuietVoice, ScriptedEars

SHEET = load_sheet("th2")
JOB = Job(load_flow("manifold-pressure", SHEET), SHEET, Site(), load_meter("bench"))
GROUNDS = grounds_for(JOB)
CAUTIONS = ("no_piercing", "meter_10m")


def converse(*script: str, at: str) -> tuple[list[str], list[dict]]:
    """A conversation from one step on, cautions said before, until "stop test"."""
    assert GROUNDS is not None
    advisor = Advisor(GROUNDS)
    store, voice = ListStore(), QuietVoice()
    logbook = Logbook(store, watchers=(advisor.watch,))
    logbook.write("opened", session="t", flow=JOB.flow.name, step=at)
    for name in CAUTIONS:
        logbook.write("caution", name=name, text="", acknowledged=True)
    line = Line(ScriptedEars(*script, "stop test"), voice, logbook)
    Conversation(JOB, line=line, logbook=logbook, advisor=advisor).run()
    return voice.said, [dict(event) for event in store.events]


SUPPLY = ("set",)


def test_suspects_thin_out_as_readings_come_in() -> None:
    said, events = converse("set", "set", "zero point three millivolts", "", "suspects", "how many left", at="ground")
    odds = [event for event in events if event["type"] == "suspects"]
    assert odds and odds[0]["step"] == "ground"
    assert any("faults are possible" in text or text.startswith("Most likely") for text in said)
    assert any(text.startswith("About ") and text.endswith("left.") for text in said)


# 7.5 V on a five volt supply: above anything the regulator gives, far below the battery; by hand
STRANGE = "seven point five zero volts"


def test_a_reading_that_nothing_explains_is_called_again_and_taken_when_it_stands() -> None:
    said, events = converse(*SUPPLY, STRANGE, STRANGE, "", at="supply")
    assert any(text.endswith("No fault left explains that. Check the probes, and call it again.") for text in said)
    assert sum("explains that" in text for text in said) == 1, "asked once, not for ever"
    (taken,) = [event for event in events if event["type"] == "measured"]
    assert (taken["value"], taken["attempts"], taken["confirmed"]) == (7.5, 2, "called_twice")
    (overridden,) = [event for event in events if event["type"] == "overridden"]
    assert (overridden["step"], overridden["why"]) == ("supply", "no fault left explains the reading")
    assert any(event["type"] == "doubt" for event in events)
    assert any("Recorded as doubtful" in text for text in said)


def test_a_slip_that_nothing_explains_is_gone_with_the_second_call() -> None:
    good = "five point zero zero volts"
    _, events = converse(*SUPPLY, STRANGE, good, good, "", at="supply")
    assert [event["value"] for event in events if event["type"] == "measured"] == [5.0]
    assert not [event for event in events if event["type"] in ("overridden", "doubt")]


def test_what_a_fault_explains_is_not_doubted() -> None:
    # a broken supply wire reads nothing; a repaired or sound one reads five volts; both are explained
    assert GROUNDS is not None
    advisor = Advisor(GROUNDS)
    for volts in (0.0, 5.0):
        assert advisor.explains("supply", Reading("dc_voltage", volts))
    assert not advisor.explains("supply", Reading("dc_voltage", 7.5))
    advisor.watch({"type": "measured", "step": "supply", "value": 7.5, "high": None, "over_range": False})
    assert advisor.explains("signal", Reading("dc_voltage", 9.0)), (
        "once nothing fits, nothing is held against a reading"
    )


def test_a_repaired_engine_is_judged_afresh() -> None:
    assert GROUNDS is not None
    advisor = Advisor(GROUNDS)
    advisor.watch({"type": "measured", "step": "supply", "value": 0.0, "high": None, "over_range": False})
    assert advisor.standing().odds["none"] < 0.01
    advisor.watch({"type": "proof_begun"})
    assert advisor.standing().odds["none"] == pytest.approx(1 / len(advisor.standing().odds))
