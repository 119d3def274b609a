"""Live devices, in real time, on a virtual sound card: a call-out is heard, and a card that vanishes is a result."""

import json
import queue
import subprocess
import sys
import time
from collections.abc import Iterator
from math import inf
from pathlib import Path

import numpy as np
import pytest

from runner.benchmark import sound_card
from speech import sound_devices
from speech.pyttsx3_voice import Synthesiser
from speech.sound import Sound

LACKING = sound_card.lacking()
pytestmark = pytest.mark.skipif(bool(LACKING), reason=f"no virtual sound card here: {LACKING} not installed")


@pytest.fixture
def bench() -> Iterator[object]:
    made = sound_card.LiveBench()
    yield made
    made.close()


@pytest.fixture(scope="module")
def call_out() -> Sound:
    with Synthesiser("en-us", cache=None) as voice:
        return voice.synthesise("five point one volts")


def part(bench, *kinds: str):  # type: ignore[no-untyped-def]
    command = [sys.executable, "-m", "runner.benchmark.part", *kinds]
    return subprocess.Popen(command, env=bench.env, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def facts_of(process, on: str, do):  # type: ignore[no-untyped-def]
    """What the part tells, doing something at each fact of one name."""
    facts = []
    for line in process.stdout:
        facts.append(json.loads(line))
        if facts[-1]["what"] == on:
            do()
    _, errors = process.communicate(timeout=20)
    assert "Traceback" not in errors, errors
    assert process.returncode == 0
    print(facts)
    return {fact["what"]: fact for fact in facts}


def test_a_call_out_is_heard_from_the_microphone_and_answered(bench, call_out: Sound) -> None:  # type: ignore[no-untyped-def]
    players = []

    def speak() -> None:
        time.sleep(0.3)
        players.append(bench.call_out(call_out))

    facts = facts_of(part(bench, "reading"), "listening", speak)
    for player in players:
        player.wait(10)
    assert facts["Heard"]["words"] == "five point one volts"
    assert facts["closed"]["took_s"] < 2


@pytest.mark.parametrize(("on", "wait_s", "result"), [("listening", 0.5, "DeviceLost"), ("devices", 1.5, "voice lost")])
def test_a_card_that_vanishes_is_a_result_within_two_seconds(bench, on: str, wait_s: float, result: str) -> None:  # type: ignore[no-untyped-def]
    killed: list[float] = []

    def vanish() -> None:
        time.sleep(wait_s)
        bench.kill()
        killed.append(time.monotonic())

    facts = facts_of(part(bench, "reading"), on, vanish)
    if "no device" in facts:  # it vanished before it was open
        return
    assert facts[result]["at_s"] - killed[0] < 2.0
    assert facts["closed"]["took_s"] < 2.5


def test_a_machine_without_a_sound_card_is_told_what_to_do(tmp_path: Path, bench) -> None:  # type: ignore[no-untyped-def]
    bench.env["HOME"] = str(tmp_path)
    bench.kill()
    facts = facts_of(part(bench), "nothing", lambda: None)
    assert "--typed" in facts["no device"]["sentence"]


def test_a_word_that_began_while_the_last_one_was_worked_on_is_not_forgotten(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of a microphone without its stream: blocks come in, the ears read, close for a moment or for a sentence, and open again."""
    now_s = [100.0]
    monkeypatch.setattr(sound_devices.time, "monotonic", lambda: now_s[0])
    source = object.__new__(sound_devices.MicrophoneSource)
    source._queue, source._read_s = queue.Queue(), -inf
    for number in range(3):
        source._queue.put(sound_devices.Block(np.full(320, number, np.int16), now_s[0]))
    assert isinstance(source.read(), sound_devices.Block)
    now_s[0] += 0.2
    source.flush()
    assert source._queue.qsize() == 2
    now_s[0] += 1.0  # a sentence was spoken
    source.flush()
    assert source._queue.qsize() == 0
