"""A session with a person: devices opened, the keyboard behind them, and a session taken up again where it was."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from flows.site import Site
from runner.job import Job
from runner.jobs import load_job, opening, training_voices
from runner.record.journal import Journal, JournalError
from runner.record.logbook import Logbook, Watcher
from runner.record.session import State
from runner.talk.advice import Advisor, grounds_for
from runner.talk.dialogue import Conversation
from runner.talk.line import Line
from speech.button import Button, TerminalButton
from speech.ports import Ears, Listened, ListeningKind, Voice
from speech.typed import PrintedVoice, TypedEars


@dataclass(frozen=True)
class Devices:
    """What the session speaks and listens with."""

    typed: bool = False
    microphone: str | None = None  # number or part of the name; None is the system's own choice
    loudspeaker: str | None = None
    button: bool = False
    model: Path | None = None
    voice: str = "en-us"
    rate_wpm: int = 165


def keyboard() -> tuple[Ears, Voice]:
    """The way that works without any sound: sentences printed, answers typed."""
    return TypedEars(), PrintedVoice()


def open_devices(devices: Devices) -> tuple[Ears, Voice]:
    """Ears and voice as asked for. Raises SpeechError with what to do when there is no such device."""
    if devices.typed:
        return keyboard()
    from speech.playing_voice import PlayingVoice
    from speech.pyttsx3_voice import Synthesiser
    from speech.recogniser import Recogniser
    from speech.sound_devices import Loudspeaker, MicrophoneSource
    from speech.vosk_ears import VoskEars

    button = Button() if devices.button else None
    recogniser = Recogniser(model=devices.model, kinds=("commands", "reading"))
    ears: Ears = VoskEars(recogniser, MicrophoneSource(devices.microphone), button=button)
    voice = PlayingVoice(Loudspeaker(devices.loudspeaker), Synthesiser(devices.voice, devices.rate_wpm).start())
    return (WithButton(ears, button) if button else ears), voice


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


def run_new(job: Job, devices: Devices, *, journal: Path, machine: str, meter: str, first: str = "") -> State:
    """A new session, to its end. first: a sentence to say before the flow begins, such as why it was picked."""
    ears, voice = open_devices(devices)
    with Journal.open(journal) as store:
        assert store.session is not None
        advisor = _advisor(job)
        logbook = Logbook(store, watchers=_watchers(advisor))
        facts = opening(
            job, session=store.session, machine=machine, meter=meter, training_voices=training_voices(devices.model)
        )
        return _converse(job, ears, voice, logbook, advisor, opened=facts, typed=devices.typed, first=first)


def resume(session: str, devices: Devices, *, journal: Path) -> State:
    """Take a session up where its journal stands; one whose fault is found goes on with the proof of the repair."""
    with Journal.read(journal) as found:
        events = found.events(session)
    opened = events[0]
    site = Site(**opened["site"])
    job = load_job(opened["flow"], machine=opened["machine_file"], meter=opened["meter_file"], site=site)
    ears, voice = open_devices(devices)
    with Journal.open(journal, session=session) as store:
        advisor = _advisor(job)
        for event in events:
            for watch in _watchers(advisor):
                watch(event)
        logbook = Logbook(store, events=events, watchers=_watchers(advisor))
        return _converse(job, ears, voice, logbook, advisor, opened=None, typed=devices.typed, before=opened)


def _converse(
    job: Job,
    ears: Ears,
    voice: Voice,
    logbook: Logbook,
    advisor: Advisor | None,
    *,
    opened: Mapping[str, Any] | None,
    typed: bool,
    before: Mapping[str, Any] | None = None,
    first: str = "",
) -> State:
    line = Line(ears, voice, logbook, fallback=None if typed else keyboard)
    repair_due = logbook.state.closed and (logbook.state.finding or {}).get("status") == "found"
    try:
        if opened is not None:
            logbook.write("opened", **opened)
        elif before is not None:
            _take_up(job, logbook, before)
        if first:
            line.say(first)
        conversation = Conversation(job, line=line, logbook=logbook, advisor=advisor)
        if repair_due:
            conversation.prove()
        else:
            conversation.run()
    except JournalError as error:
        # The hands are busy: what cannot be written down must be heard, not only printed.
        voice.say(f"The journal cannot be written. The test stops here. {error}")
        raise
    finally:
        line.close()
    return logbook.state


def _advisor(job: Job) -> Advisor | None:
    grounds = grounds_for(job)
    return Advisor(grounds) if grounds else None


def _watchers(advisor: Advisor | None) -> tuple[Watcher, ...]:
    return (advisor.watch,) if advisor else ()


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
