"""Live devices that vanish and return, stall, run at another rate, or leak the tool's own voice; in real time."""

import json
import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from runner.benchmark import sound_card
from speech.pyttsx3_voice import Synthesiser

HERE = Path(__file__).parent
pytestmark = pytest.mark.slow


@pytest.fixture
def bench(request: pytest.FixtureRequest) -> Iterator[Any]:
    if lacking := sound_card.lacking():
        pytest.skip(f"a live bench needs {lacking}")
    made = sound_card.LiveBench(rate_hz=getattr(request, "param", 48000))
    yield made
    made.close()


def facts_of(bench: Any, part: str, tmp_path: Path, do: Callable[[dict[str, Any]], None]) -> list[dict[str, Any]]:
    """What the part tells, doing something at each fact; killed when it takes longer than a minute and a half."""
    cache = os.environ.get("XDG_CACHE_HOME", str(Path.home() / ".cache"))
    env = {**bench.env, "XDG_CACHE_HOME": cache, "LEADSMAN_HOME": str(tmp_path)}
    command = [sys.executable, str(HERE / "live_devices_part.py"), part]
    process = subprocess.Popen(command, env=env, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    killer = threading.Timer(90, process.kill)
    killer.start()
    facts = []
    assert process.stdout is not None
    for line in process.stdout:
        if line.startswith("{"):  # the rest is the keyboard's voice
            facts.append(json.loads(line))
            do(facts[-1])
    _, errors = process.communicate()
    killer.cancel()
    assert process.returncode == 0, errors
    return facts


@pytest.mark.parametrize("bench", [44100], indirect=True)
def test_a_sound_card_that_comes_back_is_used_again(bench: Any, tmp_path: Path) -> None:
    def vanish(fact: dict[str, Any]) -> None:
        if fact["what"] == "open":
            time.sleep(1.0)
            bench.kill()
        if fact["what"] == "loudspeaker":
            time.sleep(1.0)
            bench.start()

    facts = {fact["what"]: fact for fact in facts_of(bench, "back", tmp_path, vanish)}
    assert facts["back"] == {**facts["back"], "ears": "VoskEars", "said": "Said"}


def test_a_sound_card_that_stalls_is_a_result_within_three_seconds_and_ends_at_the_keyboard(
    bench: Any, tmp_path: Path
) -> None:
    stalled: list[float] = []

    def stall(fact: dict[str, Any]) -> None:
        if fact["what"] == "open":
            time.sleep(3.0)  # sound has begun to flow
            bench.stall()
            stalled.append(time.monotonic())
        if fact["what"] == "loudspeaker":
            bench.kill()

    facts = {fact["what"]: fact for fact in facts_of(bench, "back", tmp_path, stall)}
    assert facts["DeviceLost"]["at_s"] - stalled[0] < 3.0
    assert facts["loudspeaker"]["result"] == "DeviceLost"
    assert facts["back"]["ears"] == "TypedEars"


def test_a_headsets_own_voice_20_db_down_cuts_nothing_and_a_person_does(bench: Any, tmp_path: Path) -> None:
    bench.leak(-20.0)
    with Synthesiser("en-gb") as voice:
        enough = voice.synthesise("enough")

    def call(fact: dict[str, Any]) -> None:
        if fact["what"] == "saying" and fact["number"] == 2:
            time.sleep(1.0)
            bench.call_out(enough).wait()

    said = [fact["cut"] for fact in facts_of(bench, "leak", tmp_path, call) if fact["what"] == "said"]
    assert said == ["", "", "enough"]
