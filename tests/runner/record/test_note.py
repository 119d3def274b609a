"""The customer's note has its five parts and at most 120 words, whatever the job."""

from __future__ import annotations

from typing import Any

import pytest
from click.testing import CliRunner

from runner.cli import cli
from runner.record.journal import Journal
from runner.record.note import MOST_WORDS, customers_note


def measured(step: str, value: float) -> list[dict[str, Any]]:
    taken = {"quantity": "dc_voltage", "over_range": False, "unit": "V", "confirmed": "yes", "attempts": 1}
    return [
        {"type": "asked", "step": step, "want": "reading", "text": f"{step.capitalize()} voltage. Call the volts."},
        {"type": "measured", "step": step, "value": value, **taken},
        {"type": "judged", "step": step, "outcome": "in", "low": 4.75, "high": 5.25},
        {"type": "branched", "step": step, "outcome": "in", "to": "x"},
    ]


OPENED = {"type": "opened", "session": "job-1", "flow": "supply", "title": "Sensor supply", "machine": "TH-2 twin"}
TOLD = {"type": "answered", "step": "complaint", "store": "complaint", "answer": "hard_starting", "outcome": "x"}
FOUND = {
    "type": "found",
    "finding": "supply-low",
    "say": "The sensor supply is low.",
    "do": "Repair the supply wire.",
    "blames": ["supply-open"],
    "status": "found",
    "proof": ["supply"],
}
CLOSED = {"type": "closed", "status": "found, not proved"}
PROVED = [
    {"type": "proof_begun"},
    *measured("supply", 5.0),
    {"type": "proof_run", "steps": {"supply": "in"}, "passed": True},
    {"type": "closed", "status": "proved"},
]


def test_found_and_not_proved() -> None:
    out = {"type": "unreachable", "place": "control_unit"}
    note = customers_note([OPENED, TOLD, *measured("supply", 4.2), out, FOUND, CLOSED])
    assert note.splitlines() == [
        "TH-2 twin: Sensor supply.",
        "Complaint: hard starting.",
        "Cause: The sensor supply is low.",
        "Done: tested only. Advised: Repair the supply wire.",
        "Proof: none yet; found, not proved.",
        "Not checked: control unit.",
    ]


def test_proved_with_readings_before_and_after() -> None:
    lines = customers_note([OPENED, TOLD, *measured("supply", 4.2), FOUND, CLOSED, {"type": "resumed"}, *PROVED])
    assert "Done: repaired as follows. Repair the supply wire." in lines
    assert "Proof: passed. Supply voltage: 4.2\u202fV before, 5\u202fV after." in lines
    assert "Not checked: nothing; every check of this test that was needed was done." in lines


def test_proof_that_did_not_pass_is_said_so() -> None:
    failed = [{**each, "passed": False} if each["type"] == "proof_run" else each for each in PROVED]
    note = customers_note([OPENED, TOLD, *measured("supply", 4.2), FOUND, CLOSED, *failed])
    assert "Proof: not passed. Supply voltage" in note and "Done: tested only." in note


def test_session_that_found_nothing_or_was_stopped() -> None:
    assert "Cause: not found yet; the test was not finished." in customers_note([OPENED])
    nothing = {**FOUND, "status": "not_found", "say": "Nothing found today.", "do": ""}
    note = customers_note([OPENED, nothing, {"type": "closed", "status": "not found today"}])
    assert "Cause: Nothing found today." in note and "Proof: none." in note and "nothing was changed" in note


def test_rehearsal_is_called_one() -> None:
    assert customers_note([{**OPENED, "simulated": {"fault": "x"}}]).startswith("Rehearsal: no real engine")


@pytest.mark.parametrize("count", [1, 12, 60])
def test_no_job_takes_more_words(count: int) -> None:
    before = [event for number in range(count) for event in measured(f"place-{number}", 4.0)]
    after = [event for number in range(count) for event in measured(f"place-{number}", 5.0)]
    doubts = [{"type": "doubt", "why": f"place-{number}: the meter could not decide"} for number in range(count)]
    long = {**FOUND, "say": "The supply is low. " * 5, "do": "Repair the wire between the two. " * 5}
    note = customers_note([OPENED, TOLD, *before, *doubts, long, CLOSED, {"type": "proof_begun"}, *after, *PROVED[-2:]])
    assert len(note.split()) <= MOST_WORDS
    parts = [line.split(":")[0] for line in note.splitlines()]
    assert parts == ["TH-2 twin", "Complaint", "Cause", "Done", "Proof", "Not checked"]
    if count > 3:
        assert "more" in note


def test_sentence_without_end_is_cut_and_says_so() -> None:
    note = customers_note([OPENED, {**FOUND, "say": "word " * 400}])
    assert len(note.split()) <= MOST_WORDS and "..." in note


def test_command(tmp_path: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LEADSMAN_HOME", str(tmp_path))
    with Journal.open(tmp_path / "journal.sqlite", "job-1") as journal:
        for event in (OPENED, TOLD, FOUND, CLOSED):
            journal.append(event)
    done = CliRunner().invoke(cli, ["note"])
    assert done.exit_code == 0 and done.stdout.startswith("TH-2 twin: Sensor supply.")
