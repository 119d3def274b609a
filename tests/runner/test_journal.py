"""The journal keeps what it was given, in order, chained, from one writer, and says in words what went wrong."""

from __future__ import annotations

import doctest
import hashlib
import json
import math
import os
import sqlite3
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from runner.record import migrations, sessions
from runner.record.chain import GENESIS, EventError, audit_links, read_export
from runner.record.journal import Journal, JournalBusy, JournalError
from runner.record.sessions import UnknownSession, new_session_name

OPENED = {"type": "opened", "flow": "manifold-pressure", "title": "Manifold pressure", "machine": {"name": "TH-2"}}


class SetClock:
    """A clock the test sets."""

    def __init__(self) -> None:
        self.now = datetime(2031, 4, 5, 6, 7, 8, 123456, tzinfo=UTC)
        self.running_s = 100.0

    def utc(self) -> datetime:
        return self.now

    def mono_s(self) -> float:
        return self.running_s

    def pass_s(self, seconds: float) -> None:
        self.now += timedelta(seconds=seconds)
        self.running_s += abs(seconds)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "jobs" / "leadsman.db"


@pytest.fixture
def journal(path: Path) -> Iterator[Journal]:
    with Journal.open(path, "job-1", clock=SetClock()) as opened:
        yield opened


# --- what is kept ---------------------------------------------------------------------------------------------------


def test_event_comes_back_as_stored(journal: Journal) -> None:
    stored = journal.append(OPENED)
    assert stored == {
        **OPENED,
        "session": "job-1",
        "sequence": 1,
        "previous": GENESIS,
        "at_utc": "2031-04-05T06:07:08.123Z",
        "at_mono_s": 100.0,
        "hash": stored["hash"],
    }
    assert journal.events() == [stored] == journal.events("job-1")


def test_hash_is_sha256_of_canonical_json_by_hand(journal: Journal) -> None:
    stored = journal.append({"type": "said", "text": "5 Ω, na?"})
    by_hand = (
        '{"at_mono_s":100.0,"at_utc":"2031-04-05T06:07:08.123Z","previous":"' + "0" * 64 + '",'
        '"sequence":1,"session":"job-1","text":"5 Ω, na?","type":"said"}'
    )
    assert stored["hash"] == hashlib.sha256(by_hand.encode()).hexdigest()


def test_each_event_holds_the_hash_of_the_one_before(journal: Journal) -> None:
    stored = [journal.append({"type": "said", "text": str(number)}) for number in range(4)]
    assert [each["sequence"] for each in stored] == [1, 2, 3, 4]
    assert [each["previous"] for each in stored] == [GENESIS, *(each["hash"] for each in stored[:3])]


def test_number_that_is_not_finite_is_kept_as_nothing(journal: Journal) -> None:
    stored = journal.append({"type": "heard", "level_dbfs": math.nan, "list": (math.inf, 1.5, -math.inf)})
    assert stored["level_dbfs"] is None and stored["list"] == [None, 1.5, None]


def test_what_json_cannot_hold_is_refused_by_name(journal: Journal) -> None:
    with pytest.raises(EventError, match=r"measured\.state\.key is a object"):
        journal.append({"type": "measured", "state": {"key": object()}})
    with pytest.raises(EventError, match=r"measured has the key 4"):
        journal.append({"type": "measured", 4: "x"})  # type: ignore[dict-item]
    assert journal.events() == []


@pytest.mark.parametrize("event", [{}, {"type": ""}, {"type": 3}])
def test_event_without_a_type_is_refused(journal: Journal, event: dict[str, object]) -> None:
    with pytest.raises(EventError, match="type"):
        journal.append(event)


@pytest.mark.parametrize("key", ["sequence", "hash", "previous", "at_utc"])
def test_event_may_not_bring_the_journals_own_facts(journal: Journal, key: str) -> None:
    with pytest.raises(EventError, match=key):
        journal.append({"type": "said", key: 1})


def test_event_of_another_session_is_refused(journal: Journal) -> None:
    journal.append({**OPENED, "session": "job-1"})
    with pytest.raises(EventError, match="job-2"):
        journal.append({**OPENED, "session": "job-2"})


def test_any_text_survives(journal: Journal) -> None:
    text = 'quote " line\n nul \0 emoji 🔌 lone \ud800 </script>'
    journal.append({"type": "memo", "words": text})
    assert journal.events()[0]["words"] == text.replace("\ud800", "?")
    assert journal.audit().intact


# --- sessions -------------------------------------------------------------------------------------------------------


def test_journal_goes_on_where_it_was(path: Path) -> None:
    with Journal.open(path, "job-1") as first:
        last = first.append(OPENED)
    with Journal.open(path, "job-1") as again:
        assert again.append({"type": "resumed"})["previous"] == last["hash"]
        assert [each["sequence"] for each in again.events()] == [1, 2]
        assert again.audit().intact


def test_unnamed_session_gets_a_name_that_sorts_by_day(path: Path) -> None:
    with Journal.open(path, clock=SetClock()) as journal:
        assert journal.append(OPENED)["session"] == journal.session
        assert str(journal.session).startswith("2031-04-05-")
    assert new_session_name(datetime.now(UTC)) != new_session_name(datetime.now(UTC))


def test_list_of_sessions_says_how_each_stands(path: Path) -> None:
    with Journal.open(path, "job-1") as journal:
        journal.append(OPENED)
        journal.append({"type": "found", "finding": "signal-open"})
        journal.append({"type": "closed", "status": "found, not proved"})
    with Journal.open(path, "job-2") as journal:
        journal.append({**OPENED, "machine": "TH-2"})
        journal.append({"type": "closed", "status": "stopped"})
        journal.append({"type": "resumed"})
    with Journal.read(path) as journal:
        one, two = journal.sessions()
    assert (one.session, one.status, one.finding, one.events) == ("job-1", "found, not proved", "signal-open", 3)
    assert (two.session, two.status, two.machine, two.title) == ("job-2", "open", "TH-2", "Manifold pressure")
    assert one.opened_utc <= one.last_utc <= two.opened_utc


def test_session_is_found_by_part_of_its_name(path: Path) -> None:
    for name in ("2031-04-05-k3f7", "2031-04-06-aaaa"):
        with Journal.open(path, name) as journal:
            journal.append(OPENED)
    with Journal.read(path) as journal:
        assert journal.find("k3f7") == "2031-04-05-k3f7"
        assert journal.find("2031-04-06") == "2031-04-06-aaaa" == journal.find("last")
        with pytest.raises(UnknownSession, match="fits 2 sessions"):
            journal.find("2031")
        with pytest.raises(UnknownSession, match=r"no session 'x'.*newest are 2031-04-05-k3f7, 2031-04-06-aaaa"):
            journal.find("x")


def test_sessions_are_tied_together(path: Path) -> None:
    with Journal.open(path, "job-1") as journal:
        last = journal.append(OPENED)
    with Journal.open(path, "job-2") as journal:
        assert journal.append(OPENED)["before"] == {"session": "job-1", "sequence": 1, "hash": last["hash"]}
        assert "before" not in journal.append({"type": "said"})


# --- one writer -----------------------------------------------------------------------------------------------------


def test_second_writer_is_told_who_writes(journal: Journal, path: Path) -> None:
    with pytest.raises(JournalBusy, match=rf"process {os.getpid()} .*since 20.*--journal"):
        Journal.open(path, "job-2")
    journal.append(OPENED)


def test_reader_sees_each_event_while_another_writes(journal: Journal, path: Path) -> None:
    with Journal.read(path) as reader:
        assert reader.events("job-1") == []
        journal.append(OPENED)
        assert len(reader.events("job-1")) == 1
        with pytest.raises(JournalError, match="looking only"):
            reader.append(OPENED)


def test_writer_that_closed_lets_the_next_one_in(path: Path) -> None:
    Journal.open(path, "job-1").close()
    Journal.open(path, "job-1").close()


# --- clocks ---------------------------------------------------------------------------------------------------------


def test_clock_going_back_is_kept_and_flagged(path: Path) -> None:
    clock = SetClock()
    with Journal.open(path, "job-1", clock=clock) as journal:
        journal.append(OPENED)
        clock.pass_s(-3600)
        back = journal.append({"type": "said"})
        clock.pass_s(1)
        after = journal.append({"type": "said"})
        assert back["clock_back_s"] == 3600.0 and back["at_utc"] == "2031-04-05T05:07:08.123Z"
        assert "clock_back_s" not in after
        assert back["at_mono_s"] < after["at_mono_s"]
        assert journal.audit().intact


# --- what can go wrong ----------------------------------------------------------------------------------------------


def test_full_disk_loses_nothing_that_was_acknowledged(path: Path) -> None:
    with Journal.open(path, "job-1") as journal:
        journal.append(OPENED)
        pages = journal._db.execute("PRAGMA page_count").fetchone()[0]
        journal._db.execute(f"PRAGMA max_page_count = {pages + 4}")
        kept = 1
        with pytest.raises(JournalError, match=r"disk is full.*[Mm]ake room, then resume"):
            while True:
                journal.append({"type": "memo", "words": "x" * 2000})
                kept += 1
        assert 1 < kept < 20
        assert len(journal.events()) == kept and journal.audit().intact
        journal._db.execute(f"PRAGMA max_page_count = {pages + 400}")
        journal.append({"type": "resumed"})
        assert len(journal.events()) == kept + 1 and journal.audit().intact


@pytest.fixture
def nobody() -> Iterator[None]:
    """Root may write anywhere, so these tests are run as nobody."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(0)


def let_others_in(folder: Path) -> None:
    """Pytest's own folders are for their owner only."""
    for each in (folder, *folder.parents):
        if each.stat().st_uid == os.geteuid() and "pytest" in str(each):
            each.chmod(0o755)


@pytest.fixture
def closed_folder(path: Path) -> Iterator[Path]:
    with Journal.open(path, "job-1") as journal:
        journal.append(OPENED)
    let_others_in(path.parent.parent)
    path.chmod(0o444)
    path.parent.chmod(0o555)
    yield path
    path.parent.chmod(0o755)


def test_folder_that_cannot_be_written_is_named(closed_folder: Path, nobody: None) -> None:
    with pytest.raises(JournalError, match="cannot be written here"):
        Journal.open(closed_folder, "job-2")
    with pytest.raises(JournalError, match="cannot be written here"):
        Journal.open(closed_folder.parent / "new" / "leadsman.db", "job-2")


def test_record_on_a_read_only_disk_can_still_be_read(closed_folder: Path, nobody: None) -> None:
    with Journal.read(closed_folder) as journal:
        assert len(journal.events("job-1")) == 1
        assert journal.audit("job-1").intact


@pytest.mark.parametrize(
    "body", [b"not a database at all, but long enough to look at", b"SQLite format 3\x00" + b"x" * 900]
)
def test_file_that_is_no_journal_is_left_alone(tmp_path: Path, body: bytes) -> None:
    path = tmp_path / "notes.txt"
    path.write_bytes(body)
    for opening in (Journal.open, Journal.read):
        with pytest.raises(JournalError, match="not a journal"):
            opening(path)
    assert path.read_bytes() == body


def test_database_of_another_program_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "other.db"
    other = sqlite3.connect(path)
    other.execute("CREATE TABLE stock (part TEXT)")
    other.commit()
    other.close()
    for opening in (Journal.open, Journal.read):
        with pytest.raises(JournalError, match="another program"):
            opening(path)


def test_newer_journal_is_not_touched(path: Path) -> None:
    Journal.open(path, "job-1").close()
    later = sqlite3.connect(path)
    later.execute("PRAGMA user_version = 99")
    later.close()
    for opening in (Journal.open, Journal.read):
        with pytest.raises(JournalError, match=r"newer version.*99.*Update"):
            opening(path)


def test_no_journal_and_empty_file_are_told_apart(tmp_path: Path) -> None:
    with pytest.raises(JournalError, match="no journal at"):
        Journal.read(tmp_path / "none.db")
    (tmp_path / "empty.db").touch()
    with pytest.raises(JournalError, match="empty file"):
        Journal.read(tmp_path / "empty.db")
    Journal.open(tmp_path / "empty.db").close()


def test_other_programs_may_not_change_events_either(journal: Journal, path: Path) -> None:
    journal.append(OPENED)
    other = sqlite3.connect(path)
    for sql in ("UPDATE events SET body = '{}'", "DELETE FROM events"):
        with pytest.raises(sqlite3.IntegrityError, match="never changed"):
            other.execute(sql)
    other.close()


# --- migrations -----------------------------------------------------------------------------------------------------


def test_migration_that_fails_leaves_the_step_before(tmp_path: Path) -> None:
    db = sqlite3.connect(tmp_path / "x.db", isolation_level=None)

    def breaks(connection: migrations.Connection) -> None:
        connection.execute("CREATE TABLE half (x)")
        connection.execute("no sql")

    with pytest.raises(sqlite3.OperationalError):
        migrations.migrate(db, steps=(migrations.events_and_sessions, breaks))
    assert migrations.version_of(db) == 1
    assert db.execute("SELECT count(*) FROM sqlite_master WHERE name = 'half'").fetchone()[0] == 0
    migrations.migrate(db)
    assert migrations.version_of(db) == len(migrations.MIGRATIONS)
    db.close()


# --- export ---------------------------------------------------------------------------------------------------------


def test_export_is_json_lines_that_can_be_audited_elsewhere(journal: Journal) -> None:
    for number in range(3):
        journal.append({"type": "said", "text": f"Ω {number}", "value": 0.1 + 0.2})
    lines = list(journal.export_lines())
    assert [json.loads(line)["sequence"] for line in lines] == [1, 2, 3]
    assert all("\n" not in line for line in lines)
    links = [link for _session, link in read_export(lines)]
    assert audit_links("job-1", links).intact
    changed = [lines[0], lines[1].replace("Ω 1", "Ω 2"), lines[2]]
    assert audit_links("job-1", [link for _session, link in read_export(changed)]).first_broken == 2
    with pytest.raises(EventError, match="line 2"):
        read_export([lines[0], "not json"])


def test_examples_in_the_modules_hold() -> None:
    assert doctest.testmod(sessions).failed == 0
