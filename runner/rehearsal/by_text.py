"""A rehearsal without sound: the technician's words reach the tool as text, so that thousands can be walked."""

from typing import Any

import numpy as np

from flows.network.faults import Fault
from runner.job import Job
from runner.record.logbook import ListStore, Logbook, Watcher
from runner.record.session import Event
from runner.rehearsal.engine import SimulatedEngine, drawn, notes_of
from runner.rehearsal.technician import Habits, Technician
from runner.talk.dialogue import Conversation
from runner.talk.line import Line
from runner.talk.people import Manner
from speech.ports import Heard, Listened, ListeningKind, Said, Silence


class Hands:
    """Voice and ears of a technician who hands words over as text."""

    def __init__(self, technician: Technician) -> None:
        self._technician = technician

    def say(self, text: str) -> Said:
        self._technician.hears(text)
        return Said(0.0)

    def listen(self, kind: ListeningKind, *, timeout_s: float) -> Listened:
        words = self._technician.reply()
        return Silence(timeout_s) if words is None else Heard(words, 1.0)

    def set_rate(self, wpm: int) -> None:
        """Text has no rate."""

    def set_volume(self, volume: float) -> None:
        """Nor a loudness."""

    def close(self) -> None:
        """Nothing is held."""


def walk(
    job: Job,
    circuit: Any,
    fault: Fault | None,
    *,
    seed: int = 0,
    manner: Manner | None = None,
    made_by: type[Hands] = Hands,
    watchers: tuple[Watcher, ...] = (),
) -> list[Event]:
    """Every event of a session at an engine with this fault, from its opening to its end."""
    engine = SimulatedEngine(circuit, fault, site=job.site, meter=job.meter, draw=drawn(seed))
    rng = np.random.default_rng(seed)
    technician = Technician(engine, meter=job.meter, steps=notes_of(job), habits=Habits(), rng=rng)
    store, hands = ListStore(), made_by(technician)
    logbook = Logbook(store, watchers=(technician.told, *watchers))
    logbook.write("opened", session="s", flow=job.flow.name, step=job.flow.start)
    Conversation(job, line=Line(hands, hands, logbook, manner=manner), logbook=logbook).run()
    return list(store.events)
