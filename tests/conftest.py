"""What every test shares: nothing may leak, and a skip that CI must not have is a failure there."""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator

import pytest

REQUIRED = os.environ.get("LEADSMAN_REQUIRE") == "1"
OPTIONAL = "optional:"  # a skip whose reason opens with this stays a skip even where everything is required


def pytest_configure(config: pytest.Config) -> None:
    config.addinivalue_line("markers", "wheel: builds the wheel and installs it elsewhere; needs the dev extra")


@pytest.hookimpl(hookwrapper=True)
def pytest_runtest_makereport(item: pytest.Item, call: pytest.CallInfo[None]) -> Iterator[None]:
    outcome = yield
    report = outcome.get_result()  # type: ignore[attr-defined]
    if not (REQUIRED and report.skipped) or hasattr(report, "wasxfail"):
        return
    reason = report.longrepr[2] if isinstance(report.longrepr, tuple) else str(report.longrepr)
    if OPTIONAL not in reason:
        report.outcome = "failed"
        report.longrepr = f"skipped where nothing may be skipped (LEADSMAN_REQUIRE=1): {reason}"


@pytest.fixture(autouse=True)
def nothing_leaks() -> Iterator[None]:
    """A thread that outlives its test fails it."""
    before = set(threading.enumerate())
    yield
    left = [thread for thread in threading.enumerate() if thread not in before and not thread.daemon]
    for thread in left:
        thread.join(timeout=2)
    alive = [thread.name for thread in left if thread.is_alive()]
    assert not alive, f"threads left running: {', '.join(alive)}"
