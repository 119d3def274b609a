"""The main job by voice: real synthesis, real recogniser, a fault in the simulated engine, a finding at the end."""

import json
import wave
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from flows.site import Site
from runner.cli import cli
from runner.jobs import load_job
from runner.record.journal import Journal
from runner.rehearsal.wishes import Wish, circuit_of, faults_wished


def rehearse(home: Path, monkeypatch: pytest.MonkeyPatch, *arguments: str) -> dict:
    monkeypatch.setenv("LEADSMAN_HOME", str(home))
    result = CliRunner().invoke(cli, ["rehearse", "manifold-pressure", "--json", *arguments])
    assert result.exit_code in (0, 1), result.stderr
    return json.loads(result.stdout.splitlines()[-1])


def test_an_open_signal_wire_is_found_by_voice_in_noise(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Noise is repaired by the dialogue, not by the truth; the healthy engine below is met without any."""
    saved = tmp_path / "saved"
    line = rehearse(tmp_path, monkeypatch, "--fault", "signal-open", "--noise-db", "15", "--save", str(saved))
    assert line["right"] and line["blames"] == ["signal-open"]
    assert line["checks"] == len(line["heard"]) > 5
    assert {"step", "said", "heard", "value", "unit", "low", "high", "outcome", "confirmed", "attempts"} <= set(
        line["heard"][0]
    )
    assert line["seconds"] < line["sound_s"], "slower than people talk"
    with wave.open(str(saved / "session.wav")) as sound:
        assert sound.getnframes() / sound.getframerate() == pytest.approx(line["sound_s"], rel=0.05)
    with Journal.read(saved / "journal.sqlite") as journal:
        assert journal.audit(line["session"]).intact
        events = journal.events(line["session"])
    assert [e["words"] for e in events if e["type"] == "heard"], "what the judge gets is what the recogniser heard"
    page = (saved / "report.html").read_text(encoding="utf-8")
    assert "simulated technician and engine" in page


def test_a_healthy_engine_is_blamed_for_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    line = rehearse(tmp_path, monkeypatch, "--fault", "none", "--altitude-m", "1500")
    assert line["right"] and line["blames"] == []


@pytest.mark.slow
@pytest.mark.parametrize(
    ("seed", "noise_db", "fault"),
    [(1, 20, "ground-resistance"), (2, 10, "sensor-dead"), (3, 10, "signal-short-to-ground")],
)
def test_other_engines_other_voices_and_noise(
    seed: int, noise_db: int, fault: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    line = rehearse(tmp_path, monkeypatch, "--fault", fault, "--noise-db", str(noise_db), "--seed", str(seed))
    assert line["right"]


def test_parts_of_all_faults_are_all_of_them_and_none_twice() -> None:
    job = load_job("bus-termination", machine="th2", meter="bench", site=Site())
    wish = Wish(job, "th2", "bench", "all", seed=0, noise_db=None, voice=None, reaches_control_unit=True, save=None)
    circuit = circuit_of(job)
    parts = [list(faults_wished(replace(wish, part=(k, 3)), circuit)) for k in range(3)]
    assert (
        sorted(name for part in parts for name in part)
        == sorted(faults_wished(wish, circuit))
        == sorted(["none", *circuit.faults()])
    )
    assert max(map(len, parts)) - min(map(len, parts)) <= 1


def test_an_unknown_fault_is_named_with_those_there_are(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LEADSMAN_HOME", str(tmp_path))
    result = CliRunner().invoke(cli, ["rehearse", "manifold-pressure", "--fault", "gremlins"])
    assert result.exit_code == 1
    assert "no fault 'gremlins'" in result.stderr and "signal-open" in result.stderr
