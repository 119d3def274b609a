"""A journal of rehearsals without sound, and a server on a free port, for the tests of the pages."""

import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from shutil import copytree
from typing import Any

import httpx
import numpy as np
import pytest
from starlette.types import ASGIApp

from flows.circuits import CIRCUITS
from flows.site import Site
from runner.jobs import load_job, opening
from runner.record.journal import Journal
from runner.record.logbook import Logbook
from runner.record.sounds import SoundStore
from runner.rehearsal.engine import SimulatedEngine, drawn, notes_of
from runner.rehearsal.technician import Habits, Technician
from runner.talk.dialogue import Conversation
from runner.talk.line import Line
from runner.web.serving import Place, server_for
from speech.fakes import QuietVoice
from speech.ports import Alternative, Heard, Listened, Silence
from speech.sound import read_wav

CALL = Path(__file__).parents[3] / "recordings" / "volts-plain.wav"  # the sound of every reading here


class PoorEars:
    """The technician's words; every `spoil`-th reading misheard, and every seventh heard with little confidence."""

    def __init__(self, technician: Technician, *, spoil: int) -> None:
        self.technician, self.spoil, self.count = technician, spoil, 0
        self.sound = read_wav(CALL)

    def listen(self, kind: str, *, timeout_s: float) -> Listened:
        words = self.technician.reply()
        if words is None:
            return Silence(timeout_s)
        if kind != "reading":
            return Heard(words, confidence=0.97, level_dbfs=-21.0, noise_dbfs=-48.0)
        self.count += 1
        assert self.count < 200, "the conversation does not end"
        other = words.replace("four", "five").replace("zero", "one")
        if self.spoil and self.count % self.spoil == 0:
            words, other = other, words
        share = 0.41 if self.count % 7 == 0 else 0.93
        others = (Alternative(other, 0.02),)
        return Heard(words, share, others, level_dbfs=-19.5, noise_dbfs=-41.0, sound=self.sound)

    def close(self) -> None: ...


def rehearse(
    path: Path, session: str, fault: str, *, flow: str = "manifold-pressure", spoil: int = 0, seed: int = 1
) -> None:
    """Write one session of a simulated technician at a simulated engine into a journal."""
    job = load_job(flow, machine="th2", meter="bench", site=Site(altitude_m=240, outdoor_c=12))
    circuit = CIRCUITS[job.flow.circuit](job.sheet)
    engine = SimulatedEngine(circuit, circuit.faults().get(fault), site=job.site, meter=job.meter, draw=drawn(seed))
    technician = Technician(
        engine, meter=job.meter, steps=notes_of(job), habits=Habits(), rng=np.random.default_rng(seed)
    )
    with Journal.open(path, session) as store:
        book = Logbook(store, watchers=(technician.told,))
        facts = opening(job, session=session, machine="th2", meter="bench", simulated={"fault": fault})
        book.write("opened", **facts)
        line = Line(PoorEars(technician, spoil=spoil), QuietVoice(heard_by=technician.hears), book)
        line.keep = SoundStore(path.parent / "audio").keep
        Conversation(job, line=line, logbook=book).run()


SESSIONS = (
    ("2031-04-05-aaaa", "none", 0),
    ("2031-04-05-bbbb", "signal-open", 10),
    ("2031-04-06-cccc", "ground-resistance", 13),
    ("2031-04-06-dddd", "supply-open", 0),
)


@pytest.fixture(scope="session")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A journal of four sessions; copied by who writes to it."""
    path = tmp_path_factory.mktemp("journal") / "journal.sqlite"
    for session, fault, spoil in SESSIONS:
        rehearse(path, session, fault, spoil=spoil)
    return path


@pytest.fixture
def journal(written: Path, tmp_path: Path) -> Path:
    """That journal, for one test to write to."""
    path = tmp_path / "journal.sqlite"
    copytree(written.parent, tmp_path, dirs_exist_ok=True)
    return path


@contextmanager
def running(app: ASGIApp, place: Place) -> Iterator[None]:
    """The application on its port, for as long as the block lasts."""
    server = server_for(app, place)
    thread = threading.Thread(target=server.run, name="pages", daemon=True)
    thread.start()
    try:
        until = time.monotonic() + 10
        while not server.started and time.monotonic() < until:
            time.sleep(0.02)
        assert server.started, "the server did not start within 10 s"
        yield
    finally:
        server.should_exit = True
        thread.join(timeout=10)


@pytest.fixture
def running_at() -> Callable[..., Any]:
    """`running`, for a place that a test chooses."""
    return running


Serve = Callable[..., Any]


@pytest.fixture
def serve(free_port: int) -> Iterator[Callable[[ASGIApp], httpx.Client]]:
    """Starts an application and gives a client of it."""
    open_now: list[Any] = []

    def start(app: ASGIApp) -> httpx.Client:
        block = running(app, Place(port=free_port))
        block.__enter__()
        client = httpx.Client(base_url=f"http://127.0.0.1:{free_port}")
        open_now.extend((block, client))
        return client

    yield start
    for each in reversed(open_now):
        each.close() if isinstance(each, httpx.Client) else each.__exit__(None, None, None)


@pytest.fixture
def free_port() -> int:
    """A port nobody listens at."""
    import socket

    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])
