"""First run, half-made, moved, outdated and installed environments; no network: the programs run are recorded."""

from __future__ import annotations

import json
import subprocess
import sys
import threading
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest

from runner import bootstrap, installing
from runner.environment import BootstrapError, Place, Tools, ensure, is_ready, prepare
from runner.installing import Progress

NOTHING: frozenset[str] = frozenset()
TEST = frozenset({"test"})


class Recorder:
    """Stands in for running programs: makes what venv would make, answers with the codes and output it was given."""

    def __init__(self, *, own_pip: bool = True, pip_code: int = 0, venv_code: int = 0, output: str = "") -> None:
        self.commands: list[list[str]] = []
        self.own_pip, self.pip_code, self.venv_code, self.output = own_pip, pip_code, venv_code, output

    def __call__(self, command: Sequence[str], log: Path, on_line: Callable[[str], None]) -> int:
        self.commands.append(list(command))
        if command[2] == "venv":
            venv = Path(command[-1])
            (venv / "bin").mkdir(parents=True, exist_ok=True)
            (venv / "bin" / "python").symlink_to(sys.executable)
            if self.own_pip:
                (venv / "lib" / "python3.11" / "site-packages" / "pip").mkdir(parents=True)
            return self.venv_code
        log.write_text(self.output, encoding="utf-8")
        for line in self.output.splitlines():
            on_line(line)
        return self.pip_code


@pytest.fixture
def place(tmp_path: Path) -> Place:
    (tmp_path / "pyproject.toml").write_text('[project]\nname = "leadsman"\n', encoding="utf-8")
    return Place(tmp_path)


def tools(run: Recorder, said: list[str] | None = None, *, ensurepip: bool = True, pip: bool = True) -> Tools:
    heard: list[str] = [] if said is None else said
    return Tools(run=run, tell=heard.append, python="/usr/bin/python3", has_ensurepip=ensurepip, has_pip=pip)


def test_first_run_makes_the_environment_then_installs_then_marks(place: Place) -> None:
    run, said = Recorder(), []
    ensure(place, NOTHING, tools(run, said))
    venv, pip = run.commands
    assert venv == ["/usr/bin/python3", "-m", "venv", str(place.venv)]
    assert pip[:4] == [str(place.python), "-m", "pip", "install"]
    assert pip[-2:] == ["-e", str(place.checkout)]
    assert is_ready(place, NOTHING)
    assert "First time here" in said[0] and "one to three minutes" in said[1] and said[-1].startswith("Ready")


def test_second_run_does_nothing(place: Place) -> None:
    ensure(place, NOTHING, tools(Recorder()))
    again = Recorder()
    ensure(place, NOTHING, tools(again))
    assert again.commands == []


def test_test_command_adds_the_test_extra_to_what_is_there(place: Place) -> None:
    ensure(place, NOTHING, tools(Recorder()))
    assert bootstrap.extras_for(["test", "-q"]) == TEST
    assert bootstrap.extras_for(["rehearse", "test"]) == NOTHING
    run = Recorder()
    ensure(place, TEST, tools(run))
    assert [command[2] for command in run.commands] == ["pip"]
    assert run.commands[0][-1] == f"{place.checkout}[test]"
    assert is_ready(place, TEST) and is_ready(place, NOTHING)


def test_extras_once_installed_stay_when_pyproject_changes(place: Place) -> None:
    ensure(place, TEST, tools(Recorder()))
    place.pyproject.write_text('[project]\nname = "leadsman"\nversion = "2"\n', encoding="utf-8")
    assert not is_ready(place, NOTHING)
    run = Recorder()
    ensure(place, NOTHING, tools(run))
    assert [command[2] for command in run.commands] == ["pip"]
    assert is_ready(place, TEST)


def test_half_made_environment_is_made_again(place: Place) -> None:
    leftover = place.venv / "lib" / "broken.py"
    leftover.parent.mkdir(parents=True)
    leftover.touch()
    run, said = Recorder(), []
    ensure(place, NOTHING, tools(run, said))
    assert "never finished" in said[0]
    assert not leftover.exists() and is_ready(place, NOTHING)


@pytest.mark.parametrize("body", ["", "{", "[]", '"yes"', "null"])
def test_unreadable_marker_counts_as_half_made(place: Place, body: str) -> None:
    ensure(place, NOTHING, tools(Recorder()))
    place.marker.write_text(body, encoding="utf-8")
    run = Recorder()
    ensure(place, NOTHING, tools(run))
    assert [command[2] for command in run.commands] == ["venv", "pip"]


def test_a_file_where_the_environment_should_be_is_replaced(place: Place) -> None:
    place.venv.write_text("not a folder", encoding="utf-8")
    ensure(place, NOTHING, tools(Recorder()))
    assert is_ready(place, NOTHING)


def test_environment_whose_python_is_gone_is_made_again(place: Place) -> None:
    ensure(place, NOTHING, tools(Recorder()))
    place.python.unlink()
    place.python.symlink_to("/nowhere/python3.11")
    run = Recorder()
    ensure(place, NOTHING, tools(run))
    assert [command[2] for command in run.commands] == ["venv", "pip"]


def test_moved_checkout_is_made_again(place: Place, tmp_path_factory: pytest.TempPathFactory) -> None:
    ensure(place, NOTHING, tools(Recorder()))
    moved = Place(tmp_path_factory.mktemp("elsewhere") / "leadsman")
    place.checkout.rename(moved.checkout)
    assert not is_ready(moved, NOTHING)
    run = Recorder()
    ensure(moved, NOTHING, tools(run))
    assert [command[2] for command in run.commands] == ["venv", "pip"]


def test_marker_is_written_last(place: Place) -> None:
    class Killed(Recorder):
        def __call__(self, command: Sequence[str], log: Path, on_line: Callable[[str], None]) -> int:
            assert not place.marker.exists()
            if command[2] == "pip":
                raise KeyboardInterrupt
            return super().__call__(command, log, on_line)

    with pytest.raises(KeyboardInterrupt):
        ensure(place, NOTHING, tools(Killed()))
    assert not is_ready(place, NOTHING)
    ensure(place, NOTHING, tools(Recorder()))
    assert is_ready(place, NOTHING)


def test_without_ensurepip_the_systems_pip_installs_over_there(place: Place) -> None:
    run = Recorder(own_pip=False)
    ensure(place, NOTHING, tools(run, ensurepip=False))
    venv, pip = run.commands
    assert "--without-pip" in venv
    assert pip[:6] == ["/usr/bin/python3", "-m", "pip", "--python", str(place.python), "install"]


def test_with_neither_ensurepip_nor_pip_it_says_what_to_install(place: Place) -> None:
    run = Recorder()
    with pytest.raises(BootstrapError, match=r"neither ensurepip nor pip.*apt-get install python3-venv"):
        ensure(place, NOTHING, tools(run, ensurepip=False, pip=False))
    assert run.commands == [] and not place.venv.exists()


def test_venv_that_fails_names_the_debian_package(place: Place) -> None:
    with pytest.raises(BootstrapError, match="python3-venv"):
        ensure(place, NOTHING, tools(Recorder(venv_code=1)))
    assert not is_ready(place, NOTHING)


@pytest.mark.parametrize(
    ("output", "said"),
    [
        (
            "WARNING: Failed to establish a new connection: [Errno -3]\nERROR: No matching distribution",
            "PyPI could not",
        ),
        ("ERROR: Could not install packages: [Errno 28] No space left on device", "the disk is full"),
        ("no such option: --python", "too old"),
        ("ERROR: No matching distribution found for vosk", "no fitting version"),
        ("ERROR: [Errno 13] Permission denied: '/x'", "cannot be written"),
        ("something else", "pip failed"),
    ],
)
def test_failed_install_says_why_and_is_tried_again(place: Place, output: str, said: str) -> None:
    with pytest.raises(BootstrapError, match=said) as caught:
        ensure(place, NOTHING, tools(Recorder(pip_code=1, output=output)))
    assert "run the same command again" in str(caught.value)
    assert str(place.log) in str(caught.value)
    assert output.splitlines()[-1] in str(caught.value)
    assert not is_ready(place, NOTHING)


def test_failed_update_leaves_the_working_environment_alone(place: Place) -> None:
    ensure(place, NOTHING, tools(Recorder()))
    with pytest.raises(BootstrapError):
        ensure(place, TEST, tools(Recorder(pip_code=1)))
    assert is_ready(place, NOTHING) and not is_ready(place, TEST)


def test_two_first_runs_at_once_make_it_once(place: Place) -> None:
    started, go_on = threading.Event(), threading.Event()

    class Slow(Recorder):
        def __call__(self, command: Sequence[str], log: Path, on_line: Callable[[str], None]) -> int:
            started.set()
            assert go_on.wait(5)
            return super().__call__(command, log, on_line)

    first, second, said = Slow(), Recorder(), []
    waiting = threading.Event()

    def hear(text: str) -> None:
        said.append(text)
        waiting.set()

    one = threading.Thread(target=ensure, args=(place, NOTHING, tools(first)))
    one.start()
    assert started.wait(5)
    two = threading.Thread(target=ensure, args=(place, NOTHING, Tools(run=second, tell=hear)))
    two.start()
    assert waiting.wait(5) and not go_on.is_set()
    go_on.set()
    one.join(5)
    two.join(5)
    assert "waiting for it" in said[0]
    assert len(first.commands) == 2 and second.commands == []


def test_from_inside_the_environment_is_never_removed(place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    prepare(place, NOTHING, tools(Recorder()))
    place.marker.unlink()
    monkeypatch.setattr(sys, "prefix", str(place.venv))
    run = Recorder()
    ensure(place, NOTHING, tools(run))
    assert [command[2] for command in run.commands] == ["pip"]


# --- what pip says, said plainly ------------------------------------------------------------------------------------


def test_progress_is_one_plain_line_a_package() -> None:
    clock = iter([0.0, 3.0, 4.0, 21.0, 30.0])
    said: list[str] = []
    progress = Progress(said.append, now_s=lambda: next(clock))
    for line in (
        "Obtaining file:///checkout",
        "Collecting vosk<0.4,>=0.3.45",
        "  Downloading vosk-0.3.45-py3-none-manylinux_2_12_x86_64.manylinux2010_x86_64.whl (7.2 MB)",
        "  Using cached numpy-2.4.6-cp311-cp311-manylinux_2_27_x86_64.whl.metadata (6.6 kB)",
        "  Using cached numpy-2.4.6-cp311-cp311-manylinux_2_27_x86_64.whl (16.1 MB)",
        "",
        "Installing collected packages: vosk, numpy, leadsman",
    ):
        progress.line(line)
    assert said == [
        "    3 s  vosk 0.3.45 (7.2 MB)",
        "    4 s  numpy 2.4.6 (16.1 MB)",
        "   21 s  still working",
        "   30 s  putting 3 packages in place",
    ]


def test_run_logged_keeps_the_output_and_the_code(tmp_path: Path) -> None:
    log, lines = tmp_path / "log", []
    code = installing.run_logged(
        [sys.executable, "-c", "print('one\\n\\ntwo'); raise SystemExit(3)"], log, lines.append
    )
    assert code == 3 and lines == ["one", "two"]
    assert log.read_text(encoding="utf-8").endswith("one\n\ntwo\n")


def test_run_logged_marks_a_long_wait(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(installing, "STILL_WORKING_S", 0.05)
    lines: list[str] = []
    installing.run_logged([sys.executable, "-c", "import time; time.sleep(0.4)"], tmp_path / "log", lines.append)
    assert "" in lines


# --- where one is ---------------------------------------------------------------------------------------------------


def test_checkout_is_known_by_its_pyproject(tmp_path: Path, place: Place) -> None:
    assert bootstrap.checkout_beside(place.checkout / "runner") == place.checkout
    other = tmp_path / "other"
    other.mkdir()
    assert bootstrap.checkout_beside(other / "runner") is None
    (other / "pyproject.toml").write_text('[project]\nname = "something"\n', encoding="utf-8")
    assert bootstrap.checkout_beside(other / "runner") is None


def fake_site(folder: Path, monkeypatch: pytest.MonkeyPatch, url: str | None) -> None:
    info = folder / "leadsman-0.1.0.dist-info"
    info.mkdir(parents=True)
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: leadsman\nVersion: 0.1.0\n", encoding="utf-8")
    if url:
        (info / "direct_url.json").write_text(
            json.dumps({"url": url, "dir_info": {"editable": True}}), encoding="utf-8"
        )
    monkeypatch.setattr("site.getsitepackages", lambda: [str(folder)])
    monkeypatch.setattr("site.getusersitepackages", lambda: str(folder / "none"))


def test_editable_install_elsewhere_is_an_installed_environment(
    place: Place, tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    fake_site(tmp_path_factory.mktemp("site"), monkeypatch, place.checkout.as_uri())
    assert bootstrap.installed_here(place.checkout)


@pytest.mark.parametrize("url", [None, "file:///another/checkout"])
def test_another_install_is_not_this_checkout(
    place: Place, tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch, url: str | None
) -> None:
    fake_site(tmp_path_factory.mktemp("site"), monkeypatch, url)
    assert not bootstrap.installed_here(place.checkout)


def test_installed_wheel_goes_straight_to_the_command(monkeypatch: pytest.MonkeyPatch) -> None:
    ran: list[Sequence[str]] = []
    monkeypatch.setattr(bootstrap, "checkout_beside", lambda _package: None)
    monkeypatch.setattr(bootstrap, "run_command", lambda arguments: ran.append(arguments) or 7)
    run = Recorder()
    assert bootstrap.main(["report", "x"], tools=tools(run)) == 7
    assert ran == [["report", "x"]] and run.commands == []


def test_main_makes_hands_over_and_passes_arguments(place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    handed: list[tuple[Place, Sequence[str]]] = []
    monkeypatch.setattr(bootstrap, "checkout_beside", lambda _package: place.checkout)
    monkeypatch.setattr(bootstrap, "hand_over", lambda where, arguments: handed.append((where, arguments)) or 5)
    assert bootstrap.main(["test", "-k", "a b"], tools=tools(Recorder())) == 5
    assert handed == [(place, ["test", "-k", "a b"])]
    assert is_ready(place, TEST)


def test_main_says_a_failure_and_exits_non_zero(place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    said: list[str] = []
    monkeypatch.setattr(bootstrap, "checkout_beside", lambda _package: place.checkout)
    monkeypatch.setattr(bootstrap, "tell", said.append)
    assert bootstrap.main([], tools=tools(Recorder(pip_code=1, output="Temporary failure in name resolution"))) == 1
    assert "PyPI could not be reached" in said[-1]


def test_old_python_is_refused_in_words(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setattr(sys, "version_info", (3, 9, 2))
    assert bootstrap.main(["rehearse"]) == 2
    assert "3.11 or newer is needed" in capsys.readouterr().err


def test_tests_need_a_checkout(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert bootstrap.run_tests([], checkout=tmp_path) == 2
    assert "in a checkout" in capsys.readouterr().err


@pytest.mark.parametrize(("body", "code"), [("assert True", 0), ("assert False", 1)])
def test_tests_keep_pytests_code_and_closing_line(
    tmp_path: Path, capfd: pytest.CaptureFixture[str], body: str, code: int
) -> None:
    (tmp_path / "tests").mkdir()
    (tmp_path / "tests" / "test_one.py").write_text(f"def test_one():\n    {body}\n", encoding="utf-8")
    assert bootstrap.run_tests(["-q", "-p", "no:cacheprovider"], checkout=tmp_path) == code
    assert (" passed in" in capfd.readouterr().out) == (code == 0)


def test_module_needs_nothing_but_the_standard_library() -> None:
    """`python3 -m runner` must start on a Python with no packages at all."""
    here = Path(bootstrap.__file__).resolve().parent.parent
    script = (
        "import runner.bootstrap, sys; print(sorted(m for m in sys.modules if m.split('.')[0] in {'click', 'rich'}))"
    )
    found = subprocess.run(
        [sys.executable, "-I", "-S", "-c", f"import sys; sys.path.insert(0, {str(here)!r}); {script}"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert found.stdout.strip() == "[]"
