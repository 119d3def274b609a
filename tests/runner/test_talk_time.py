"""What counts as the talk of one check, by hand; and that no flow's talk grows unseen."""

import pytest

from flows.circuits import CIRCUITS
from flows.source import shipped_flows
from runner.rehearsal.by_text import walk
from runner.rehearsal.talk_time import Check, checks_of, measured
from runner.talk.people import Manner
from speech.phrasing import talk_s

KINDS = {"supply": "check", "plug": "look"}


def seconds(text: str) -> float:
    return float(len(text))


def test_a_check_begins_at_its_caution_and_ends_where_the_flow_goes_on() -> None:
    events = [
        {"type": "asked", "step": "plug", "want": "look"},
        {"type": "said", "text": "12345"},
        {"type": "heard", "words": "fine"},
        {"type": "branched"},
        {"type": "asked", "step": "supply", "want": "acknowledge"},
        {"type": "said", "text": "123"},
        {"type": "heard", "words": "12"},
        {"type": "asked", "step": "supply", "want": "reading"},
        {"type": "said", "text": "1234"},
        {"type": "heard", "words": "123"},
        {"type": "read_back", "text": "12"},
        {"type": "measured", "step": "supply"},
        {"type": "branched"},
        {"type": "said", "text": "the finding is no part of a check"},
        {"type": "asked", "step": None, "want": "set"},
        {"type": "asked", "step": "supply", "want": "reading"},
        {"type": "said", "text": "1"},
        {"type": "measured", "step": "supply"},
        {"type": "checked_at_end"},
    ]
    assert list(checks_of(events, KINDS, tool=seconds, person=seconds)) == [
        Check("supply", 9.0, 5.0, 2, 1),
        Check("supply", 1.0, 0.0, 0, 0),
    ]


@pytest.mark.parametrize("flow", shipped_flows()[::6])
def test_brief_wording_talks_less_and_neither_talks_for_ever(flow: str) -> None:
    """12 s are wanted; the bound is what no flow may reach again, see DEVELOPERS.md for the figures."""
    full, brief = (measured(flow, Manner(brief=brief), tool=talk_s, person=talk_s, every=12) for brief in (False, True))
    assert brief.mean_s < full.mean_s < 20
    assert full.before_first <= 2
    assert full.within <= brief.within


def test_a_walk_ends_in_a_closed_session(small_job) -> None:
    circuit = CIRCUITS[small_job.flow.circuit](small_job.sheet)
    events = walk(small_job, circuit, circuit.faults()["supply-open"])
    assert events[-1]["type"] == "closed"
    assert next(e for e in events if e["type"] == "found")["blames"] == ["supply-open"]
