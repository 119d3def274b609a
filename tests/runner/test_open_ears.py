"""A room around the caller: as loud as asked for, going on all the while; and a whole job walked by voice in it."""

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from runner.cli import cli
from runner.rehearsal.open_ears import BESIDE, BLOCK_S, CALLED_DBFS, Room
from speech.recogniser import RATE_HZ
from speech.surroundings import spoken_level

TONE = np.round(9000 * np.sin(2 * np.pi * 440 * np.arange(RATE_HZ) / RATE_HZ)).astype(np.int16)


def heard_in(room: Room, seconds: float) -> np.ndarray:
    blocks = [room.read(timeout_s=1.0) for _ in range(round(seconds / BLOCK_S))]
    return np.concatenate([block.samples for block in blocks])  # type: ignore[union-attr]


def dbfs(sound: np.ndarray) -> float:
    return 20 * float(np.log10(spoken_level(sound) / 32768))


@pytest.mark.parametrize("kind", BESIDE)
@pytest.mark.parametrize("under_db", [14.0, 26.0])
def test_the_room_is_as_far_under_the_caller_as_asked_for(kind: str, under_db: float) -> None:
    room = Room(kind, under_db=under_db, seed=1)
    assert dbfs(heard_in(room, 20.0)) == pytest.approx(CALLED_DBFS - under_db, abs=2.0)


def test_a_call_comes_once_within_seconds_at_its_own_level_whatever_it_was_recorded_at() -> None:
    for factor in (0.1, 1.0):
        room = Room("talk", under_db=40.0, seed=2)
        room.call(np.round(factor * TONE).astype(np.int16))
        sound = heard_in(room, 8.0)
        loud = np.flatnonzero(np.abs(sound) > 0.5 * np.abs(sound).max())
        assert 0.5 * RATE_HZ < loud[0] < 5.1 * RATE_HZ
        assert (loud[-1] - loud[0]) / RATE_HZ == pytest.approx(1.0, abs=0.05)
        assert dbfs(sound) == pytest.approx(CALLED_DBFS, abs=1.0)
        assert dbfs(heard_in(room, 4.0)) < CALLED_DBFS - 30


def test_who_was_about_to_call_stops_and_the_room_goes_on() -> None:
    room = Room("radio", under_db=20.0, seed=3)
    room.call(TONE)
    before = heard_in(room, 0.3)
    room.silent()
    room.flush()
    after = heard_in(room, 8.0)
    assert dbfs(after) < CALLED_DBFS - 15
    assert not np.array_equal(before, after[: len(before)])


@pytest.mark.slow
def test_a_whole_job_beside_people_talking_ends_in_the_right_finding(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("LEADSMAN_HOME", str(tmp_path))
    asked = ["rehearse", "manifold-pressure", "--fault", "signal-intermittent", "--beside", "talk", "--seed", "3"]
    result = CliRunner().invoke(cli, [*asked, "--save", str(tmp_path / "saved"), "--json"])
    assert result.exit_code == 0, result.stderr
    line = json.loads(result.stdout.splitlines()[-1])
    assert line["right"] and line["call_outs"] > line["checks"]
    assert "beside people talking 20 dB below it" in (tmp_path / "saved/report.html").read_text(encoding="utf-8")
