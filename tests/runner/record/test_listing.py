"""The list of sessions is kept up event by event and can be searched, filtered and paged."""

from __future__ import annotations

import os
import sqlite3
from pathlib import Path

import pytest

from runner.errors import RunError
from runner.record import listing_speed
from runner.record.journal import Journal
from runner.record.listing import Listing, Wanted, line_of
from runner.record.records import journal_of, list_sessions

OPENED = {"type": "opened", "flow": "battery", "title": "Battery and ground", "machine": "TH-2"}


def session(path: Path, name: str, *events: dict[str, object]) -> None:
    with Journal.open(path, name) as journal:
        for event in events:
            journal.append(event)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "journal.sqlite"
    who = {"type": "answered", "step": "who", "store": "who", "answer": "AT", "outcome": "answered"}
    closed = {"type": "closed", "status": "found, not proved"}
    session(path, "day-quiet", OPENED, who, {"type": "found", "finding": "battery-weak"}, closed)
    session(
        path,
        "day-odd",
        {**OPENED, "flow": "supply", "title": "Sensor supply", "simulated": {"fault": "none"}},
        {**who, "answer": "BK"},
        {"type": "heard", "listening": "reading", "confidence": 0.59},
        {"type": "heard", "listening": "commands", "confidence": 0.2},
        {"type": "corrected", "step": "supply"},
        {"type": "measured", "step": "supply", "attempts": 3},
        {"type": "judged", "step": "supply", "near_limit": True},
        {"type": "doubt", "why": "the meter could not decide"},
        {"type": "found", "finding": "supply-low"},
        closed,
    )
    session(path, "day-open", OPENED, {"type": "paused", "step": "rest"})
    session(path, "day-signed", OPENED, {"type": "doubt", "why": "x"}, closed, {"type": "signed_off", "by": "S"})
    return path


def names(path: Path, **wanted: object) -> list[str]:
    return [row.session for row in list_sessions(path, Wanted(**wanted)).rows]  # type: ignore[arg-type]


def test_those_that_need_somebody_come_first_then_the_newest(path: Path) -> None:
    assert names(path) == ["day-odd", "day-quiet", "day-signed", "day-open"]
    assert names(path, order="newest") == ["day-signed", "day-open", "day-odd", "day-quiet"]


def test_line_counts_what_a_reviewer_asks_for(path: Path) -> None:
    row = list_sessions(path, Wanted(person="BK")).rows[0]
    assert (row.session, row.flow, row.title, row.machine) == ("day-odd", "supply", "Sensor supply", "TH-2")
    assert (row.status, row.finding, row.events, row.simulated) == ("found, not proved", "supply-low", 10, True)
    counts = (row.doubtful, row.corrected, row.overridden, row.near_limit, row.retakes, row.low_confidence)
    assert counts == (1, 1, 0, 1, 1, 1)
    assert row.opened_utc <= row.last_utc and row.signed == ""


@pytest.mark.parametrize(
    ("wanted", "found"),
    [
        ({"text": "GROUND quiet"}, ["day-quiet"]),
        ({"text": "%"}, []),
        ({"text": "'; DROP TABLE listing; --"}, []),
        ({"flow": "supply"}, ["day-odd"]),
        ({"finding": "battery-weak"}, ["day-quiet"]),
        ({"machine": "TH-2", "person": "AT"}, ["day-quiet"]),
        ({"marks": frozenset({"doubtful"})}, ["day-odd", "day-signed"]),
        ({"marks": frozenset({"doubtful", "unsigned"})}, ["day-odd"]),
        ({"marks": frozenset({"unfinished"})}, ["day-open"]),
        ({"marks": frozenset({"corrected"}), "text": "battery"}, []),
    ],
)
def test_filters(path: Path, wanted: dict[str, object], found: list[str]) -> None:
    assert names(path, **wanted) == found
    assert list_sessions(path, Wanted(**wanted)).total == len(found)  # type: ignore[arg-type]


def test_pages_add_up_to_the_whole(path: Path) -> None:
    pages = [list_sessions(path, Wanted(offset=offset, limit=3)) for offset in (0, 3, 6)]
    assert [len(page.rows) for page in pages] == [3, 1, 0]
    assert {page.total for page in pages} == {4}
    assert [row.session for page in pages for row in page.rows] == names(path)


def test_choices_are_what_is_there(path: Path) -> None:
    choices = list_sessions(path, Wanted(limit=1)).choices
    assert choices.flows == (("battery", "Battery and ground"), ("supply", "Sensor supply"))
    assert choices.findings == ("battery-weak", "supply-low")
    assert choices.machines == ("TH-2",) and choices.persons == ("AT", "BK")


def test_going_on_takes_the_signature_off_and_a_seal_does_not(path: Path) -> None:
    session(path, "day-signed", {"type": "sealed"}, {"type": "commented"})
    assert "day-signed" not in names(path, marks=frozenset({"unsigned"}))
    session(path, "day-signed", {"type": "resumed", "step": "x"}, {"type": "closed", "status": "proved"})
    assert names(path, marks=frozenset({"unsigned"})) == ["day-odd", "day-signed", "day-quiet"]


def test_kept_line_is_the_fold_of_the_events(path: Path) -> None:
    with Journal.read(path) as journal:
        for line in journal.sessions():
            assert line == line_of(line.session, journal.events(line.session))


def test_journal_of_an_older_program_is_listed_and_then_brought_up_to_date(path: Path) -> None:
    before = list_sessions(path, Wanted())
    db = sqlite3.connect(path)
    db.execute("DROP TABLE listing")
    db.execute("ALTER TABLE sessions DROP COLUMN imported_utc")
    db.execute("PRAGMA user_version = 1")
    db.commit()
    db.close()
    assert list_sessions(path, Wanted()) == before  # by a reader, which leaves the file as it is
    session(path, "day-open", {"type": "resumed", "step": "rest"})
    assert list_sessions(path, Wanted()).total == 4


def test_line_of_nothing() -> None:
    assert line_of("x", []) == Listing("x")


def test_speed_is_measured_over_what_it_says(tmp_path: Path) -> None:
    with Journal.open(tmp_path / "x.sqlite", "none") as journal:
        listing_speed.fill(journal, 40)
    with Journal.read(tmp_path / "x.sqlite") as journal:
        assert all(journal.audit(line.session).intact for line in journal.sessions())
    measured = listing_speed.times_ms(tmp_path / "x.sqlite", rounds=1)
    assert measured["the newest"][0] == 40 and measured["text in none"][0] == 0


def test_ten_times_the_sessions_are_at_most_ten_times_the_work(tmp_path: Path) -> None:
    """Counted in instructions of SQLite's machine; `python -m runner.record.listing_speed` has the milliseconds."""

    def work(count: int) -> dict[str, int]:
        path = listing_speed.filled(tmp_path / str(count), count)
        done = {}
        for name, wanted in listing_speed.ASKED.items():
            with Journal.read(path) as journal:
                ticks: list[int] = []
                journal._db.set_progress_handler(lambda ticks=ticks: ticks.append(1), 10)
                journal.listed(wanted)
                done[name] = 10 * len(ticks)
        return done

    (tmp_path / "200").mkdir()
    (tmp_path / "2000").mkdir()
    few, many = work(200), work(2000)
    for name in few:
        assert few[name] > 0 and many[name] < 12 * few[name] + 5000, (name, few[name], many[name])


def test_the_last_session_is_the_newest_rehearsal_until_a_person_has_run_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("LEADSMAN_HOME", str(tmp_path))
    folder = tmp_path / "rehearsals"
    folder.mkdir()
    for age, name in enumerate(("2031-04-05-zzzz", "2031-04-05-aaaa")):
        (folder / f"{name}.sqlite").touch()
        os.utime(folder / f"{name}.sqlite", (1e9 + age, 1e9 + age))
    assert journal_of("last", journal=None) == (folder / "2031-04-05-aaaa.sqlite", "2031-04-05-aaaa")
    (tmp_path / "journal.sqlite").write_bytes(b"")
    with pytest.raises(RunError):  # the bay's own, which holds none
        journal_of("last", journal=None)
