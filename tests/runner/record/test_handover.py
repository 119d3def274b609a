"""Handing a job over: half a minute of words, the new person's initials, and the step that was next."""

from __future__ import annotations

from functools import cache
from typing import Any

import pytest

from flows.source import load_flow, load_sheet
from runner.job import Job
from runner.record.handover import LONGEST_WORDS, summary
from runner.record.logbook import ListStore, Logbook
from runner.record.session import State, fold
from runner.talk.consent import Sounds
from runner.talk.dialogue import Conversation
from runner.talk.handover import HandOver, announced
from runner.talk.line import Line
from speech.fakes import QuietVoice, ScriptedEars
from speech.ports import Heard
from speech.pyttsx3_voice import Synthesiser


def measured(step: str, outcome: str) -> list[dict[str, Any]]:
    taken = {
        "quantity": "dc_voltage",
        "value": 5.0,
        "over_range": False,
        "unit": "V",
        "confirmed": "yes",
        "attempts": 1,
    }
    return [
        {"type": "measured", "step": step, **taken},
        {"type": "judged", "step": step, "outcome": outcome, "low": 4.75, "high": 5.25},
    ]


def state_after(*events: dict[str, Any]) -> State:
    opened = {"type": "opened", "session": "test", "flow": "small"}
    told = {"type": "answered", "step": "complaint", "store": "complaint", "answer": "hard_starting"}
    return fold([opened, told, *events])


FOUND = {
    "type": "found",
    "finding": "supply-bad",
    "say": "The sensor supply is out of limits. Follow it.",
    "do": "Follow the supply wire.",
    "blames": [],
    "status": "found",
    "proof": ["supply"],
}
OUT = {"type": "bench", "bench": {"state": {"plug": "out"}, "red": None, "black": None, "dial": None, "hold": None}}


def test_summary_tells_complaint_proved_open_and_unplugged() -> None:
    state = state_after(*measured("supply", "low"), *measured("at-unit", "in"), *measured("ground", "doubtful"), OUT)
    assert summary(state, "Small flow", {"supply": "Sensor supply at the plug."}) == (
        "Handover. Small flow.",
        "The complaint: hard starting.",
        "No finding yet.",
        "Sensor supply at the plug: low.",
        "Open, in doubt: ground.",
        "In limits: at unit.",
        "Not put right: sensor plug is out.",
    )


def test_found_is_not_called_proved_before_it_is() -> None:
    found = state_after(FOUND)
    assert "Found, not proved: The sensor supply is out of limits." in summary(found, "Small flow", {})
    failed = state_after(FOUND, {"type": "proof_run", "steps": {"supply": "low"}, "passed": False})
    assert "Found, not proved: The sensor supply is out of limits." in summary(failed, "Small flow", {})
    proved = state_after(FOUND, {"type": "proof_run", "steps": {"supply": "in"}, "passed": True})
    assert "The repair is proved." in summary(proved, "Small flow", {})
    assert "Nothing is unplugged." in summary(proved, "Small flow", {})


FLOWS = ("manifold-pressure", "starter-and-ground")  # the longest names, and the most checks


@cache
def worst(flow: str) -> tuple[str, ...]:
    """Every check of a shipped flow out of its limits, everything pulled."""
    loaded = load_flow(flow, load_sheet("th2"))
    checks = [name for name, step in loaded.steps.items() if step.kind == "check"]
    state = {"plug": "out", "control_unit_plug": "out", "vacuum": "on", "jumper": "10k"}
    out = {"type": "bench", "bench": {**OUT["bench"], "state": state}}  # type: ignore[dict-item]
    events = [event for name in checks for event in measured(name, "high")]
    return summary(state_after(*events, FOUND, out), loaded.title, announced(loaded))


@pytest.mark.parametrize("flow", FLOWS)
def test_worst_case_has_few_words_and_tells_what_is_out(flow: str) -> None:
    sentences = worst(flow)
    assert sum(len(sentence.split()) for sentence in sentences) <= LONGEST_WORDS
    assert max(len(sentence.split()) for sentence in sentences) <= 25
    assert sentences[-1].startswith("Not put right: ") and "sensor plug is out" in sentences[-1]


def test_longest_summary_is_said_in_half_a_minute() -> None:
    longest = max((worst(flow) for flow in FLOWS), key=lambda each: len(" ".join(each)))
    voice = Synthesiser(rate_wpm=165)
    try:
        took_s = sum(voice.synthesise(sentence).duration_s for sentence in longest)
    finally:
        voice.close()
    assert took_s <= 30, f"{took_s:.1f} s: {longest}"


# --- in a conversation ----------------------------------------------------------------------------------------------


def handed(small_job: Job, *script: str, keep: bool = False) -> tuple[ListStore, list[str], Line]:
    """A session at its first check, taken over before that is asked."""
    store, voice = ListStore(), QuietVoice()
    before = [
        {"type": "opened", "session": "test", "flow": "small", "step": "supply"},
        {"type": "answered", "step": "who", "store": "who", "answer": "AT"},
    ]
    logbook = Logbook(store, events=before)
    line = Line(ScriptedEars(*script), voice, logbook)
    if keep:
        line.keep = lambda sound: {}
    conversation = Conversation(small_job, line=line, logbook=logbook)
    hand_over = HandOver(line, logbook, small_job.flow, asked_of_the_new=Sounds(line, logbook, None).ask)
    conversation.on_hand_over(hand_over)
    conversation.run(before=hand_over)
    return store, voice.said, line


def test_another_person_takes_over_and_the_next_step_is_asked(small_job: Job) -> None:
    store, said, line = handed(small_job, "bravo kilo", "", "affirm", "stop test", keep=True)
    event = next(each for each in store.events if each["type"] == "handed_over")
    assert (event["from"], event["to"]) == ("AT", "BK")
    assert event["summary"].startswith("Handover. A small flow")
    at = said.index("Yours now.")
    assert any(sentence.startswith("Caution.") or "Sensor supply" in sentence for sentence in said[at:])
    assert line.keep is None, "what one agreed to the next has not"
    assert fold(store.events).answers["who"] == "BK"


def test_initials_misheard_are_asked_again_and_may_be_kept_back(small_job: Job) -> None:
    store, said, _line = handed(small_job, "bravo kilo", "wrong", "cannot", "affirm", "stop test")
    event = next(each for each in store.events if each["type"] == "handed_over")
    assert event["to"] == "" and "B K." in said
    assert fold(store.events).answers.get("who") != "BK"


def test_hand_over_can_be_said_at_any_question(small_job: Job) -> None:
    store, voice = ListStore(), QuietVoice()
    logbook = Logbook(store, events=[{"type": "opened", "session": "test", "flow": "small", "step": "plug-off"}])
    line = Line(ScriptedEars("hand over", "bravo kilo", "", "stop test"), voice, logbook)
    conversation = Conversation(small_job, line=line, logbook=logbook)
    conversation.on_hand_over(HandOver(line, logbook, small_job.flow))
    conversation.run()
    assert [each["type"] for each in store.events].count("handed_over") == 1
    at = voice.said.index("Yours now.")
    assert voice.said[at + 1] == voice.said[0], "the question that was open is put again"


def test_typed_initials_are_taken_as_well(small_job: Job) -> None:
    store, _said, _line = handed(small_job, Heard("bravo kilo", 1.0, source="keyboard"), "", "affirm", "stop test")  # type: ignore[arg-type]
    assert next(each for each in store.events if each["type"] == "handed_over")["to"] == "BK"
