"""The one way a test runs a session: a flow, a script for the ears, a voice that remembers."""

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from flows.meter import load_meter
from flows.site import Site
from flows.source import load_flow, load_sheet
from runner.job import Job
from runner.record.logbook import ListStore, Logbook
from runner.record.session import Event, State
from runner.talk.dialogue import Conversation
from runner.talk.fitted import file_of
from runner.talk.line import Line
from speech.fakes import QuietVoice, ScriptedEars
from speech.fitting.kept import NETWORK, keep
from speech.fitting.model_file import affine_parts
from speech.graph import MODEL
from speech.ports import Ears, Listened, Voice

SMALL = Path(__file__).parent / "small_flow.yaml"


@dataclass
class Outcome:
    """What a session left behind."""

    state: State
    events: list[Event]
    said: list[str]
    left: tuple[str | Listened, ...]

    def of(self, kind: str) -> list[Event]:
        return [event for event in self.events if event["type"] == kind]


@pytest.fixture(scope="session")
def small_job() -> Job:
    sheet = load_sheet("th2")
    return Job(load_flow(SMALL, sheet), sheet, Site(), load_meter("bench"))


Run = Callable[..., Outcome]


@pytest.fixture
def run_session(small_job: Job) -> Run:
    def run(
        *script: str | Listened,
        at: str = "supply",
        voice: QuietVoice | None = None,
        fallback: Callable[[], tuple[Ears, Voice]] | None = None,
        before: tuple[Event, ...] = (),
        prove: bool = False,
        advisor: Any = None,
    ) -> Outcome:
        ears, voice = ScriptedEars(*script), voice or QuietVoice()
        store = ListStore()
        opened = {"type": "opened", "session": "test", "flow": "small", "step": at}
        logbook = Logbook(store, events=[opened, *before])
        line = Line(ears, voice, logbook, fallback=fallback)
        conversation = Conversation(small_job, line=line, logbook=logbook, advisor=advisor)
        conversation.prove() if prove else conversation.run()
        return Outcome(logbook.state, store.events, voice.said, ears.left)

    return run


CHROMIUM = Path("/usr/bin/chromium")


@pytest.fixture(scope="module")  # not longer: while it is open, this process has a running event loop
def browser() -> Iterator[Any]:
    """Debian's Chromium, headless, through Playwright; a page has no way out of this computer."""
    if not CHROMIUM.is_file() and os.environ.get("LEADSMAN_REQUIRE") != "1":
        pytest.skip("optional: there is no Chromium here; sudo apt-get install chromium")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        made = playwright.chromium.launch(
            executable_path=str(CHROMIUM),
            args=["--disable-gpu", "--no-sandbox", "--autoplay-policy=no-user-gesture-required"],
        )
        yield made
        made.close()


@pytest.fixture
def bay(tmp_path: Path, monkeypatch) -> Path:
    """A bay's folder in which the ears were fitted to AT at the headset."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    name, (_, bias) = next(iter(affine_parts((MODEL / NETWORK).read_bytes()).items()))
    keep(file_of(tmp_path, "AT", "headset"), {name: bias + 0.01}, model=MODEL, whose="AT")
    return tmp_path
