"""The `rehearse` command: which faults, which noise, what is written where, and the line printed for each rehearsal."""

import time
from collections.abc import Iterable, Iterator, Mapping
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from rich.console import Console

from flows.circuits import CIRCUITS
from runner.errors import RunError
from runner.job import Job
from runner.jobs import opening, rehearsal_path, training_voices
from runner.record.journal import Journal, new_session_name
from runner.record.signing import seal_at_end
from runner.record.sounds import SoundStore, sound_store
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
    part: tuple[int, int] = (0, 1)  # of all faults only this part of so many, counted from 0
    beside: str | None = None  # talk or radio, with ears open all the while
    audio: bool = True  # keep the call-outs of a single rehearsal, beside what is saved or in the bay's folder


def circuit_of(job: Job) -> Any:
    """The flow's circuit, with this machine's sheet in it."""
    if job.flow.circuit not in CIRCUITS:
        raise RunError(f"flow {job.flow.name} wants circuit {job.flow.circuit!r}; there is {', '.join(CIRCUITS)}")
    return CIRCUITS[job.flow.circuit](job.sheet)


def faults_wished(wish: Wish, circuit: Any) -> Iterable[str]:
    """Names of the faults to rehearse, "none" among them for all."""
    faults = circuit.faults()
    if wish.fault == "all":
        which, parts = wish.part
        return ("none", *faults)[which::parts]
    if wish.fault != "none" and wish.fault not in faults:
        raise RunError(
            f"no fault {wish.fault!r} in circuit {wish.job.flow.circuit}. There is: none, all, {', '.join(faults)}."
        )
    return (wish.fault,)


@dataclass(frozen=True)
class Bench:
    """What all rehearsals of one wish share, costly to make."""

    wish: Wish
    circuit: Any
    classes: Mapping[str, frozenset[str]]
    grounds: Grounds | None
    recogniser: Recogniser

    @classmethod
    def of(cls, wish: Wish, recogniser: Recogniser) -> "Bench":
        circuit = circuit_of(wish.job)
        return cls(wish, circuit, circuit.classes(), grounds_for(wish.job), recogniser)

    def rehearse(self, name: str, *, transcript: Transcript, many: bool = False) -> dict[str, Any]:
        """Rehearse one fault; a JSON-ready line. many: each keeps a folder of its own."""
        wish = self.wish
        session = new_session_name(datetime.now(UTC))
        folder = wish.save / name if wish.save and many else wish.save
        path = folder / "journal.sqlite" if folder else rehearsal_path(session)
        path.parent.mkdir(parents=True, exist_ok=True)
        voice = wish.voice or TECHNICIAN_VOICES[wish.seed % len(TECHNICIAN_VOICES)]
        setting = Setting(
            wish.job,
            self.circuit,
            None if name == "none" else self.circuit.faults()[name],
            seed=wish.seed,
            noise_db=wish.noise_db,
            beside=wish.beside,
            habits=Habits(reaches_control_unit=wish.reaches_control_unit),
            technician_voice=voice,
            grounds=self.grounds,
        )
        track = Track(keep=folder is not None)
        opened = opening(
            wish.job,
            session=session,
            machine=wish.machine,
            meter=wish.meter,
            simulated={
                "fault": name,
                "seed": wish.seed,
                "noise_db": wish.noise_db,
                "beside": wish.beside,
                "voice": voice,
            },
            training_voices=training_voices(self.recogniser.model),
        )
        started = time.monotonic()
        sounds = (SoundStore(folder / "audio") if folder else sound_store()) if wish.audio and not many else None
        with Journal.open(path, session=session) as journal:
            rehearsal = rehearse(
                setting,
                recogniser=self.recogniser,
                store=journal,
                opened=opened,
                track=track,
                show=transcript.show,
                sounds=sounds,
            )
            seal_at_end(journal)
        took_s = time.monotonic() - started
        if folder:
            track.save(folder / "session.wav")
            (folder / "report.html").write_text(render(rehearsal.events), encoding="utf-8")
        return _line(wish, name, session, rehearsal, self.classes, took_s=took_s)


def run_wish(wish: Wish, *, model: Path | None, transcript: Transcript) -> Iterator[dict[str, Any]]:
    """Rehearse what was wished; one JSON-ready line for each rehearsal, in order. Many are shared out among the cores."""
    names = tuple(faults_wished(wish, circuit_of(wish.job)))
    if len(names) == 1:
        transcript.show("note", f"{wish.job.flow.title}: fault {names[0]}")
        yield Bench.of(wish, Recogniser(model=model)).rehearse(names[0], transcript=transcript)
        return
    cores = ProcessPoolExecutor(mp_context=get_context("spawn"), initializer=_at_bench, initargs=(wish, model))
    with cores:
        yield from cores.map(_one_of_many, names)


def _at_bench(wish: Wish, model: Path | None) -> None:
    global _bench
    _bench = Bench.of(wish, Recogniser(model=model))


_bench: Bench  # of a process that does its share of many rehearsals


def _one_of_many(name: str) -> dict[str, Any]:
    return _bench.rehearse(name, transcript=Transcript(Console(quiet=True), quiet=True), many=True)


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
