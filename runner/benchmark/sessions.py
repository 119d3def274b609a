"""`leadsman run` and `leadsman mic` on the virtual sound card in real time: start to first word, peak memory, check, fit."""

import os
import re
import subprocess
import sys
import time
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory

from runner.benchmark.latency import Listener
from runner.benchmark.sound_card import LiveBench
from runner.talk.mic_check import ASK_COUNT, count_aloud
from speech.fitting.fit import ASKED
from speech.pyttsx3_voice import Synthesiser
from speech.sound import Sound

FLOW = "manifold-pressure"
ANSWERS = ("affirm", "alfa tango", "light", "none")
"""What a technician answers to the first questions of FLOW; what is not understood is asked again and costs nothing here."""
BETWEEN_S = 0.45  # breath between two call-outs while counting
REACTION_S = 0.5  # from the end of what was asked to the first call-out


def _env(bench: LiveBench, home: str) -> dict[str, str]:
    """Own home, but graphs and sentences made earlier are found, as on any day but the first."""
    cache = os.environ.get("XDG_CACHE_HOME", str(Path.home() / ".cache"))
    return {**bench.env, "XDG_CACHE_HOME": cache, "LEADSMAN_HOME": home}


def _first_loud_s(listener: Listener, since_s: float, *, timeout_s: float) -> float | None:
    """When speech first came from the loudspeaker."""
    end_s = since_s + timeout_s
    while time.monotonic() < end_s:
        time.sleep(0.05)
        if loud := listener.loud_s(since_s, time.monotonic()):
            return loud[0]
    return None


def peak_mb(pid: int) -> float:
    """Most memory a process and its children have held at once, each counted at its own peak [MB]."""
    status = Path(f"/proc/{pid}/status").read_text(encoding="ascii")
    found = re.search(r"VmHWM:\s+(\d+) kB", status)
    children = Path(f"/proc/{pid}/task/{pid}/children").read_text(encoding="ascii").split()
    return (int(found[1]) / 1024 if found else 0.0) + sum(peak_mb(int(child)) for child in children)


def starts(count: int) -> list[str]:
    """Start to first word, so many times after one that fills the caches; peak memory of the last run."""
    voice = Synthesiser("en-us", cache=None)
    sounds = [voice.synthesise(text) for text in ANSWERS]
    voice.close()
    figures, peak = list[float](), (0.0, 0.0)
    with TemporaryDirectory() as home:
        bench = LiveBench()
        speaker = Listener(bench, "speaker.monitor")
        for number in range(count + 1):
            command = [sys.executable, "-m", "runner.cli", "run", FLOW, "--journal", f"{home}/{number}.sqlite"]
            began_s = time.monotonic()
            process = subprocess.Popen(
                command, env=_env(bench, home), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
            )
            first_s = _first_loud_s(speaker, began_s, timeout_s=30.0)
            if number and first_s is not None:
                figures.append(first_s - began_s)
            if number == count:
                for sound in sounds:
                    time.sleep(5.0)
                    bench.call_out(sound).wait()
                time.sleep(5.0)
                whole = peak_mb(process.pid)
                own = peak_mb(process.pid) - sum(
                    peak_mb(int(child))
                    for child in Path(f"/proc/{process.pid}/task/{process.pid}/children").read_text().split()
                )
                peak = (own, whole)
            process.kill()
            process.wait()
        speaker.close()
        bench.close()
    return [
        f"start of `leadsman run` to first word: median {median(figures):.2f} s, worst {max(figures):.2f} s, n={len(figures)}",
        f"peak memory of a run: {peak[0]:.0f} MB, with the voice's child process {peak[1]:.0f} MB",
    ]


def mic() -> list[str]:
    """`leadsman mic` with somebody who counts at once: from its start to its end."""
    with TemporaryDirectory() as home, Synthesiser("en-us", cache=None) as voice:
        sounds = [voice.synthesise(text) for text in count_aloud()]
        asked_s = voice.synthesise(ASK_COUNT).duration_s
        bench = LiveBench()
        began_s = time.monotonic()
        command = [sys.executable, "-m", "runner.cli", "mic"]
        process = subprocess.Popen(
            command, env=_env(bench, home), stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True
        )
        speaker = Listener(bench, "speaker.monitor")
        first_s = _first_loud_s(speaker, began_s, timeout_s=30.0) or began_s
        time.sleep(max(0.0, first_s + asked_s + REACTION_S - time.monotonic()))
        for sound in sounds:
            bench.call_out(sound).wait()
            time.sleep(BETWEEN_S)
        _, told = process.communicate(timeout=60)
        took_s = time.monotonic() - began_s
        speaker.close()
        bench.close()
    last = told.strip().splitlines()[-1]
    numbers = re.findall(r"[-\d.]+", next((line for line in told.splitlines() if "this" in line or "│" in line), ""))
    return [
        f"`leadsman mic`, its start to its end, verdict spoken: {took_s:.1f} s; {last}",
        f"its own figures: {' '.join(numbers)}",
    ]


def fit() -> list[str]:
    """`leadsman mic --fit` with somebody who says after it what it prints: a croaking giant, hard to hear."""
    with TemporaryDirectory() as home, Synthesiser("en-gb-scotland+croak", cache=None) as voice:
        sounds = {words: voice.synthesise(words) for words in ASKED}
        bench = LiveBench()
        began_s = asked_s = time.monotonic()
        command = [sys.executable, "-u", "-m", "runner.cli", "mic", "--fit", "--person", "AB", "--silent"]
        process = subprocess.Popen(
            command, env=_env(bench, home), stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
        )
        assert process.stdout is not None
        told = []
        for line in process.stdout:
            told.append(line.strip())
            if words := next((words for words in ASKED if words in line.lower()), ""):
                time.sleep(REACTION_S)
                slow = Sound(sounds[words].samples, round(0.7 * sounds[words].rate_hz))
                bench.call_out(slow).wait()
                asked_s = time.monotonic()
        process.wait()
        end_s, kept = time.monotonic(), len(list(Path(home).glob("ears/*.npz")))
        bench.close()
    return [
        f"`leadsman mic --fit`: ten call-outs in {asked_s - began_s:.0f} s, then {end_s - asked_s:.0f} s of computing; "
        f"{kept} fit kept; {' '.join(told[-2:])}"
    ]
