"""What a reviewer writes goes into the session's own chain, and only onto what they have seen."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from runner.record import reviewing
from runner.record.journal import Journal, JournalBusy
from runner.record.reviewing import NotReviewed
from runner.record.session import fold
from runner.record.sessions import UnknownSession


@pytest.fixture
def path(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("LEADSMAN_HOME", str(tmp_path / "home"))
    path = tmp_path / "journal.sqlite"
    with Journal.open(path, "job-1") as journal:
        journal.append({"type": "opened", "flow": "battery", "session": "job-1"})
        journal.append({"type": "closed", "status": "not found today"})
    with Journal.open(path, "job-2") as journal:
        journal.append({"type": "opened", "flow": "battery", "session": "job-2"})
    return path


def seen(path: Path, session: str = "job-1") -> dict[str, object]:
    with Journal.read(path) as journal:
        last = journal.events(session)[-1]
    return {"upto": last["sequence"], "head": last["hash"]}


def test_review_is_chained_sealed_and_changes_no_state(path: Path) -> None:
    with Journal.read(path) as journal:
        before = fold(journal.events("job-1"))
    reviewing.comment(path, "job-1", by="  RB ", words="Why so long?", about=2)
    reviewing.heard_again(path, "job-1", by="RB", about=1, words="five volts", confidence=0.91)
    reviewing.send_back(path, "job-1", by="RB", words="Read the battery again.", **seen(path))  # type: ignore[arg-type]
    reviewing.sign_off(path, "job-1", by="RB", **seen(path))  # type: ignore[arg-type]
    with Journal.read(path) as journal:
        events = journal.events("job-1")
        assert journal.audit("job-1").intact
        assert fold(events) == before
        assert journal.line("job-1").signed == "signed"
    kinds = ["commented", "sealed", "heard_again", "sealed", "sent_back", "sealed", "signed_off", "sealed"]
    assert [each["type"] for each in events[2:]] == kinds
    assert (events[2]["by"], events[2]["words"], events[2]["about"]) == ("RB", "Why so long?", 2)


def test_seal_that_came_since_does_not_hinder_a_sign_off(path: Path) -> None:
    shown = seen(path)
    with Journal.open(path, "job-1") as journal:
        journal.append({"type": "sealed"})
    reviewing.sign_off(path, "job-1", by="RB", **shown)  # type: ignore[arg-type]


def test_nothing_is_signed_that_was_not_seen(path: Path) -> None:
    shown = seen(path)
    reviewing.comment(path, "job-1", by="XY", words="Wait.")
    with pytest.raises(NotReviewed, match="grown by 1"):
        reviewing.sign_off(path, "job-1", by="RB", **shown)  # type: ignore[arg-type]
    with pytest.raises(NotReviewed, match="not the one you were shown"):
        reviewing.sign_off(path, "job-1", by="RB", upto=2, head="0" * 64)
    with pytest.raises(NotReviewed, match="not the one you were shown"):
        reviewing.sign_off(path, "job-1", by="RB", upto=99, head="0" * 64)


def test_open_session_is_not_signed(path: Path) -> None:
    with pytest.raises(NotReviewed, match="not closed"):
        reviewing.sign_off(path, "job-2", by="RB", **seen(path, "job-2"))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("by", "words", "about", "told"),
    [
        ("", "x", None, "who made it"),
        ("n" * 81, "x", None, "who made it"),
        ("RB", "  ", None, "needs words"),
        ("RB", "x" * 2001, None, "too many"),
        ("RB", "x", 3, "no event 3"),
        ("RB", "x", 0, "no event 0"),
    ],
)
def test_what_cannot_stand_is_refused(path: Path, by: str, words: str, about: int | None, told: str) -> None:
    before = seen(path)
    with pytest.raises(NotReviewed, match=told):
        reviewing.comment(path, "job-1", by=by, words=words, about=about)
    assert seen(path) == before


def test_session_that_is_not_there_is_not_begun(path: Path) -> None:
    with pytest.raises(UnknownSession):
        reviewing.comment(path, "job-9", by="RB", words="x")
    with Journal.read(path) as journal:
        assert len(journal.sessions()) == 2


def test_broken_session_takes_no_review(path: Path) -> None:
    db = sqlite3.connect(path)
    db.execute("DROP TRIGGER events_no_update")
    db.execute("UPDATE events SET body = replace(body, 'not found', 'all fine') WHERE session = 'job-1'")
    db.commit()
    db.close()
    with pytest.raises(NotReviewed, match="event 2 was changed"):
        reviewing.comment(path, "job-1", by="RB", words="x")


def test_journal_in_use_is_said_to_be(path: Path) -> None:
    with Journal.open(path, "job-2"), pytest.raises(JournalBusy, match="being written by process"):
        reviewing.comment(path, "job-1", by="RB", words="x")
