"""Killed at any instant, the journal holds every event that was acknowledged, and goes on."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from runner.record.journal import Journal

KILLS = int(os.environ.get("LEADSMAN_KILLS", "20"))
WRITER = """
import sys
from runner.record.journal import Journal
journal = Journal.open(sys.argv[1], "job-1")
out = sys.stdout
number = len(journal.events())
print("ready", flush=True)
while True:
    number += 1
    stored = journal.append({"type": "measured", "value": number, "words": "x" * (number * 37 % 3000)})
    print(stored["sequence"], flush=True)
"""


def killed_writer(path: Path, *, after_s: float) -> int:
    """Run a writer, kill it; the last sequence number it acknowledged."""
    with subprocess.Popen([sys.executable, "-c", WRITER, str(path)], stdout=subprocess.PIPE, text=True) as writer:
        assert writer.stdout is not None
        assert writer.stdout.readline() == "ready\n"
        time.sleep(after_s)
        writer.send_signal(signal.SIGKILL)
        lines = writer.stdout.read().splitlines(keepends=True)
    whole = [line for line in lines if line.endswith("\n")]
    return int(whole[-1]) if whole else 0


@pytest.mark.skipif(os.name == "nt", reason="optional: needs SIGKILL")
def test_every_acknowledged_event_outlives_a_kill(tmp_path: Path) -> None:
    path = tmp_path / "leadsman.db"
    chance = random.Random(7)
    acknowledged = 0
    for _round in range(KILLS):
        acknowledged = max(acknowledged, killed_writer(path, after_s=chance.uniform(0.0, 0.05)))
        with Journal.read(path) as journal:
            events = journal.events("job-1")
            audit = journal.audit("job-1")
        assert len(events) >= acknowledged
        assert [each["value"] for each in events] == list(range(1, len(events) + 1))
        assert audit.intact, audit.breaks
    assert acknowledged > KILLS
    with Journal.open(path, "job-1") as journal:
        assert journal.append({"type": "resumed"})["sequence"] == len(events) + 1
        assert journal.audit().intact
