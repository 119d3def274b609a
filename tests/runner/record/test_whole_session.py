"""One session in which everything happens: each thing is an event of its own, timed twice and chained."""

from __future__ import annotations

import math
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from flows.meter import load_meter
from flows.site import Site
from flows.source import load_flow, load_sheet
from runner.job import Job
from runner.record.chain import GENESIS
from runner.record.journal import Journal
from runner.record.logbook import Logbook
from runner.talk.advice import Advisor, grounds_for
from runner.talk.dialogue import Conversation
from runner.talk.line import Line
from speech.fakes import QuietVoice, ScriptedEars
from speech.ports import Alternative, DeviceLost, Heard

HEARD = Heard(
    "five point zero zero volts",
    0.99,
    (Alternative("nine point zero zero volts", 0.004),),
    level_dbfs=-21.0,
    noise_dbfs=-50.0,
)
SCRIPT = (
    *("stand by", "go ahead", "note", "plug looks wet"),  # at the caution, which is still open afterwards
    *("affirm", "set"),
    *(HEARD, "wrong", "five point zero zero volts", "", ""),
    DeviceLost("microphone", "pulled out"),
    *("stop test",),
)


@pytest.fixture
def events(tmp_path: Path) -> list[dict[str, Any]]:
    sheet = load_sheet("th2")
    flow = load_flow(Path(__file__).parents[1] / "small_flow.yaml", sheet)
    job = Job(flow, sheet, Site(), load_meter("bench"))
    grounds = grounds_for(job)
    assert grounds is not None
    advisor = Advisor(grounds)
    with Journal.open(tmp_path / "journal.sqlite", "job-1") as journal:
        logbook = Logbook(journal, watchers=(advisor.watch,))
        logbook.write("opened", flow="small", step="supply")
        more = ScriptedEars("set", "stop test", "stop test", "stop test")
        line = Line(ScriptedEars(*SCRIPT), QuietVoice(), logbook, fallback=lambda: (more, QuietVoice()))
        Conversation(job, line=line, logbook=logbook, advisor=advisor).run()
        assert journal.audit().intact
        return journal.events()


def of(events: list[dict[str, Any]], kind: str) -> dict[str, Any]:
    found = [event for event in events if event["type"] == kind]
    assert found, f"no {kind} among {sorted({event['type'] for event in events})}"
    return found[0]


def test_everything_that_happens_is_an_event(events: list[dict[str, Any]]) -> None:
    assert of(events, "asked")["want"] == "acknowledge"
    assert of(events, "said")["text"]
    assert of(events, "read_back")["text"].startswith("Five point zero zero volts")
    assert of(events, "corrected")["step"] == "supply"
    assert of(events, "measured")["confirmed"]
    assert of(events, "branched")["to"] == "at-unit"
    assert of(events, "suspects")["step"] == "supply"
    assert of(events, "caution")["acknowledged"] is True
    assert of(events, "device_lost")["reason"] == "pulled out"
    assert of(events, "paused") and of(events, "resumed") and of(events, "memo")
    assert of(events, "stopped") and of(events, "closed")["status"] == "stopped"


def test_what_was_heard_has_its_alternatives_and_confidence(events: list[dict[str, Any]]) -> None:
    heard = next(event for event in events if event["type"] == "heard" and event["words"] == HEARD.words)
    assert heard["confidence"] == 0.99 and heard["alternatives"] == [["nine point zero zero volts", 0.004]]
    assert (heard["level_dbfs"], heard["noise_dbfs"], heard["source"]) == (-21.0, -50.0, "voice")
    assert heard["listened_s"] >= 0


def test_judgement_has_its_window_and_why(events: list[dict[str, Any]]) -> None:
    judged = of(events, "judged")
    assert judged["low"] < 5.0 < judged["high"] and judged["unit"] == "V" and len(judged["because"].split()) > 3


def test_each_event_is_timed_twice_and_holds_the_hash_of_the_one_before(events: list[dict[str, Any]]) -> None:
    previous, mono_s = GENESIS, -math.inf
    for event in events:
        assert event["previous"] == previous and event["at_mono_s"] >= mono_s
        assert datetime.fromisoformat(event["at_utc"]).tzinfo is not None
        previous, mono_s = event["hash"], event["at_mono_s"]
    assert abs((datetime.fromisoformat(events[-1]["at_utc"]) - datetime.now(UTC)).total_seconds()) < 60
