"""A rehearsal: a flow walked by voice, by a simulated technician at a simulated engine with a fault in it.

The technician reaches the tool by sound only: what it calls out is synthesised, mixed with noise if asked, and goes
through the real recogniser. It hears the tool as spoken text.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from flows.network.faults import Fault
from runner.job import Job
from runner.record.logbook import EventStore, Logbook
from runner.record.session import Event
from runner.record.sounds import SoundStore
from runner.rehearsal.engine import SimulatedEngine, drawn, notes_of
from runner.rehearsal.open_ears import BESIDE_DB, OpenEars, Room
from runner.rehearsal.technician import CallOut, Habits, Technician
from runner.talk.advice import Advisor, Grounds
from runner.talk.consent import kept_in
from runner.talk.dialogue import Conversation
from runner.talk.line import Line
from speech.ports import Heard, Listened, ListeningKind, Rejected, Said, Silence
from speech.pyttsx3_voice import Synthesiser
from speech.recogniser import Recogniser
from speech.sound import Sound, add_noise, join, resample, silence, write_wav

TOOL_VOICE = "en-us"
# Voices of the simulated technician; the first one's engine is in the model's training, as the report says.
TECHNICIAN_VOICES = ("en-gb", "en-gb-scotland", "en-gb-x-rp", "en-us")
TRACK_HZ = 16000

Show = Callable[[str, str, str], None]  # who (tool, technician, note), text, remark


@dataclass
class Track:
    """Everything that was said, one sound after the other."""

    sounds: list[Sound] = field(default_factory=list)
    duration_s: float = 0.0
    keep: bool = True  # False only adds up how long it is

    def add(self, sound: Sound) -> None:
        self.duration_s += sound.duration_s
        if self.keep:
            self.sounds.append(resample(sound, TRACK_HZ))

    def pause(self, duration_s: float) -> None:
        self.add(silence(duration_s, rate_hz=TRACK_HZ))

    def save(self, path: Path) -> None:
        write_wav(path, join(self.sounds))


class SpokenToTechnician:
    """The tool's voice: real synthesis on the track, and text in the technician's ears."""

    def __init__(self, synthesiser: Synthesiser, technician: Technician, track: Track, show: Show) -> None:
        self._synthesiser = synthesiser
        self._technician = technician
        self._track = track
        self._show = show

    def say(self, text: str) -> Said:
        sound = self._synthesiser.synthesise(text)
        self._track.add(sound)
        self._track.pause(0.2)
        self._show("tool", text, "")
        self._technician.hears(text)
        return Said(sound.duration_s)

    def set_rate(self, wpm: int) -> None:
        """The simulated technician never asks for another rate."""

    def set_volume(self, volume: float) -> None:
        """Nor for another volume."""

    def close(self) -> None:
        self._synthesiser.close()


class EarsOnTechnician:
    """The tool's ears: the technician's words as sound, through the real recogniser."""

    def __init__(
        self,
        recogniser: Recogniser,
        synthesiser: Synthesiser,
        technician: Technician,
        *,
        track: Track,
        show: Show,
        noise_db: float | None,
        seed: int,
    ) -> None:
        self._recogniser = recogniser
        self._synthesiser = synthesiser
        self._technician = technician
        self._track = track
        self._show = show
        self._noise_db = noise_db
        self._seed = seed
        self.call_outs = 0

    def listen(self, kind: ListeningKind, *, timeout_s: float) -> Listened:
        words = self._technician.reply()
        if words is None:
            self._track.pause(min(timeout_s, 1.2))
            return Silence(timeout_s)
        self.call_outs += 1
        sound = resample(self._synthesiser.synthesise(words), TRACK_HZ)
        if self._noise_db is not None:
            sound = add_noise(sound, snr_db=self._noise_db, kind="engine", seed=self._seed * 10007 + self.call_outs)
        self._track.add(sound)
        result = self._recogniser.decode(sound, kind)
        self._show("technician", words, remark(words, result))
        return result if isinstance(result, Silence) else replace(result, sound=sound)

    def close(self) -> None:
        self._synthesiser.close()


def remark(words: str, result: Listened) -> str:
    """What the recogniser made of a call-out, when it is not the same words."""
    if isinstance(result, Heard):
        return "" if result.words == words else f"heard: {result.words}"
    if isinstance(result, Rejected):
        return f"not taken: {result.words}" if result.words else "not taken"
    return "heard nothing"


def _ears(
    setting: "Setting", recogniser: Recogniser, technician: Technician, *, track: Track, show: Show
) -> "EarsOnTechnician | OpenEars":
    own = Synthesiser(voice=setting.technician_voice)
    if setting.beside is None:
        return EarsOnTechnician(
            recogniser, own, technician, track=track, show=show, noise_db=setting.noise_db, seed=setting.seed
        )

    def heard(words: str, result: Listened) -> None:
        sound = getattr(result, "sound", None)
        if sound is not None:
            track.add(sound)
        elif isinstance(result, Silence):
            track.pause(result.waited_s)
        if words or not isinstance(result, Silence):
            show("technician", words or "...", remark(words, result))

    room = Room(setting.beside, under_db=BESIDE_DB if setting.noise_db is None else setting.noise_db, seed=setting.seed)
    return OpenEars(recogniser, own, technician, room=room, heard=heard)


@dataclass(frozen=True)
class Rehearsal:
    """How one rehearsal ended."""

    events: tuple[Event, ...]
    said: tuple[CallOut, ...]
    call_outs: int
    sound_s: float  # how long all of it takes to hear

    @property
    def finding(self) -> Mapping[str, Any] | None:
        return next((e for e in reversed(self.events) if e["type"] == "found"), None)


@dataclass(frozen=True)
class Setting:
    """What one rehearsal is made of."""

    job: Job
    circuit: Any  # one of flows.circuits.CIRCUITS, with the machine's sheet in it
    fault: Fault | None
    seed: int = 0
    noise_db: float | None = None
    beside: str | None = None  # one of open_ears.BESIDE: ears open all the while beside it, noise_db under the voice
    habits: Habits = field(default_factory=Habits)
    technician_voice: str = TECHNICIAN_VOICES[0]
    grounds: Grounds | None = None  # what advice rests on; shared by rehearsals of one job


def rehearse(
    setting: Setting,
    *,
    recogniser: Recogniser,
    store: EventStore,
    opened: Mapping[str, Any],
    track: Track,
    show: Show,
    sounds: SoundStore | None = None,
) -> Rehearsal:
    """Walk the flow by voice once, to a finding or a stop.

    opened: facts of the opening event. sounds: where the call-outs are kept, so that pages have something to play.
    """
    job = setting.job
    engine = SimulatedEngine(setting.circuit, setting.fault, site=job.site, meter=job.meter, draw=drawn(setting.seed))
    rng = np.random.default_rng(setting.seed)
    technician = Technician(engine, meter=job.meter, steps=notes_of(job), habits=setting.habits, rng=rng)
    events: list[Event] = []
    advisor = Advisor(setting.grounds) if setting.grounds else None
    watchers = (events.append, technician.told, *((advisor.watch,) if advisor else ()))
    logbook = Logbook(store, watchers=watchers)
    logbook.write("opened", **opened)
    ears = _ears(setting, recogniser, technician, track=track, show=show)
    line = Line(ears, SpokenToTechnician(Synthesiser(voice=TOOL_VOICE), technician, track, show), logbook)
    if sounds is not None:
        logbook.write("sound_consent", given=True, simulated=True)
        line.keep = kept_in(sounds)
    try:
        Conversation(job, line=line, logbook=logbook, advisor=advisor).run()
    finally:
        line.close()
    return Rehearsal(tuple(events), tuple(technician.said), ears.call_outs, track.duration_s)


def heard_rows(rehearsal: Rehearsal) -> list[dict[str, Any]]:
    """One row a reading: what was called last, what was heard, and what came of it."""
    rows = []
    for number, event in enumerate(rehearsal.events):
        if event["type"] != "measured":
            continue
        judged = rehearsal.events[number + 1] if number + 1 < len(rehearsal.events) else {}
        verdict = judged if judged.get("type") == "judged" else {}
        called = [c.words for c in rehearsal.said if c.is_reading and c.step == event["step"] and c.after <= number]
        rows.append(
            {
                "step": event["step"],
                "said": called[-1] if called else "",
                "heard": event["words"],
                "value": event["value"],
                "unit": event["unit"],
                "low": verdict.get("low"),
                "high": verdict.get("high"),
                "outcome": verdict.get("outcome"),
                "confirmed": event["confirmed"],
                "attempts": event["attempts"],
            }
        )
    return rows
