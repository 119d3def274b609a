"""One button does what the voice does: wherever a yes or a no is wanted, and nothing else needs a word but values and names."""

import pytest

from flows.circuits import CIRCUITS
from flows.meter import load_meter
from flows.site import Site
from flows.source import load_flow, load_sheet
from runner.job import Job
from runner.rehearsal.by_text import Hands, walk
from speech.ports import Heard, Listened, ListeningKind, Rejected, Silence

SHEET = load_sheet("th2")
# What each word becomes with a thumb: short is yes, long is no, as speech.vosk_ears hands them over.
SHORT = {"affirm", "set", "clear", "fine", "steady", "go ahead", "yes"}
LONG = {"bad", "moved", "wrong", "no", "none"}


class Thumb(Hands):
    """A technician who presses wherever it can be pressed, and speaks values, initials and choices."""

    def listen(self, kind: ListeningKind, *, timeout_s: float) -> Listened:
        heard = super().listen(kind, timeout_s=timeout_s)
        if isinstance(heard, Heard) and heard.words in SHORT | LONG:
            return Heard("yes" if heard.words in SHORT else "no", 1.0, source="button")
        return heard


def pressed(flow: str, fault: str) -> tuple[str, set[str]]:
    """The finding, and the wants that were answered with the button."""
    job = Job(load_flow(flow, SHEET), SHEET, Site(), load_meter("bench"))
    circuit = CIRCUITS[job.flow.circuit](SHEET)
    by_thumb = walk(job, circuit, circuit.faults().get(fault), made_by=Thumb)
    by_voice = walk(job, circuit, circuit.faults().get(fault))
    want, wants = "", set()
    for event in by_thumb:
        if event["type"] == "asked":
            want = event["want"]
        if event["type"] == "heard" and event["source"] == "button":
            wants.add(want)
    found = [next(e["finding"] for e in events if e["type"] == "found") for events in (by_thumb, by_voice)]
    assert found[0] == found[1]
    return found[0], wants


def test_a_whole_job_with_the_button_ends_as_with_the_voice() -> None:
    wants: set[str] = set()
    for flow, fault in (
        ("manifold-pressure", "none"),
        ("manifold-pressure", "signal-intermittent"),
        ("charging", "none"),
        ("coolant-temperature", "coolant-signal-open"),
    ):
        wants |= pressed(flow, fault)[1]
    assert {"set", "clear", "acknowledge", "look", "watch", "codes"} <= wants


@pytest.mark.parametrize("press", ["yes", "no"])
def test_is_it_right_and_swap_and_stand_by_take_the_button(run_session, press: str) -> None:
    button = Heard(press, 1.0, source="button")
    yes = Heard("yes", 1.0, source="button")
    good = "five point zero zero three volts"
    rest = (yes, good, "", good, "", yes, good, good, "", yes)
    again = () if press == "yes" else (good, "")
    done = run_session(yes, yes, good, Rejected("", 0.2), button, *again, *rest)
    assert done.of("measured")[0]["confirmed"] == ("yes" if press == "yes" else "implicit")
    minus = "minus five point zero zero three volts"
    done = run_session(yes, yes, minus, minus, "", yes, good, "", *rest)
    assert done.of("measured")[0]["value"] == 5.003
    silent = (Silence(30.0),) * 4
    done = run_session(*silent, yes, yes, yes, good, "", *rest)
    assert any("press the button" in text for text in done.said) and done.of("measured")


def test_after_a_readback_a_long_press_takes_the_reading_back(run_session) -> None:
    yes, no = (Heard(words, 1.0, source="button") for words in ("yes", "no"))
    good = "five point zero zero three volts"
    rest = (yes, good, "", good, "", yes, good, good, "", yes)
    done = run_session(yes, yes, "five point zero one three volts", no, good, "", *rest)
    assert done.of("corrected") and done.of("measured")[0]["value"] == 5.003


def test_set_where_a_value_is_wanted_asks_for_the_value(run_session) -> None:
    yes = Heard("yes", 1.0, source="button")
    good = "five point zero zero three volts"
    done = run_session(yes, yes, "set", good, "", yes, good, "", good, "", yes, good, good, "", yes)
    assert "Call the reading." in done.said and done.of("measured")[0]["value"] == 5.003
