"""Where everything is required, a skip is a failure that says what was skipped; elsewhere it stays a skip."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

CONFTEST = Path(__file__).with_name("conftest.py")
TESTS = """
import pytest

def test_service():
    pytest.skip("needs a sound server: apt-get install pulseaudio")

@pytest.mark.skipif(True, reason="needs flite: apt-get install flite")
def test_package():
    pass

@pytest.mark.skipif(True, reason="optional: only on another system")
def test_other_system():
    pass

def test_fine():
    pass
"""


@pytest.mark.parametrize(
    ("required", "closing"),
    [("1", "1 failed, 1 passed, 1 skipped, 1 error"), ("", "1 passed, 3 skipped"), ("0", "1 passed, 3 skipped")],
)
def test_skip_is_a_failure_only_where_required(tmp_path: Path, required: str, closing: str) -> None:
    (tmp_path / "conftest.py").write_text(CONFTEST.read_text(encoding="utf-8"), encoding="utf-8")
    (tmp_path / "test_some.py").write_text(TESTS, encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", str(tmp_path)],
        cwd=tmp_path,
        env={**os.environ, "LEADSMAN_REQUIRE": required},
        capture_output=True,
        text=True,
    )
    assert closing in done.stdout
    assert ("nothing may be skipped (LEADSMAN_REQUIRE=1): Skipped: needs a sound server" in done.stdout) == (
        required == "1"
    )
