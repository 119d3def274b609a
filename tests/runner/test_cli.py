"""The command line as a person meets it: bad input gives a sentence and a non-zero exit, never a traceback."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from runner.cli import cli
from runner.record.journal import Journal

GOOD = Path(__file__).parents[2] / "flows" / "library" / "manifold-pressure.yaml"


def leadsman(*arguments: str, typed: str = "") -> Result:
    result = CliRunner().invoke(cli, list(arguments), input=typed)
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


@pytest.fixture(autouse=True)
def own_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LEADSMAN_HOME", str(tmp_path / "home"))


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["run", "no-such-flow", "--typed"], "no-such-flow"),
        (["run", "manifold-pressure", "--typed", "--machine", "no-such-machine"], "no-such-machine"),
        (["run", "manifold-pressure", "--typed", "--meter", "no-such-meter"], "no-such-meter"),
        (["rehearse", "manifold-pressure", "--voice", "no-such-voice"], "no-such-voice"),
        (["rehearse", "manifold-pressure", "--fault", "all", "--part", "3", "3"], "counted from 0"),
        (["hear", "no-such-file.wav"], "no-such-file.wav"),
        (["hear", str(GOOD)], "not a"),
        (["report", "no-such-session"], "journal"),
        (["audit"], "journal"),
        (["resume", "--typed"], "no session to resume"),
        (["check", "no-such-file.yaml"], "no-such-file.yaml"),
    ],
)
def test_bad_input_is_answered_with_a_sentence(arguments: list[str], words: str) -> None:
    result = leadsman(*arguments)
    assert result.exit_code != 0
    assert words in result.output + result.stderr
    assert "Traceback" not in result.output + result.stderr


def test_check_points_at_the_line(tmp_path: Path) -> None:
    broken = tmp_path / "broken.yaml"
    broken.write_text(GOOD.read_text().replace("expect: {supply_at_plug: {}}", "expext: {supply_at_plug: {}}", 1))
    result = leadsman("check", str(broken), "--json")
    assert result.exit_code == 1
    problem = json.loads(result.stdout.splitlines()[0])
    assert set(problem) == {"file", "line", "column", "rule", "what", "fix"}
    line = broken.read_text().splitlines()[problem["line"] - 1]
    assert "expext" in line and line.index("expext") == problem["column"] - 1


def test_shipped_flows_have_no_problems() -> None:
    assert leadsman("check").exit_code == 0


def test_a_typed_session_is_kept_audited_reported_and_resumed(tmp_path: Path) -> None:
    begun = leadsman("run", "manifold-pressure", "--typed", typed="AT\nlight\nP0107\n")
    assert begun.exit_code == 1, "the keyboard ended, so the session is stopped, not finished"
    home = tmp_path / "home"
    with Journal.read(home / "journal.sqlite") as journal:
        session = journal.sessions()[0].session
        answers = [e["answer"] for e in journal.events(session) if e["type"] == "answered"]
    assert answers[:3] == ["AT", "light", "P0107"]
    again = leadsman("resume", "--typed", typed="none\n")
    assert "Initials" not in again.output, "what was answered is not asked again"
    audit = leadsman("audit", session, "--json")
    assert json.loads(audit.stdout)["intact"] is True
    page = tmp_path / "page.html"
    assert leadsman("report", session, "--save", str(page)).exit_code == 0
    assert "P0107" in page.read_text()


def test_a_machine_without_portaudio_or_microphone_says_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    from speech import sound_devices

    def gone() -> None:
        raise sound_devices.DeviceError("no PortAudio here; install it with: sudo apt-get install libportaudio2")

    monkeypatch.setattr(sound_devices, "sounddevice", gone)
    result = leadsman("devices")
    assert result.exit_code == 1
    assert "apt-get install libportaudio2" in result.stderr
