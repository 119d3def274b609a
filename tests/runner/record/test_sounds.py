"""Sound is kept by its content, only with consent, and can be taken away without touching what was said."""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from runner.cli import cli
from runner.record.journal import Journal, JournalBusy
from runner.record.sounds import SoundStore, consent_of, forget, removed_sounds, sounds_in
from speech.sound import Sound

NOW = datetime(2031, 4, 5, 6, 7, 8, tzinfo=UTC)


def tone(hertz: float, *, seconds: float = 0.5) -> Sound:
    wave = np.sin(2 * np.pi * hertz * np.arange(round(16000 * seconds)) / 16000)
    return Sound((8000 * wave).astype(np.int16), 16000)


class Days:
    """A clock some days before NOW."""

    def __init__(self, before: float) -> None:
        self._at = NOW - timedelta(days=before)

    def utc(self) -> datetime:
        return self._at

    def mono_s(self) -> float:
        return 1.0


@pytest.fixture
def store(tmp_path: Path) -> SoundStore:
    return SoundStore(tmp_path / "audio")


def test_sound_comes_back_sample_by_sample(store: SoundStore) -> None:
    sound = tone(440)
    facts = store.keep(sound)
    digest = facts["sha256"]
    assert facts["seconds"] == 0.5
    flac = store.read(digest)
    assert flac is not None and flac.startswith(b"fLaC") and hashlib.sha256(flac).hexdigest() == digest
    again = store.sound(digest)
    assert again is not None and again.rate_hz == 16000 and np.array_equal(again.samples, sound.samples)
    assert len(flac) < 2 * len(sound.samples), "a tone is packed"


def test_same_sound_is_kept_once(store: SoundStore) -> None:
    assert store.keep(tone(440)) == store.keep(tone(440)) != store.keep(tone(441))
    assert len([file for file in store.folder.rglob("*") if file.is_file()]) == 2


@pytest.mark.parametrize("name", ["", "../../etc/passwd", "A" * 64, "0" * 63, "0" * 64 + "\n", "0" * 64])
def test_no_name_opens_what_is_no_sound(store: SoundStore, name: str) -> None:
    assert store.read(name) is None and store.sound(name) is None


def test_sound_that_was_changed_is_not_given_out(store: SoundStore) -> None:
    digest = store.keep(tone(440))["sha256"]
    store.path(digest).write_bytes(store.read(store.keep(tone(441))["sha256"]) or b"")
    assert store.read(digest) is None


def journal_with(path: Path, store: SoundStore, sounds: dict[str, tuple[float, Sound]]) -> None:
    """Sessions, each with one call-out so many days before NOW."""
    for session, (days, sound) in sounds.items():
        with Journal.open(path, session, clock=Days(days)) as journal:
            journal.append({"type": "opened", "session": session, "flow": "x"})
            journal.append({"type": "heard", "words": "five volts", "sound": store.keep(sound)})


def test_forgetting_takes_old_sounds_and_leaves_the_chain_whole(tmp_path: Path, store: SoundStore) -> None:
    path = tmp_path / "journal.sqlite"
    shared = tone(300)
    journal_with(
        path, store, {"old": (100, tone(440)), "both": (95, shared), "new": (10, tone(500)), "same": (1, shared)}
    )
    done = forget([path], store, older_than_days=90, now=NOW)
    assert (done.sessions, done.sounds) == (2, 1)
    with Journal.read(path) as journal:
        old, both = journal.events("old"), journal.events("both")
        assert all(journal.audit(session).intact for session in ("old", "both", "new", "same"))
        assert (old[1]["words"], old[-1]["type"], old[-1]["older_than_days"]) == ("five volts", "sound_removed", 90)
        assert list(removed_sounds(old)) == [old[1]["sound"]["sha256"]]
        assert [digest for digest, _at in sounds_in(old)] == [old[1]["sound"]["sha256"]], "its event still names it"
    assert store.read(old[1]["sound"]["sha256"]) is None
    assert store.read(both[1]["sound"]["sha256"]) is not None, "a younger call-out has the same sound"
    again = forget([path], store, older_than_days=90, now=NOW)
    assert (again.sessions, again.sounds) == (0, 0)


def test_forgetting_that_was_cut_short_is_finished(
    tmp_path: Path, store: SoundStore, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "journal.sqlite"
    journal_with(path, store, {"old": (100, tone(440)), "older": (200, tone(450))})
    with Journal.open(path, "busy"), pytest.raises(JournalBusy):  # the files are gone, and nobody was told of it
        forget([path], store, older_than_days=90, now=NOW)
    assert not list(store.folder.rglob("*.flac"))
    assert forget([path], store, older_than_days=90, now=NOW).sessions == 2
    with Journal.read(path) as journal:
        assert all(journal.events(each)[-1]["type"] == "sound_removed" for each in ("old", "older"))
        assert [journal.line(each).sounds for each in ("old", "older")] == [0, 0]


def agreeing(path: Path, store: SoundStore, session: str, *days: int | None, ago: float) -> None:
    with Journal.open(path, session, clock=Days(ago)) as journal:
        journal.append({"type": "opened", "session": session, "flow": "x"})
        for each in days:
            journal.append({"type": "sound_consent", "given": each is not None, "days": each})
        journal.append({"type": "heard", "words": "five volts", "sound": store.keep(tone(300 + 7 * len(session)))})
        journal.append({"type": "heard", "words": "five volts", "sound": store.keep(tone(301 + 7 * len(session)))})


def test_sound_is_kept_as_long_as_was_agreed_to(tmp_path: Path, store: SoundStore) -> None:
    path = tmp_path / "journal.sqlite"
    agreeing(path, store, "a", 90, ago=89)
    agreeing(path, store, "ab", 90, ago=91)
    agreeing(path, store, "abc", 365, ago=91)
    agreeing(path, store, "abcd", 365, 30, ago=31)  # handed over, and the other wanted it shorter
    agreeing(path, store, "abcde", ago=5000)  # nothing was agreed to, as in a rehearsal
    done = forget([path], store, now=NOW)
    with Journal.read(path) as journal:
        assert {line.session: line.sounds for line in journal.sessions()} == {
            **{"a": 2, "abc": 2, "abcde": 2},
            **{"ab": 0, "abcd": 0},
        }
    assert (done.sessions, done.sounds) == (2, 4)
    assert forget([path], store, now=NOW).sessions == 0


def test_sound_that_another_journal_names_lately_stays(tmp_path: Path, store: SoundStore) -> None:
    journal_with(tmp_path / "a.sqlite", store, {"old": (100, tone(440))})
    journal_with(tmp_path / "b.sqlite", store, {"new": (1, tone(440))})
    both = [tmp_path / "a.sqlite", tmp_path / "b.sqlite"]
    assert forget(both, store, older_than_days=90, now=NOW).sounds == 0
    assert forget(both, store, older_than_days=0.5, now=NOW).sounds == 1


def test_consent_is_the_last_answer() -> None:
    yes, no = {"type": "sound_consent", "given": True}, {"type": "sound_consent", "given": False}
    assert consent_of([]) is None
    assert consent_of([yes, {"type": "said"}]) is True
    assert consent_of([yes, no]) is False


def test_command_forgets_sounds_of_the_bay(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LEADSMAN_HOME", str(tmp_path))
    journal_with(tmp_path / "journal.sqlite", SoundStore(tmp_path / "audio"), {"old": (4000, tone(440))})
    journal_with(tmp_path / "rehearsals" / "r.sqlite", SoundStore(tmp_path / "audio"), {"r": (4000, tone(300))})
    ahead = CliRunner().invoke(cli, ["sessions", "--forget-audio-after", "100000"])
    assert ahead.exit_code == 0 and "0 sounds" in ahead.stderr
    done = CliRunner().invoke(cli, ["sessions", "--forget-audio-after", "0"])
    assert done.exit_code == 0, done.stderr
    assert "2 sounds removed" in done.stderr
    assert not list((tmp_path / "audio").rglob("*.flac"))
    assert CliRunner().invoke(cli, ["sessions", "--forget-audio-after", "-1"]).exit_code == 2
