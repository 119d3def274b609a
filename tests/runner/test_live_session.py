"""`leadsman run` in real time on a virtual sound card: a technician's voice in, the tool's voice out, nothing faked.

The card vanishes in mid-flow; the session goes on at the keyboard and nothing is lost.
"""

import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from runner.benchmark import sound_card
from runner.record.journal import Journal, JournalError
from runner.record.sounds import SoundStore
from speech.pyttsx3_voice import Synthesiser
from speech.sound import join, silence


@pytest.fixture
def bench() -> Iterator[Any]:
    if lacking := sound_card.lacking():
        pytest.skip(f"a live bench needs {lacking}")
    bench = sound_card.LiveBench()
    yield bench
    bench.close()


def wait_for(what: Callable[[], bool], *, timeout_s: float, process: "subprocess.Popen[str]") -> bool:
    end = time.monotonic() + timeout_s
    while time.monotonic() < end and process.poll() is None:
        if what():
            return True
        time.sleep(0.1)
    return what()


def events_in(journal: Path) -> list[dict[str, Any]]:
    try:
        with Journal.read(journal) as found:
            lines = found.sessions()
            return found.events(lines[-1].session) if lines else []
    except JournalError:
        return []


def test_a_session_by_voice_survives_the_loss_of_its_sound_card(bench: Any, tmp_path: Path) -> None:
    journal = tmp_path / "journal.sqlite"
    env = {**bench.env, "XDG_CACHE_HOME": os.environ.get("XDG_CACHE_HOME", str(Path.home() / ".cache"))}
    env["LEADSMAN_HOME"] = str(tmp_path / "home")
    command = [sys.executable, "-m", "runner.cli", "run", "manifold-pressure", "--journal", str(journal)]
    process = subprocess.Popen(
        command, env=env, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    )
    voice = Synthesiser("en-gb")

    def answered() -> list[str]:
        events = events_in(journal)
        consent = ["kept" for e in events if e["type"] == "sound_consent" and e["given"]]
        return consent + [e["answer"] for e in events if e["type"] == "answered"]

    def call(words: str, count: int) -> None:
        for _ in range(4):  # a person repeats too when nothing comes of it
            gap = silence(0.3, rate_hz=22050)
            bench.call_out(join([gap, voice.synthesise(words), gap])).wait()
            if wait_for(lambda: len(answered()) >= count, timeout_s=8, process=process):
                return

    try:
        assert wait_for(lambda: any(e["type"] == "asked" for e in events_in(journal)), timeout_s=60, process=process)
        time.sleep(2.5)  # the question is being spoken
        call("affirm", 1)
        time.sleep(4)
        call("alfa tango", 2)
        time.sleep(4)
        call("light", 3)
        assert answered()[:3] == ["kept", "AT", "light"]
        bench.kill()
        assert wait_for(
            lambda: any(e["type"] == "device_lost" for e in events_in(journal)), timeout_s=40, process=process
        )
        assert process.stdin is not None
        process.stdin.write("P0107\nnone\nstop test\n")
        process.stdin.flush()
        output, _ = process.communicate(timeout=60)
    finally:
        process.kill()
        process.wait()
        voice.close()
    assert "Go on at the keyboard" in output
    assert answered()[:4] == ["kept", "AT", "light", "P0107"], (
        "what was said before the loss is kept, the rest goes on typed"
    )
    with Journal.read(journal) as found:
        session = found.sessions()[-1].session
        assert found.audit(session).intact
        events = found.events(session)
    assert events[-1]["type"] == "sealed", "a session that has ended has the bay's signature"
    sounds = [e["sound"]["sha256"] for e in events if e["type"] in ("heard", "unheard") and "sound" in e]
    store = SoundStore(tmp_path / "home" / "audio")
    assert len(sounds) >= 2 and all(store.sound(each) is not None for each in sounds)
    asked = next(e["sequence"] for e in events if e["type"] == "sound_consent")
    assert all("sound" not in e for e in events[:asked]), "nothing is kept before it was agreed to"
