"""A journal that cannot be written is said to be so in one sentence, and nothing is begun."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from runner.cli import cli
from runner.record import signing
from runner.record.journal import Journal
from runner.record.signing import BadKey, seal_at_end

Leadsman = Callable[..., Any]


@pytest.fixture
def leadsman(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Leadsman:
    monkeypatch.setenv("LEADSMAN_HOME", str(tmp_path))
    return lambda *words: CliRunner().invoke(cli, [str(word) for word in words], input="AT\nlight\nP0107\n")


def test_second_runner_is_told_of_the_first(leadsman: Leadsman, tmp_path: Path) -> None:
    with Journal.open(tmp_path / "journal.sqlite", "job-1") as journal:
        journal.append({"type": "opened", "session": "job-1", "flow": "x"})
        for words in (("run", "manifold-pressure", "--typed"), ("sign", "job-1"), ("import", __file__)):
            done = leadsman(*words)
            assert done.exit_code == 1 and "Traceback" not in done.output
        assert "being written by process" in leadsman("run", "manifold-pressure", "--typed").stderr
        assert [each.session for each in journal.sessions()] == ["job-1"], "nothing was begun"
        assert journal.append({"type": "said"})["sequence"] == 2, "and the first goes on"


def test_home_that_is_no_folder(leadsman: Leadsman, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").write_text("x")
    monkeypatch.setenv("LEADSMAN_HOME", str(tmp_path / "file"))
    done = leadsman("run", "manifold-pressure", "--typed")
    assert done.exit_code == 1 and "cannot be written here" in done.stderr
    done = leadsman("sign", "--show-key")
    assert done.exit_code == 1 and "cannot be used" in done.stderr


def test_session_ends_well_without_a_key_and_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def none_to_be_had(path: Path | None = None) -> None:
        raise BadKey("The key cannot be used (Read-only file system).")

    monkeypatch.setattr(signing, "own_key", none_to_be_had)
    with Journal.open(tmp_path / "journal.sqlite", "job-1") as journal:
        journal.append({"type": "closed", "status": "stopped"})
        seal_at_end(journal)
        assert journal.events()[-1]["type"] == "unsealed" and "Read-only" in journal.events()[-1]["why"]
        assert journal.line("job-1").status == "stopped"
