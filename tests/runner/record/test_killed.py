"""A session killed at any instant has every event that was acknowledged, and goes on at the step it stood at.

The walk runs in a forked child, which is killed; everything it says it has on disk must be there.
"""

from __future__ import annotations

import os
import random
import signal
import time
from itertools import count
from pathlib import Path

import pytest

from runner.job import Job
from runner.record.journal import Journal
from runner.record.logbook import ListStore, Logbook
from runner.record.session import Event, fold
from runner.record.troubles import JournalError
from runner.talk.dialogue import Conversation
from runner.talk.line import Line
from speech.fakes import QuietVoice, ScriptedEars
from speech.ports import Heard, Listened, ListeningKind, Silence

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="optional: needs fork and SIGKILL")


class Obliging:
    """Ears on somebody who answers everything as the flow likes it, and goes back now and then."""

    def __init__(self) -> None:
        self._want = ""
        self._turns = count(1)

    def watch(self, event: Event) -> None:
        self._want = str(event.get("want", "")) if event["type"] == "asked" else self._want
        self._want = "objection" if event["type"] == "read_back" else self._want

    def listen(self, kind: ListeningKind, *, timeout_s: float) -> Listened:
        turn, want = next(self._turns), self._want
        if want == "objection":
            self._want = "again"
            return Silence(timeout_s)
        if turn % 9 == 0 and want == "reading":
            return Heard("go back", 1.0)
        answers = {
            "reading": "five point zero zero volts",
            "again": "five point zero zero volts",
            "initials": "alfa tango",
        }
        return Heard(answers.get(want, "set" if want == "set" else "affirm"), 1.0)

    def close(self) -> None:
        """Nothing to let go of."""


def walk(job: Job, path: Path, acknowledged: int) -> None:
    """Sessions one after the other, for ever; each event's number is written to the pipe once it is on disk."""
    for number in count():
        with Journal.open(path, f"job-{os.getpid()}-{number}") as journal:

            def acknowledge(event: Event) -> None:
                os.write(acknowledged, f"{event['session']} {event['sequence']}\n".encode())

            ears = Obliging()
            logbook = Logbook(journal, watchers=(ears.watch, acknowledge))
            logbook.write("opened", flow="small", step=job.flow.start)
            Conversation(job, line=Line(ears, QuietVoice(), logbook), logbook=logbook).run()


def killed_walk(job: Job, path: Path, *, after_events: int, after_s: float) -> dict[str, int]:
    """Session -> number of the last event it acknowledged before it was killed, so long after so many of them."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            os.close(reading)
            walk(job, path, writing)
        finally:
            os._exit(1)
    os.close(writing)
    with os.fdopen(reading) as pipe:
        lines = [pipe.readline() for _event in range(after_events)]
        time.sleep(after_s)
        os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        lines += pipe.readlines()
    assert os.WIFSIGNALED(status), "it ended by itself"
    return {session: int(number) for session, number in (line.split() for line in lines if line.endswith("\n"))}


def goes_on_at(job: Job, events: list[Event]) -> str | None:
    """The step that is asked first when the session is taken up."""
    store = ListStore()
    logbook = Logbook(store, events=events)
    line = Line(ScriptedEars("stop test"), QuietVoice(), logbook)
    Conversation(job, line=line, logbook=logbook).run()
    return next((event["step"] for event in store.events if event["type"] == "asked"), None)


@pytest.mark.parametrize("kills", [8, pytest.param(200, marks=pytest.mark.slow)])
def test_nothing_that_was_acknowledged_is_lost_and_the_step_is_the_same(
    small_job: Job, tmp_path: Path, kills: int
) -> None:
    path, chance, events_seen = tmp_path / "journal.sqlite", random.Random(kills), 0
    for _kill in range(kills):
        acknowledged = killed_walk(
            small_job, path, after_events=chance.randrange(40), after_s=chance.uniform(0.0, 0.01)
        )
        if not acknowledged:
            continue  # killed before it had promised anything
        with Journal.read(path) as journal:
            for session, number in acknowledged.items():
                events = journal.events(session)
                assert number <= len(events) <= number + 1, "one may be on disk that nobody was told of"
                audit = journal.audit(session)
                assert audit.intact, audit.breaks
            events_seen += sum(acknowledged.values())
            last = journal.events(list(acknowledged)[-1])
        state = fold(last)
        if not state.closed and state.step in small_job.flow.steps:
            assert goes_on_at(small_job, last) == state.step
    assert events_seen > 10 * kills


@pytest.mark.parametrize("cuts", [15, pytest.param(200, marks=pytest.mark.slow)])
def test_cut_tail_is_found_or_said_and_the_journal_goes_on(small_job: Job, tmp_path: Path, cuts: int) -> None:
    """As a disk that lost its last pages: what is left is whole, and what is gone is named."""
    whole = tmp_path / "whole" / "journal.sqlite"
    acknowledged = killed_walk(small_job, whole, after_events=60, after_s=0.001)
    files = {each.name: each.read_bytes() for each in whole.parent.iterdir()}
    session, number = list(acknowledged.items())[-1]
    chance, lost, said = random.Random(cuts), 0, 0
    for cut in range(cuts):
        folder = tmp_path / f"cut-{cut}"
        folder.mkdir()
        name = chance.choice([each for each in files if not each.endswith((".writer", "-shm"))])
        for each, body in files.items():
            (folder / each).write_bytes(body[: chance.randrange(len(body))] if each == name else body)
        (folder / "journal.sqlite-shm").unlink(missing_ok=True)
        try:
            with Journal.read(folder / "journal.sqlite") as journal:
                events, audit = journal.events(session), journal.audit(session)
        except JournalError as error:
            assert "Traceback" not in str(error) and len(str(error)) < 300
            said += 1
            continue
        if len(events) < number:
            assert not audit.intact and audit.breaks[0].sequence == len(events) + 1, "the first one gone is named"
            lost += 1
        assert [event["sequence"] for event in events] == list(range(1, len(events) + 1))
        with Journal.open(folder / "journal.sqlite", "after") as journal:
            assert journal.append({"type": "opened"})["sequence"] == 1
    assert lost + said > 0
