"""The `rehearse` command: which faults, which noise, what is written where, and the line printed for each rehearsal."""

import time
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from flows.circuits import CIRCUITS
from runner.errors import RunError
from runner.job import Job
from runner.jobs import opening, rehearsal_path, training_voices
from runner.record.journal import Journal, new_session_name
from runner.rehearsal.engine import is_right
from runner.rehearsal.rehearsal import TECHNICIAN_VOICES, Rehearsal, Setting, Track, heard_rows, rehearse
from runner.rehearsal.technician import Habits
from runner.report import render
from runner.talk.advice import Grounds, grounds_for
from runner.talk.transcript import Transcript
from speech.recogniser import Recogniser


@dataclass(frozen=True)
class Wish:
    """What the command line asked for."""

    job: Job
    machine: str
    meter: str
    fault: str  # a fault's name, "none" or "all"
    seed: int
    noise_db: float | None
    voice: str | None
    reaches_control_unit: bool
    save: Path | None


def circuit_of(job: Job) -> Any:
    """The flow's circuit, with this machine's sheet in it."""
    if job.flow.circuit not in CIRCUITS:
        raise RunError(f"flow {job.flow.name} wants circuit {job.flow.circuit!r}; there is {', '.join(CIRCUITS)}")
    return CIRCUITS[job.flow.circuit](job.sheet)


def faults_wished(wish: Wish, circuit: Any) -> Iterable[str]:
    """Names of the faults to rehearse, "none" among them for all."""
    faults = circuit.faults()
    if wish.fault == "all":
        return ("none", *faults)
    if wish.fault != "none" and wish.fault not in faults:
        raise RunError(
            f"no fault {wish.fault!r} in circuit {wish.job.flow.circuit}. There is: none, all, {', '.join(faults)}."
        )
    return (wish.fault,)


def run_wish(wish: Wish, *, recogniser: Recogniser, transcript: Transcript) -> Iterator[dict[str, Any]]:
    """Rehearse what was wished; one JSON-ready line for each rehearsal."""
    circuit = circuit_of(wish.job)
    classes = circuit.classes()
    names = tuple(faults_wished(wish, circuit))
    grounds = grounds_for(wish.job)
    for number, name in enumerate(names):
        transcript.show(
            "note",
            f"{wish.job.flow.title}: fault {name}" + (f" ({number + 1} of {len(names)})" if len(names) > 1 else ""),
        )
        yield _one(
            wish,
            name,
            circuit=circuit,
            classes=classes,
            grounds=grounds,
            recogniser=recogniser,
            transcript=transcript,
            many=len(names) > 1,
        )


def _one(
    wish: Wish,
    name: str,
    *,
    circuit: Any,
    classes: Mapping[str, frozenset[str]],
    grounds: Grounds | None,
    recogniser: Recogniser,
    transcript: Transcript,
    many: bool,
) -> dict[str, Any]:
    session = new_session_name(datetime.now(UTC))
    folder = wish.save / name if wish.save and many else wish.save
    path = folder / "journal.sqlite" if folder else rehearsal_path(session)
    path.parent.mkdir(parents=True, exist_ok=True)
    voice = wish.voice or TECHNICIAN_VOICES[wish.seed % len(TECHNICIAN_VOICES)]
    setting = Setting(
        wish.job,
        circuit,
        None if name == "none" else circuit.faults()[name],
        seed=wish.seed,
        noise_db=wish.noise_db,
        habits=Habits(reaches_control_unit=wish.reaches_control_unit),
        technician_voice=voice,
        grounds=grounds,
    )
    track = Track(keep=folder is not None)
    simulated = {"fault": name, "seed": wish.seed, "noise_db": wish.noise_db, "voice": voice}
    opened = opening(
        wish.job,
        session=session,
        machine=wish.machine,
        meter=wish.meter,
        simulated=simulated,
        training_voices=training_voices(recogniser.model),
    )
    started = time.monotonic()
    with Journal.open(path, session=session) as journal:
        rehearsal = rehearse(
            setting, recogniser=recogniser, store=journal, opened=opened, track=track, show=transcript.show
        )
    took_s = time.monotonic() - started
    if folder:
        track.save(folder / "session.wav")
        (folder / "report.html").write_text(render(rehearsal.events), encoding="utf-8")
    return _line(wish, name, session, rehearsal, classes, took_s=took_s)


def _line(
    wish: Wish,
    name: str,
    session: str,
    rehearsal: Rehearsal,
    classes: Mapping[str, frozenset[str]],
    *,
    took_s: float,
) -> dict[str, Any]:
    found = rehearsal.finding
    blames = tuple(found["blames"]) if found else ()
    rows = heard_rows(rehearsal)
    return {
        "flow": wish.job.flow.name,
        "fault": name,
        "finding": found["finding"] if found else None,
        "blames": list(blames),
        "right": found is not None and is_right(blames, None if name == "none" else name, classes),
        "checks": len(rows),
        "session": session,
        "heard": rows,
        "call_outs": rehearsal.call_outs,
        "seconds": round(took_s, 2),
        "sound_s": round(rehearsal.sound_s, 1),
    }
