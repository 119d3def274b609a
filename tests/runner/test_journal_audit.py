"""Whatever is done to a record behind the program's back is found and named."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from runner.record.chain import Audit, canonical, digest
from runner.record.journal import Journal


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A journal with job-1 (8 events) and then job-2 (4 events)."""
    path = tmp_path / "leadsman.db"
    for session, count in (("job-1", 8), ("job-2", 4)):
        with Journal.open(path, session) as journal:
            for number in range(1, count + 1):
                journal.append({"type": "measured", "value": number / 10, "words": f"reading {number}"})
    return path


def tamper(path: Path, *statements: str) -> None:
    """Change the file with the triggers out of the way, as someone would who means to."""
    db = sqlite3.connect(path)
    db.execute("DROP TRIGGER IF EXISTS events_no_update")
    db.execute("DROP TRIGGER IF EXISTS events_no_delete")
    for statement in statements:
        db.execute(statement)
    db.commit()
    db.close()


def audit(path: Path, session: str = "job-1") -> Audit:
    with Journal.read(path) as journal:
        return journal.audit(session)


def test_untouched_sessions_are_intact(path: Path) -> None:
    assert audit(path) == Audit("job-1", 8)
    assert audit(path, "job-2").intact and audit(path).first_broken is None


@pytest.mark.parametrize("number", [1, 5, 8])
def test_changed_value_is_named(path: Path, number: int) -> None:
    tamper(path, f"""UPDATE events SET body = replace(body, '"value":0.{number}', '"value":0.9')
        WHERE session = 'job-1' AND sequence = {number}""")  # fmt: skip
    result = audit(path)
    assert not result.intact and result.first_broken == number
    assert result.breaks[0].what == f"event {number} was changed"
    assert audit(path, "job-2").intact


@pytest.mark.parametrize("number", [1, 5, 8])
def test_change_with_a_fresh_hash_is_found_by_what_comes_after(path: Path, number: int) -> None:
    with Journal.read(path) as journal:
        event = journal.events("job-1")[number - 1]
    body = canonical({**{key: value for key, value in event.items() if key != "hash"}, "value": 9.9})
    tamper(path, f"""UPDATE events SET body = '{body}', hash = '{digest(body)}'
        WHERE session = 'job-1' AND sequence = {number}""")  # fmt: skip
    result = audit(path)
    assert result.first_broken == number and "changed" in result.breaks[0].what


@pytest.mark.parametrize("number", [1, 4])
def test_missing_event_is_named(path: Path, number: int) -> None:
    tamper(path, f"DELETE FROM events WHERE session = 'job-1' AND sequence = {number}")
    result = audit(path)
    assert result.events == 7 and result.first_broken == number
    assert result.breaks[0].what == f"event {number} is missing"


def test_several_breaks_are_all_named(path: Path) -> None:
    tamper(
        path,
        "DELETE FROM events WHERE session = 'job-1' AND sequence IN (2, 3)",
        "UPDATE events SET body = '{' WHERE session = 'job-1' AND sequence = 6",
    )
    assert [each.sequence for each in audit(path).breaks] == [2, 3, 6]


def test_two_events_exchanged_are_named(path: Path) -> None:
    tamper(
        path,
        "UPDATE events SET sequence = 99 WHERE session = 'job-1' AND sequence = 3",
        "UPDATE events SET sequence = 3 WHERE session = 'job-1' AND sequence = 4",
        "UPDATE events SET sequence = 4 WHERE session = 'job-1' AND sequence = 99",
    )
    result = audit(path)
    assert result.first_broken == 3 and "order" in result.breaks[0].what


def test_event_brought_in_from_another_session_is_named(path: Path) -> None:
    tamper(
        path,
        "DELETE FROM events WHERE session = 'job-1' AND sequence = 3",
        "UPDATE events SET session = 'job-1' WHERE session = 'job-2' AND sequence = 3",
    )
    assert audit(path).first_broken == 3
    assert audit(path, "job-2").first_broken == 3


CUT_1 = "DELETE FROM events WHERE session = 'job-1' AND sequence > 5"
CUT_2 = "DELETE FROM events WHERE session = 'job-2' AND sequence > 2"


def hide(session: str, events: int) -> str:
    """Also make the list of sessions say what is left."""
    return f"""UPDATE sessions SET events = {events}, head = (SELECT hash FROM events
        WHERE session = '{session}' AND sequence = {events}) WHERE session = '{session}'"""


def test_cut_end_is_told_by_the_list_of_sessions(path: Path) -> None:
    tamper(path, CUT_1)
    result = audit(path)
    assert [each.sequence for each in result.breaks] == [6, 7, 8]
    assert "cut off" in result.breaks[0].what and "8 events" in result.breaks[0].what


def test_hidden_cut_is_told_by_the_next_session(path: Path) -> None:
    tamper(path, CUT_1, hide("job-1", 5))
    result = audit(path)
    assert result.first_broken == 6 and "session job-2" in result.breaks[0].what


def test_hidden_cut_of_the_newest_session_is_told_by_the_writers_file(path: Path) -> None:
    tamper(path, CUT_2, hide("job-2", 2))
    result = audit(path, "job-2")
    assert result.first_broken == 3 and "the writer's file" in result.breaks[0].what


def test_whole_session_taken_out_is_missed_by_the_next(path: Path) -> None:
    tamper(path, "DELETE FROM events WHERE session = 'job-1'", "DELETE FROM sessions WHERE session = 'job-1'")
    assert audit(path).first_broken == 1 and audit(path).events == 0


def test_older_copy_put_back_is_told_by_the_writers_file(path: Path) -> None:
    """As a file's tail is lost, or a backup copied over: the events and the list of sessions agree with each other."""
    older = path.read_bytes()
    with Journal.open(path, "job-2") as journal:
        journal.append({"type": "said"})
    path.write_bytes(older)
    assert audit(path, "job-2").first_broken == 5
    with Journal.open(path, "job-2") as journal:
        assert journal.audit().first_broken == 5  # opening to write does not forget it


def test_lost_writers_file_is_no_break(path: Path) -> None:
    path.with_name("leadsman.db.writer").unlink()
    assert audit(path, "job-2").intact


def test_damaged_writers_file_is_no_break(path: Path) -> None:
    path.with_name("leadsman.db.writer").write_text("{", encoding="utf-8")
    assert audit(path, "job-2").intact
