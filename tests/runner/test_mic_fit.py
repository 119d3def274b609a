"""Fitting the ears by voice: what is asked, what is taken, what is kept, and whose ears a session hears with."""

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from runner.cli import cli
from runner.errors import RunError
from runner.record.logbook import ListStore, Logbook
from runner.report.facts import facts
from runner.report.telling import tell
from runner.talk import mic_fit
from runner.talk.fitted import FittedEars, file_of
from runner.talk.mic_fit import FEWEST, Fitting, fit_to_person
from runner.talk.people import Manner, People, Remembering
from speech.fakes import QuietVoice, ScriptedEars
from speech.fitting.fit import ASKED, Call, Fit, strangeness
from speech.fitting.kept import NETWORK
from speech.fitting.network import Network
from speech.graph import MODEL
from speech.numbers import Spoken, parse_reading
from speech.ports import DeviceLost, Heard, Listened, Rejected, SpeechError
from speech.pyttsx3_voice import Synthesiser
from speech.recogniser import Recogniser
from speech.sound import Sound, resample


@pytest.fixture(scope="module")
def said() -> dict[str, Sound]:
    with Synthesiser("en-us") as voice:
        sounds = {words: resample(voice.synthesise(words), 16000).samples for words in ASKED}
    return {words: Sound(np.pad(sound, 4000), 16000) for words, sound in sounds.items()}


@pytest.fixture(scope="module")
def strange() -> Callable[[Network, Call], float]:
    """How strange a call-out is, computed once for each: the network is the same in every test."""
    known: dict[tuple[bytes, tuple[str, ...]], float] = {}

    def kept(network: Network, call: Call) -> float:
        key = call.samples.tobytes(), call.words
        if key not in known:
            known[key] = strangeness(network, call)
        return known[key]

    return kept


@pytest.fixture(autouse=True)
def computed_once(strange: Callable[[Network, Call], float], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(mic_fit, "strangeness", strange)


class Fitted:
    """Stands for the arithmetic, which has tests of its own: a fit that helps or does not."""

    def __init__(self, *, after: float) -> None:
        self.calls: Sequence[object] = ()
        self.after = after

    def __call__(self, network: object, calls: Sequence[object], **more: object) -> Fit:
        self.calls = calls
        return Fit({}, 1.0, self.after)


@pytest.fixture
def helping(monkeypatch) -> Fitted:
    fitted = Fitted(after=0.4)
    monkeypatch.setattr(mic_fit, "fit", fitted)
    return fitted


def heard(sound: Sound) -> Heard:
    return Heard("something", 0.3, sound=sound)


def session(*script: Listened | str) -> tuple[Fitting, QuietVoice, ScriptedEars]:
    ears, voice = ScriptedEars(*script), QuietVoice()
    return fit_to_person(ears, voice, MODEL), voice, ears


def test_ten_readings_are_asked_and_what_was_heard_does_not_matter(said: dict[str, Sound], helping: Fitted) -> None:
    found, voice, ears = session(*(heard(said[words]) for words in ASKED))
    assert (found.taken, len(helping.calls), ears.left) == (10, 10, ())
    assert voice.said[1] == "Four point nine eight volts."
    assert len(voice.said) == 12 and found.verdict == "Fitted to your voice."


def test_every_reading_asked_for_is_one_and_has_every_digit_twice() -> None:
    for words in ASKED:
        spoken = parse_reading(words)
        assert isinstance(spoken, Spoken) and spoken.unit
    for digit in ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"]:
        assert sum(words.split().count(digit) for words in ASKED) >= 2, digit


def test_what_was_refused_is_taken_when_it_was_what_was_asked(said: dict[str, Sound], helping: Fitted) -> None:
    found, _, _ = session(*(Rejected("", 0.0, sound=said[words]) for words in ASKED))
    assert found.taken == 10


def test_who_says_something_else_is_asked_once_more_and_then_left(said: dict[str, Sound], helping: Fitted) -> None:
    other = heard(said[ASKED[3]])
    found, voice, _ = session(other, heard(said[ASKED[0]]), other, other, *(heard(said[words]) for words in ASKED[2:]))
    assert found.taken == 9
    assert voice.said[2] == "Once more: four point nine eight volts."
    assert len(helping.calls) == 9


def test_too_few_are_not_fitted_to(said: dict[str, Sound], helping: Fitted) -> None:
    some = [heard(said[words]) for words in ASKED[: FEWEST - 1]]
    found, _, _ = session(*some, *[""] * (2 * (10 - len(some))))
    assert (found.fit, len(helping.calls)) == (None, 0)
    assert found.verdict.startswith("I got 5 of 10")


def test_a_fit_that_does_not_help_is_said_to(said: dict[str, Sound], monkeypatch) -> None:
    monkeypatch.setattr(mic_fit, "fit", Fitted(after=1.1))
    found, _, _ = session(*(heard(said[words]) for words in ASKED))
    assert found.verdict == "That would not help. I hear you as before."


def test_a_lost_microphone_and_another_network_end_it_with_what_to_do(said: dict[str, Sound], tmp_path: Path) -> None:
    with pytest.raises(SpeechError, match="plug it in"):
        session(DeviceLost("headset", "it was pulled out"))
    (tmp_path / NETWORK).parent.mkdir()
    (tmp_path / NETWORK).write_bytes(b"\0B<TransitionModel> ")
    with pytest.raises(RunError, match="only the reading model that ships"):
        fit_to_person(ScriptedEars(), QuietVoice(), tmp_path)


class Swapping:
    """A recogniser that remembers what it was told to hear with."""

    def __init__(self) -> None:
        self.model, self.general = MODEL, False

    def use(self, model: Path) -> None:
        self.model = model


WHO = {"type": "answered", "step": "who", "store": "who", "answer": "AT", "outcome": "answered"}


def test_the_ears_are_those_of_who_is_there_and_of_nobody_else(bay: Path) -> None:
    ears, recogniser, told = FittedEars(bay), Swapping(), list[str]()
    ears.tell = told.append
    ears.attach(recogniser, "headset")
    ears.watch({"type": "said", "text": "Who is there?"})
    assert recogniser.model == MODEL
    ears.watch(WHO)
    fitted = recogniser.model
    assert fitted != MODEL and (fitted / NETWORK).is_file()
    ears.watch({"type": "handed_over", "from": "AT", "to": "BM"})
    assert recogniser.model == MODEL, "who takes over is not heard with the ears of who left"
    ears.watch({"type": "handed_over", "from": "BM", "to": "AT"})
    assert recogniser.model == fitted
    ears.watch({**WHO, "answer": "", "outcome": "cannot"})
    assert recogniser.model == MODEL
    assert told == ["AT", "", "AT", ""]


def test_whose_ears_they_were_is_on_the_record_and_in_the_report(bay: Path) -> None:
    store = ListStore()
    ears = FittedEars(bay)
    ears.attach(Swapping(), "headset")
    logbook = Logbook(store, watchers=(ears.watch,))
    ears.tell = lambda who: logbook.write("ears", fitted_to=who)
    logbook.write("opened", session="s", flow="f", step="who")
    logbook.write("answered", step="who", store="who", answer="AT", outcome="answered")
    assert [event["type"] for event in store.events] == ["opened", "answered", "ears"]
    assert ("Ears fitted to", "AT") in facts(tell(store.events))


def test_a_fit_counts_at_its_microphone_and_after_that_came_back(bay: Path) -> None:
    ears, first, second, other = FittedEars(bay), Swapping(), Swapping(), Swapping()
    ears.attach(first, "headset")
    ears.watch(WHO)
    ears.attach(second, "headset")
    assert second.model == first.model != MODEL, "the device came back while the job ran"
    ears.attach(other, "built in")
    assert other.model == MODEL


def test_who_takes_over_is_spoken_to_in_their_own_manner(tmp_path: Path) -> None:
    people = People(tmp_path / "people.json")
    people.keep_manner("BM", Manner(rate_wpm=120))
    applied: list[Manner] = []
    remembering = Remembering(people, ears=FittedEars(tmp_path))
    remembering.speak_through(applied.append)
    remembering.watch({"type": "handed_over", "from": "AT", "to": "BM"})
    assert [manner.rate_wpm for manner in applied] == [120]


def test_the_recogniser_hears_with_the_other_folder_from_then_on(bay: Path, said: dict[str, Sound]) -> None:
    recogniser = Recogniser(kinds=("reading",))
    assert isinstance(recogniser.decode(said[ASKED[0]], "reading"), Heard)
    FittedEars(bay).attach(recogniser, "headset")
    ears = FittedEars(bay)
    ears.attach(recogniser, "headset")
    ears.watch(WHO)
    assert recogniser.model != MODEL
    result = recogniser.decode(said[ASKED[0]], "reading")
    assert isinstance(result, Heard) and result.words == ASKED[0]


@pytest.mark.parametrize("wish", ["--fit", "--forget"])
def test_a_fit_is_of_somebody(wish: str) -> None:
    done = CliRunner().invoke(cli, ["mic", wish])
    assert done.exit_code != 0
    assert "--person AB" in done.output


@pytest.mark.parametrize(("remembered", "says_whose"), [(True, True), (False, True), (True, False)])
def test_what_was_fitted_is_forgotten_when_asked(remembered: bool, says_whose: bool, bay: Path, monkeypatch) -> None:
    monkeypatch.setattr("runner.talk.at_microphone.home", lambda: bay)
    if not says_whose:  # as such files were at first
        file_of(bay, "AT", "headset").write_bytes(b"of somebody")
    if remembered:
        People(bay / "people.json").keep_fit("AT", "headset", {"date": "2026-11-28"})
    done = CliRunner().invoke(cli, ["mic", "--forget", "--person", "at"])
    assert "Forgotten: 1 of AT." in done.output
    assert not file_of(bay, "AT", "headset").exists()
    assert People(bay / "people.json").fits("AT") == {}
