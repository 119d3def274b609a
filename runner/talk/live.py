"""A session with a person: devices opened, the keyboard behind them, and a session taken up again where it was."""

import ctypes
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from time import sleep
from typing import Any

from flows.site import Site
from runner.job import Job
from runner.jobs import home, load_job, opening, training_voices
from runner.record.journal import Journal, JournalError
from runner.record.logbook import Logbook, Watcher
from runner.record.session import State
from runner.record.sounds import consent_of, sound_store
from runner.talk import wording
from runner.talk.advice import Advisor, grounds_for
from runner.talk.consent import Sounds
from runner.talk.dialogue import Conversation
from runner.talk.fitted import FittedEars
from runner.talk.handover import HandOver
from runner.talk.line import Line
from runner.talk.people import PEOPLE, Manner, People, Remembering
from runner.talk.repeats import FitOffer
from speech.button import Button, TerminalButton
from speech.ports import Ears, Listened, ListeningKind, SpeechError, Voice
from speech.typed import PrintedVoice, TypedEars

M_ARENA_MAX = -8  # of malloc.h
REOPENINGS, REOPENING_S = 4, 1.0
AT_KEYBOARD = "No sound device has come back. Go on at the keyboard."


@dataclass(frozen=True)
class Devices:
    """What the session speaks and listens with."""

    typed: bool = False
    microphone: str | None = None  # number or part of the name; None is the system's own choice
    loudspeaker: str | None = None
    button: bool = False
    headset: bool = False  # ears open while speaking; the device is a headset, not a loudspeaker in the room
    model: Path | None = None
    voice: str = "en-us"
    manner: Manner | None = None  # None: as remembered of the person, or the usual
    audio: bool = True  # ask whether the sound of call-outs may be kept; False keeps none and asks nothing
    audio_days: int = 90  # for how long it is asked to be kept


def keyboard() -> tuple[Ears, Voice]:
    """The way that works without any sound: sentences printed, answers typed."""
    return TypedEars(), PrintedVoice()


def one_heap() -> None:
    """Threads share one heap where the C library is glibc: with one each, models loaded by a thread keep 14 MB more."""
    with suppress(OSError, AttributeError):
        ctypes.CDLL(None).mallopt(M_ARENA_MAX, 1)


def open_devices(devices: Devices, fitted: FittedEars | None = None) -> tuple[Ears, Voice]:
    """Ears and voice as asked for. Raises SpeechError with what to do when there is no such device."""
    if devices.typed:
        return keyboard()
    from speech.headset import Headset
    from speech.levels import Caller, cap_db
    from speech.playing_voice import PlayingVoice
    from speech.pyttsx3_voice import Synthesiser
    from speech.recogniser import Recogniser
    from speech.sound_devices import Loudspeaker, MicrophoneSource
    from speech.vosk_ears import VoskEars

    button = Button() if devices.button else None
    one_heap()
    recogniser = Recogniser(model=devices.model)
    recogniser.load_ahead(("commands", "reading"))  # the first sentence is said meanwhile
    source = MicrophoneSource(devices.microphone)
    if fitted is not None:
        fitted.attach(recogniser, source.name)
    people = People(home() / PEOPLE)
    ears: Ears = VoskEars(recogniser, source, button=button, caller=Caller(people.faintest_caller_dbfs(source.name)))
    player = Loudspeaker(devices.loudspeaker)
    synthesiser = Synthesiser(devices.voice, (devices.manner or Manner()).rate_wpm).start()
    voice: Voice = PlayingVoice(player, synthesiser)
    if devices.headset:
        full_dba = people.headset_dba(player.name)
        ears = voice = Headset(PlayingVoice(player, synthesiser, cap_db=cap_db(full_dba)), ears, source, recogniser)
        voice.say(wording.HEADSET if full_dba is not None else wording.HEADSET_UNKNOWN)
    return (WithButton(ears, button) if button else ears), voice


def back_again(devices: Devices, fitted: FittedEars | None = None) -> tuple[Ears, Voice]:
    """The same devices once they are back, within some seconds, else the keyboard."""
    from speech.sound_devices import devices as look_again

    for _ in range(REOPENINGS):
        sleep(REOPENING_S)
        try:
            look_again(refresh=True)
            return open_devices(devices, fitted)
        except SpeechError:
            continue
    ears, voice = keyboard()
    voice.say(AT_KEYBOARD)
    return ears, voice


class WithButton:
    """Ears with a key or foot switch beside them, let go of together."""

    def __init__(self, ears: Ears, button: Button) -> None:
        self._ears = ears
        self._terminal = TerminalButton(button)

    def listen(self, kind: ListeningKind, *, timeout_s: float) -> Listened:
        return self._ears.listen(kind, timeout_s=timeout_s)

    def close(self) -> None:
        self._terminal.close()
        self._ears.close()


def run_new(
    job: Job,
    devices: Devices,
    *,
    journal: Path,
    machine: str,
    meter: str,
    first: str = "",
    also: tuple[Watcher, ...] = (),
) -> State:
    """A new session, to its end.

    first: a sentence to say before the flow begins, such as why it was picked. also: who else watches its events.
    """
    knowing = _Knowing.of(job, devices)
    ears, voice = open_devices(devices, knowing.fitted)
    with Journal.open(journal) as store:
        assert store.session is not None
        logbook = Logbook(store, watchers=(*knowing.watchers, *also))
        facts = opening(
            job, session=store.session, machine=machine, meter=meter, training_voices=training_voices(devices.model)
        )
        return _converse(job, ears, voice, logbook, store, knowing, opened=facts, devices=devices, first=first)


def resume(
    session: str, devices: Devices, *, journal: Path, hand_over: bool = False, also: tuple[Watcher, ...] = ()
) -> State:
    """Take a session up where its journal stands; one whose fault is found goes on with the proof of the repair.

    hand_over: by another person, who is told how the job stands and asked for initials. also: who else watches its
    events; they get those from before first.
    """
    with Journal.read(journal) as found:
        events = found.events(session)
    opened = events[0]
    site = Site(**opened["site"])
    job = load_job(opened["flow"], machine=opened["machine_file"], meter=opened["meter_file"], site=site)
    knowing = _Knowing.of(job, devices)
    ears, voice = open_devices(devices, knowing.fitted)
    with Journal.open(journal, session=session) as store:
        watchers = (*knowing.watchers, *also)
        for event in events:
            for watch in watchers:
                watch(event)
        logbook = Logbook(store, events=events, watchers=watchers)
        return _converse(
            job,
            ears,
            voice,
            logbook,
            store,
            knowing,
            opened=None,
            devices=devices,
            before=opened,
            hand_over=hand_over,
            consent=consent_of(events),
        )


@dataclass(frozen=True)
class _Knowing:
    """What a session knows beside its flow, from the events it watches: what is still suspected, and of the person."""

    advisor: Advisor | None
    remembering: Remembering
    fitted: FittedEars
    offer: FitOffer

    @classmethod
    def of(cls, job: Job, devices: Devices) -> "_Knowing":
        grounds = grounds_for(job)
        fitted = FittedEars(home())
        remembering = Remembering(People(home() / PEOPLE), given=devices.manner, ears=fitted)
        return cls(Advisor(grounds) if grounds else None, remembering, fitted, FitOffer(fitted))

    @property
    def watchers(self) -> tuple[Watcher, ...]:
        """The offer first: it must not count for one person what another called."""
        return (self.offer.watch, self.remembering.watch, *((self.advisor.watch,) if self.advisor else ()))


def _converse(
    job: Job,
    ears: Ears,
    voice: Voice,
    logbook: Logbook,
    store: Journal,
    knowing: _Knowing,
    *,
    opened: Mapping[str, Any] | None,
    devices: Devices,
    before: Mapping[str, Any] | None = None,
    first: str = "",
    hand_over: bool = False,
    consent: bool | None = None,
) -> State:
    line = Line(
        ears,
        voice,
        logbook,
        fallback=None if devices.typed else partial(back_again, devices, knowing.fitted),
        on_manner=knowing.remembering.changed,
    )
    kept = sound_store() if devices.audio and not devices.typed else None
    sounds = Sounds(line, logbook, kept, agreed=consent, days=devices.audio_days)
    handing = HandOver(line, logbook, job.flow, asked_of_the_new=sounds.ask)
    knowing.remembering.speak_through(line.speak_as)
    knowing.fitted.tell = lambda who: logbook.write("ears", fitted_to=who)
    repair_due = logbook.state.closed and (logbook.state.finding or {}).get("status") == "found"
    try:
        if opened is not None:
            logbook.write("opened", **opened)
        elif before is not None:
            _take_up(job, logbook, before)
        if first:
            line.say(first)
        conversation = Conversation(job, line=line, logbook=logbook, advisor=knowing.advisor)
        conversation.on_hand_over(handing)
        conversation.between_checks(lambda: knowing.offer.aside(logbook))
        (conversation.prove if repair_due else conversation.run)(before=handing if hand_over else sounds.ask_once)
        if logbook.state.closed:
            _seal(store)
        knowing.offer.at_the_end(*line.devices)
    except JournalError as error:
        # The hands are busy: what cannot be written down must be heard, not only printed.
        voice.say(f"The journal cannot be written. The test stops here. {error}")
        raise
    finally:
        line.close()
    return logbook.state


def _seal(store: Journal) -> None:
    from runner.record.signing import seal_at_end  # cryptography would keep the first word waiting

    seal_at_end(store)


def _take_up(job: Job, logbook: Logbook, before: Mapping[str, Any]) -> None:
    """Record that the session goes on, and doubt it when the flow or the sheet is no longer what it began with.

    Nobody knows what was moved since, so the probes and the dial count as being nowhere and are asked for again.
    """
    logbook.write("resumed", step=logbook.state.step)
    if logbook.state.bench:
        logbook.write("bench", bench={**logbook.state.bench, "red": None, "black": None, "dial": None, "hold": None})
    now = opening(job, session=before["session"], machine=before["machine_file"], meter=before["meter_file"])
    for what in ("flow", "sheet"):
        if before.get(f"{what}_hash") != now[f"{what}_hash"]:
            logbook.write("doubt", why=f"the {what} file has changed since the session began")
