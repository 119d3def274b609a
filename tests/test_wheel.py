"""The wheel holds all that a rehearsal needs, and works in an empty environment from any folder."""

from __future__ import annotations

import importlib.util
import json
import os
import subprocess
import sys
import venv
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
MOST_MIB = 12  # the reading model is the largest part and stays under 10 MB

pytestmark = [
    pytest.mark.slow,
    pytest.mark.wheel,
    pytest.mark.skipif(importlib.util.find_spec("build") is None, reason="needs build: pip install -e '.[dev]'"),
]


def run(*command: str | Path, cwd: Path, timeout_s: float = 300) -> subprocess.CompletedProcess[str]:
    clean = {
        key: value for key, value in os.environ.items() if not key.startswith(("PYTHON", "LEADSMAN", "VIRTUAL_ENV"))
    }
    clean["LEADSMAN_HOME"] = str(cwd / "home")
    done = subprocess.run(
        [str(part) for part in command], cwd=cwd, env=clean, capture_output=True, text=True, timeout=timeout_s
    )
    assert done.returncode == 0, f"{command} gave {done.returncode}:\n{done.stdout[-3000:]}\n{done.stderr[-3000:]}"
    return done


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Built from what git knows, so that a file forgotten in git is missing here too."""
    source, out = tmp_path_factory.mktemp("source"), tmp_path_factory.mktemp("wheel")
    files = run("git", "ls-files", "-z", cwd=ROOT).stdout.split("\0")
    for name in filter(None, files):
        if (ROOT / name).is_file() and not name.startswith(("recordings/", "tests/", "docs/")):
            target = source / name
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes((ROOT / name).read_bytes())
    run(sys.executable, "-m", "build", "--wheel", "--outdir", out, source, cwd=out)
    (built,) = out.glob("leadsman-*.whl")
    return built


@pytest.fixture(scope="module")
def bare(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An empty environment with the wheel in it; its folder of programs."""
    folder = tmp_path_factory.mktemp("bare") / "env"
    venv.create(folder, with_pip=True)
    run(folder / "bin" / "python", "-m", "pip", "install", "-q", wheel, cwd=folder.parent)
    return folder / "bin"


def is_page(name: str) -> bool:
    """Pages for people, and what git wants to know, stay in the repository; the model's card goes with the model."""
    return not name.startswith("speech/model/") and (name.endswith(".md") or Path(name).name == ".gitignore")


def test_wheel_holds_flows_sheets_model_and_templates(wheel: Path) -> None:
    names = zipfile.ZipFile(wheel).namelist()
    tracked = run("git", "ls-files", "flows", "runner", "speech", cwd=ROOT).stdout.splitlines()
    wanted = {name for name in tracked if not name.startswith("speech/training/") and not is_page(name)}
    missing = sorted(wanted - set(names))
    assert not missing, f"not in the wheel: {', '.join(missing)}"
    assert {"flows/library/manifold-pressure.yaml", "flows/machines/th2.yaml", "runner/templates/report.html"} <= set(
        names
    )
    assert any(name.startswith("speech/model/") for name in names)
    assert any(name.endswith("/LICENSE") for name in names) and any(name.endswith("/NOTICE") for name in names)


def test_wheel_holds_nothing_else_and_stays_small(wheel: Path) -> None:
    names = zipfile.ZipFile(wheel).namelist()
    strangers = [
        name for name in names if name.split("/")[0] not in {"flows", "runner", "speech"} and ".dist-info/" not in name
    ]
    assert not strangers
    assert wheel.stat().st_size < MOST_MIB * 2**20


def test_installed_wheel_rehearses_from_anywhere(bare: Path, tmp_path: Path) -> None:
    done = run(bare / "leadsman", "rehearse", "manifold-pressure", "--fault", "signal-open", "--json", cwd=tmp_path)
    (line,) = done.stdout.splitlines()
    rehearsal = json.loads(line)
    assert rehearsal["right"] is True, rehearsal
    assert "signal-open" in rehearsal["blames"]


def test_installed_wheel_bootstraps_nothing(bare: Path, tmp_path: Path) -> None:
    run(bare / "python", "-m", "runner", "--help", cwd=tmp_path)
    assert [each.name for each in tmp_path.iterdir() if each.name != "home"] == []
