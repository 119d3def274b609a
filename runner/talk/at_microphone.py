"""`leadsman mic`: the devices opened, the check of a microphone or the fit to a person made, and what came of it kept."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from runner.jobs import home
from runner.talk.fitted import FittedEars, Tuned, file_of, files_of
from runner.talk.mic_check import MicCheck, Speaker, check_microphone
from runner.talk.mic_fit import Fitting, fit_to_person
from runner.talk.people import PEOPLE, People
from speech.fitting.kept import fitted_model, keep
from speech.ports import KINDS, Ears, SpeechError
from speech.typed import PrintedVoice

if TYPE_CHECKING:
    from speech.recogniser import Recogniser
    from speech.sound_devices import MicrophoneSource
    from speech.vosk_ears import VoskEars


@dataclass(frozen=True)
class AtMicrophone:
    """Open devices and who is at them."""

    source: "MicrophoneSource"
    recogniser: "Recogniser"
    ears: "VoskEars"
    voice: Speaker


@contextmanager
def at_microphone(
    microphone: str | None, loudspeaker: str | None, *, silent: bool, model: Path | None
) -> Iterator[AtMicrophone]:
    """Devices as asked for. Raises SpeechError with what to do when there is no such device."""
    from speech.playing_voice import PlayingVoice
    from speech.recogniser import Recogniser
    from speech.sound_devices import Loudspeaker, MicrophoneSource
    from speech.vosk_ears import VoskEars

    source, recogniser = MicrophoneSource(microphone), Recogniser(model=model)
    ears = VoskEars(recogniser, source)
    try:
        voice = PrintedVoice() if silent else PlayingVoice(Loudspeaker(loudspeaker))
        try:
            yield AtMicrophone(source, recogniser, ears, voice)
        finally:
            voice.close()
    finally:
        ears.close()


def check_and_keep(at: AtMicrophone, who: str) -> tuple[MicCheck, dict[str, object] | None]:
    """The check of a microphone, and what the last one of this person gave; heard with the ears fitted to who it is."""
    fitted = FittedEars(home())
    fitted.attach(at.recogniser, at.source.name)
    fitted.is_there(who)
    at.recogniser.load("reading")
    check = check_microphone(at.source, at.ears, at.voice)
    at.voice.say(check.verdict)
    people = People(home() / PEOPLE)
    before = people.microphone(who, at.source.name)
    people.keep_microphone(who, at.source.name, check.facts())
    return check, before


def fit_and_keep(
    ears: Ears,
    voice: Speaker,
    recogniser: Tuned,
    device: str,
    who: str,
    *,
    tick: Callable[[], object] = lambda: None,
) -> Fitting:
    """The fit of the ears to a person at this microphone, kept when it helps.

    recogniser: which the ears hear with; its model is what is fitted. Raises SpeechError when it cannot be kept.
    """
    model = recogniser.model
    found = fit_to_person(ears, voice, model, tick=tick)
    if found.fit is not None and found.fit.helps:
        file = file_of(home(), who, device)
        try:
            keep(file, found.fit.biases, model=model, whose=who)
            made = fitted_model(file, model=model)
        except OSError as error:
            raise SpeechError(f"{file}: {error.strerror or error}; free some space, and fit again") from error
        People(home() / PEOPLE).keep_fit(who, device, found.facts())
        if made is not None:
            recogniser.use(made)
            for kind in KINDS:  # their graphs are made now, not in the middle of the next job
                recogniser.load(kind)
    voice.say(found.verdict)
    return found


def forget(who: str) -> int:
    """Take away every fit to this person; how many there were."""
    people = People(home() / PEOPLE)
    # older files do not say whose they are, and what is remembered of people may be lost: both ways
    known = (file_of(home(), who, device) for device in people.fits(who))
    files = {*files_of(home(), who), *(file for file in known if file.exists())}
    for file in files:
        file.unlink(missing_ok=True)
    people.forget_fits(who)
    return len(files)
