"""Sessions go to another bay and come back whole or not at all; nothing a file holds can do harm."""

from __future__ import annotations

import csv
import json
from datetime import UTC, datetime
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from runner.cli import cli
from runner.errors import RunError
from runner.record import copies
from runner.record.chain import GENESIS, EventError, canonical, digest
from runner.record.exporting import CannotExport, export, for_paper, readings_csv
from runner.record.importing import NotBroughtIn, bring_in
from runner.record.journal import Journal, JournalError
from runner.record.signing import own_key, public_hex, seal
from runner.report import render

MEASURED: dict[str, Any] = {
    "type": "measured",
    "step": "supply",
    "quantity": "dc_voltage",
    "value": 4.96,
    "high": None,
    "over_range": False,
    "unit": "V",
    "words": "four point nine six volts",
    "decimals": 2,
    "attempts": 2,
    "confirmed": "called_twice",
    "place_red": "a",
    "place_black": "b",
    "state": {},
}
JUDGED: dict[str, Any] = {
    "type": "judged",
    "step": "supply",
    "outcome": "in",
    "low": 4.75,
    "high": 5.25,
    "unit": "V",
    "because": "The control unit makes 5 volts.",
    "guard": 0.01,
    "near_limit": False,
    "value": 4.96,
    "quantity": "dc_voltage",
}
EVENTS: list[dict[str, Any]] = [
    {"type": "opened", "session": "job-1", "flow": "supply", "title": "Sensor supply", "machine": "TH-2"},
    {"type": "asked", "step": "supply", "want": "reading", "text": "Call the volts.", "red": None, "black": None},
    MEASURED,
    JUDGED,
    {"type": "proof_begun"},
    {**MEASURED, "value": 5.01, "attempts": 1},
    {"type": "closed", "status": "not found today"},
]


@pytest.fixture
def bay(tmp_path: Path) -> Path:
    path = tmp_path / "bay.sqlite"
    with Journal.open(path, "job-1") as journal:
        for event in EVENTS:
            journal.append(event)
    return path


@pytest.fixture
def copy(bay: Path, tmp_path: Path) -> Path:
    with Journal.read(bay) as journal:
        export(journal, "job-1", tmp_path / "copy.jsonl")
    return tmp_path / "copy.jsonl"


def bring(file: Path, journal: Path, **more: Any) -> list[tuple[str, int]]:
    return [(each.checked.session, each.added) for each in bring_in(file, journal, render=render, **more)]


def chained(events: list[dict[str, Any]], session: str = "job-1") -> str:
    """Lines of a copy whose chain is right, whatever is in it."""
    previous, lines = GENESIS, []
    for number, event in enumerate(events, start=1):
        own = {"session": session, "sequence": number, "previous": previous, "at_mono_s": 1.0}
        whole = {"at_utc": "2031-04-05T06:07:08.123Z", **event, **own}
        previous = digest(canonical(whole))
        lines.append(canonical({**whole, "hash": previous}))
    return "\n".join(lines) + "\n"


# --- there and back -------------------------------------------------------------------------------------------------


def test_copy_comes_in_whole_and_twice_does_nothing(copy: Path, bay: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.sqlite"
    assert bring(copy, other) == [("job-1", 7)]
    assert bring(copy, other) == [("job-1", 0)]
    with Journal.read(other) as there, Journal.read(bay) as here:
        assert there.events("job-1") == here.events("job-1")
        assert there.audit("job-1").intact
        assert there.line("job-1") == here.line("job-1")


def test_longer_copy_adds_what_is_new_and_a_shorter_one_nothing(copy: Path, bay: Path, tmp_path: Path) -> None:
    other, longer = tmp_path / "other.sqlite", tmp_path / "longer.jsonl"
    bring(copy, other)
    with Journal.open(bay, "job-1") as journal:
        journal.append({"type": "resumed", "step": "supply"})
        export(journal, "job-1", longer)
    assert bring(longer, other) == [("job-1", 1)]
    assert bring(copy, other) == [("job-1", 0)]


def test_other_session_of_the_same_name_is_refused(copy: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.sqlite"
    with Journal.open(other, "job-1") as journal:
        journal.append({"type": "opened", "flow": "x", "session": "job-1"})
    with pytest.raises(JournalError, match="differs from event 1"):
        bring(copy, other)


def test_nothing_comes_in_when_one_session_is_bad(copy: Path, tmp_path: Path) -> None:
    good = copy.read_text()
    copy.write_text(good + chained(EVENTS, "job-2").replace("5.01", "5.02"))
    with pytest.raises(NotBroughtIn, match="job-2 is not as it was written: event 6"):
        bring(copy, tmp_path / "other.sqlite")
    assert not (tmp_path / "other.sqlite").exists()


def test_what_came_in_says_nothing_of_this_bays_clock(tmp_path: Path) -> None:
    """Another bay's clock may go ahead of this one's by years."""
    path, file = tmp_path / "journal.sqlite", tmp_path / "ahead.jsonl"
    with Journal.open(path, "mine") as journal:
        first = journal.append({"type": "opened", "session": "mine", "flow": "x"})
    file.write_text(chained([{**event, "at_utc": "2099-01-01T00:00:00Z"} for event in EVENTS]))
    bring(file, path)
    with Journal.open(path, "next") as journal:
        stored = journal.append({"type": "opened", "session": "next", "flow": "x"})
        assert "clock_back_s" not in stored
        assert stored["before"]["hash"] == first["hash"]
        assert journal.audit("mine").intact and journal.audit("job-1").intact


def test_key_is_asked_for_when_one_is_given(copy: Path, bay: Path, tmp_path: Path) -> None:
    key, other = own_key(tmp_path / "key.pem"), tmp_path / "other.sqlite"
    with pytest.raises(NotBroughtIn, match="no seal"):
        bring(copy, other, key=public_hex(key))
    with Journal.open(bay, "job-1") as journal:
        seal(journal, key)
        export(journal, "job-1", copy)
    assert bring(copy, other, key=public_hex(key)) == [("job-1", 8)]


# --- hostile files --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("events", "told"),
    [
        ([{"type": "said"}], "begins with 'said'"),
        ([EVENTS[0], {"type": 5}], "has type '5'"),
        ([EVENTS[0], {**MEASURED, "value": "4.96"}], "has value '4.96'"),
        ([EVENTS[0], {"type": "branched", "step": "a", "outcome": "in"}], "has to 'None'"),
        ([{**EVENTS[0], "at_utc": "yesterday"}], "has the time 'yesterday'"),
        ([{**EVENTS[0], "at_utc": "2031-04-05T06:07:08"}], "want UTC"),
        ([EVENTS[0], {"type": "went_back", "to": ["a"]}, {"type": "bench", "bench": 7}], "No report can be made"),
    ],
)
def test_chain_that_is_right_round_events_that_are_not(events: list[dict[str, Any]], told: str, tmp_path: Path) -> None:
    file = tmp_path / "copy.jsonl"
    file.write_text(chained(events))
    with pytest.raises(NotBroughtIn, match=told):
        bring(file, tmp_path / "other.sqlite")


@pytest.mark.parametrize("name", ["../../etc/passwd", "a/b", "", ".hidden", "x" * 65, "a b", "ä"])
def test_name_that_would_lead_elsewhere_is_refused(name: str, tmp_path: Path) -> None:
    file = tmp_path / "copy.jsonl"
    file.write_text(chained(EVENTS, name))
    with pytest.raises(NotBroughtIn, match="no name of a session"):
        bring(file, tmp_path / "other.sqlite")


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", "no events"),
        (b"\xff\xfe\x00", "UTF-8"),
        (b"hello\n", "line 1"),
        (b"[1, 2]\n", "line 1"),
        (b"[" * 200_000 + b"\n", "line 1"),
        (b'{"session": "a", "sequence": 1e999, "hash": "x"}\n', "line 1|Infinity"),
        (b'{"session": "a", "sequence": NaN, "hash": "x"}\n', "line 1"),
        (b'{"session": "\x1b[2J", "sequence": 1, "hash": "x"}\n'.replace(b"\x1b", b"\\u001b"), "line 1.*printed"),
        (b'{"session": ["a"], "sequence": 1, "hash": "x"}\n', "line 1.*printed"),
        (b"x" * (copies.LONGEST_LINE + 2), "longer than any event"),
    ],
)
def test_file_that_is_no_copy(content: bytes, told: str, tmp_path: Path) -> None:
    file = tmp_path / "copy.jsonl"
    file.write_bytes(content)
    with pytest.raises(EventError, match=told):
        bring(file, tmp_path / "other.sqlite")


def test_size_is_bounded_before_anything_is_read(tmp_path: Path) -> None:
    file = tmp_path / "copy.jsonl"
    with file.open("wb") as out:
        out.truncate(2**31)  # two gigabytes of nothing
    with pytest.raises(EventError, match="2,048 MB"):
        bring(file, tmp_path / "other.sqlite")


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda each: st.lists(each, max_size=3) | st.dictionaries(st.text(max_size=8), each, max_size=3),
    max_leaves=6,
)
KEYS = sorted({key for event in EVENTS for key in event})


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_spoiled_events_are_refused_in_words_or_make_a_report(data: st.DataObject, tmp_path: Path) -> None:
    """The chain is made anew after the spoiling, so that only the shape of events can stop it."""
    events = [dict(event) for event in EVENTS]
    for _time in range(data.draw(st.integers(1, 3))):
        event = events[data.draw(st.integers(0, len(events) - 1))]
        event[data.draw(st.sampled_from(KEYS))] = data.draw(JSON)
    try:
        text = chained(events)
        file, other = tmp_path / "copy.jsonl", tmp_path / f"{datetime.now(UTC).timestamp()}.sqlite"
        file.write_text(text)
    except (ValueError, UnicodeError):
        return  # no JSON can be made of it
    try:
        brought = bring(file, other)
    except RunError as refused:
        assert len(str(refused)) < 400
        return
    with Journal.read(other) as journal:
        assert journal.audit(brought[0][0]).intact
        assert "<html" in render(journal.events(brought[0][0]))


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_any_byte_changed_is_refused_or_changes_nothing(data: st.DataObject, copy: Path, tmp_path: Path) -> None:
    whole = copy.read_bytes()
    at, byte = data.draw(st.integers(0, len(whole) - 1)), data.draw(st.integers(0, 255))
    file, other = tmp_path / "spoiled.jsonl", tmp_path / f"{datetime.now(UTC).timestamp()}.sqlite"
    file.write_bytes(whole[:at] + bytes([byte]) + whole[at + 1 :])
    try:
        bring(file, other)
    except RunError:
        return
    with Journal.read(other) as journal:
        assert [line + "\n" for line in journal.export_lines("job-1")] == whole.decode().splitlines(keepends=True)


# --- forms ----------------------------------------------------------------------------------------------------------


def test_csv_has_every_reading_in_base_units(bay: Path) -> None:
    with Journal.read(bay) as journal:
        rows = list(csv.DictReader(StringIO(readings_csv(journal, "job-1"))))
    assert [(row["step"], row["value"], row["phase"]) for row in rows] == [
        ("supply", "4.96", "job"),
        ("supply", "5.01", "proof"),
    ]
    first = rows[0]
    assert (first["low"], first["high"], first["outcome"], first["attempts"]) == ("4.75", "5.25", "in", "2")
    assert (first["upto"], first["over_range"], rows[1]["outcome"]) == ("", "no", "")


def test_csv_holds_no_formula(tmp_path: Path) -> None:
    with Journal.open(tmp_path / "x.sqlite", "job-1") as journal:
        journal.append(EVENTS[0])
        journal.append({**MEASURED, "words": '=HYPERLINK("http://x")', "value": -0.5})
        row = next(csv.DictReader(StringIO(readings_csv(journal, "job-1"))))
    assert row["words"].startswith("'=") and row["value"] == "-0.5"


def test_page_is_the_report(bay: Path, tmp_path: Path) -> None:
    with Journal.read(bay) as journal:
        export(journal, "job-1", tmp_path / "x.html")
        assert (tmp_path / "x.html").read_text() == render(journal.events("job-1"))
        with pytest.raises(CannotExport, match=r"\.jsonl, \.csv, \.html, \.pdf"):
            export(journal, "job-1", tmp_path / "x.docx")


def test_pdf_has_pages_and_fetches_nothing(bay: Path, tmp_path: Path) -> None:
    try:
        import weasyprint  # noqa: F401
    except (ImportError, OSError) as error:
        pytest.skip(f"needs WeasyPrint and Debian's libpango-1.0-0, libpangoft2-1.0-0, libharfbuzz-subset0: {error}")
    with Journal.open(bay, "job-1") as journal:
        journal.append({"type": "memo", "words": '<img src="file:///etc/passwd"> <b>x</b>'})
        told = export(journal, "job-1", tmp_path / "x.pdf")
    assert (tmp_path / "x.pdf").read_bytes().startswith(b"%PDF")
    assert int(told.split()[0]) >= 1


def test_drawings_for_paper_have_colours_of_their_own(bay: Path) -> None:
    with Journal.read(bay) as journal:
        page = for_paper(render(journal.events("job-1")))
    assert ".window { fill: #dfe8ef; }" in page.split("<svg", 2)[2]
    assert "var(" not in page.partition("<svg")[2].partition("<style>")[2].partition("</style>")[0]


def test_drawings_for_paper_hold_what_they_refer_to() -> None:
    page = "<style>@media print { :root { --ink: #000; } }</style><svg><defs><g id='c'></g></defs></svg>"
    page += '<svg class="a"><use href="#c"/></svg><svg class="b"><path/></svg>'
    first, second, third = for_paper(page).split("<svg")[1:]
    assert second.count("<g id='c'>") == 1 and first.count("<g id='c'>") == 1 and "<g" not in third


def test_pdf_without_its_package_says_what_to_install(
    bay: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(__import__("sys").modules, "weasyprint", None)
    with Journal.read(bay) as journal, pytest.raises(CannotExport, match=r"pip install 'leadsman\[pdf\]'"):
        export(journal, "job-1", tmp_path / "x.pdf")


# --- on the command line --------------------------------------------------------------------------------------------


def test_signed_copy_goes_from_bay_to_bay_by_commands(
    bay: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("LEADSMAN_HOME", str(tmp_path / "home"))

    def leadsman(*words: str) -> tuple[int, str, str]:
        done = CliRunner().invoke(cli, list(words))
        return done.exit_code, done.stdout, done.stderr

    file = str(tmp_path / "copy.jsonl")
    key = leadsman("sign", "job-1", "--journal", str(bay), "--show-key")[1].strip()
    assert leadsman("export", "job-1", "--to", file, "--journal", str(bay))[0] == 0
    assert leadsman("audit", file, "--key", key)[:2] == (0, f"job-1: 8 events, intact, sealed by key {key[:8]}\n")
    assert leadsman("import", file, "--key", key)[0] == 0
    assert "was here already" in leadsman("import", file)[2]
    told = json.loads(leadsman("audit", "job-1", "--json")[1])
    assert told["intact"] and told["sealed_upto"] == 8 and told["keys"] == [key]
    lines = Path(file).read_text().splitlines()
    Path(file).write_text("\n".join([*lines[:3], *lines[4:]]))
    code, out, _err = leadsman("audit", file, "--key", key)
    assert code == 1 and "event 4 is missing" in out
    assert leadsman("audit", file, "--key", "nonsense")[0] == 1
