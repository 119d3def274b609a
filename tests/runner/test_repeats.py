"""Somebody who has to call readings again and again: noticed, told, offered a fit at the end; a fit of no use is left out."""

from collections.abc import Iterable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from runner.record.logbook import ListStore, Logbook
from runner.report.flags import flags
from runner.report.telling import tell
from runner.talk import at_microphone, mic_fit, wording
from runner.talk.fitted import FittedEars, file_of
from runner.talk.repeats import CALLS, READINGS, FitOffer, Repeats
from speech.fakes import QuietVoice, ScriptedEars
from speech.fitting.fit import ASKED, Fit
from speech.fitting.kept import NETWORK, fitted_model, fitted_to
from speech.fitting.model_file import affine_parts
from speech.graph import MODEL
from speech.ports import DeviceLost, Heard, ListeningKind
from speech.pyttsx3_voice import Synthesiser
from speech.sound import Sound, resample
from speech.typed import TypedEars

WHO = {"type": "answered", "step": "who", "store": "who", "answer": "AT", "outcome": "answered"}
CALL = {"type": "heard", "listening": "reading", "words": "five volts", "level_dbfs": -20.0, "noise_dbfs": -50.0}
LOUD = {**CALL, "noise_dbfs": -25.0}
REFUSED = {"type": "unheard", "listening": "reading", "why": "not of this kind", "words": ""}
MEASURED = {
    "type": "measured", "step": "supply", "quantity": "dc_voltage", "value": 5.0, "over_range": False, "unit": "V",
    "confirmed": "implicit", "attempts": 1, "state": {},
}  # fmt: skip


class Exchangeable:
    """Stands for a recogniser whose model may be exchanged."""

    def __init__(self) -> None:
        self.model, self.general = MODEL, False
        self.loaded: list[str] = []

    def use(self, model: Path) -> None:
        self.model = model

    def load(self, kind: ListeningKind) -> None:
        self.loaded.append(kind)


def jobs(*calls: Iterable[dict[str, Any]]) -> Repeats:
    """After readings that took these call-outs."""
    repeats = Repeats()
    for each in calls:
        for event in (*each, MEASURED):
            repeats.watch(event)
    return repeats


def test_who_is_heard_at_once_or_twice_here_and_there_does_not_repeat_often() -> None:
    assert not jobs(*[[CALL]] * 20).often
    assert not jobs(*[[CALL], [CALL, CALL]] * 10).often
    assert not jobs(*[[CALL, REFUSED]] * READINGS).often  # twice each: what decides a flow is called twice anyway


def test_more_than_that_over_six_readings_is_often_until_it_gets_better() -> None:
    bad = [[CALL, REFUSED, CALL]] * READINGS
    assert jobs(*bad).often and jobs(*bad).call_outs == 3 * READINGS >= CALLS
    assert not jobs(*bad[1:]).often, "too few to tell"
    assert not jobs(*bad, *[[CALL]] * READINGS).often


@pytest.mark.parametrize(
    "other",
    [
        {**CALL, "source": "typed"},
        {**CALL, "words": "say again"},
        {**CALL, "listening": "commands"},
        {"type": "unheard", "listening": "reading", "why": "silence", "words": ""},
    ],
)
def test_only_call_outs_by_voice_count(other: dict[str, Any]) -> None:
    assert not jobs(*[[CALL, other, other, other]] * READINGS).often


def test_where_it_is_loud_the_noise_is_to_blame_and_not_the_voice() -> None:
    assert not jobs(*[[LOUD, CALL, CALL, CALL]] * 20).often


def test_a_reading_that_was_given_up_counts_as_well_and_one_gone_back_on_does_not() -> None:
    for end, counts in (("branched", True), ("went_back", False)):
        repeats = Repeats()
        for event in [CALL, REFUSED, CALL, {"type": end, "step": "supply"}] * READINGS:
            repeats.watch(event)
        assert repeats.often is counts, end


def test_what_one_person_called_does_not_count_for_the_next() -> None:
    repeats = jobs(*[[CALL, CALL, CALL]] * READINGS)
    repeats.watch({"type": "handed_over", "from": "AT", "to": "BM"})
    assert not repeats.often


def bench(folder: Path, *, who: bool = True) -> tuple[FitOffer, Logbook, ListStore, Exchangeable, FittedEars]:
    """A session of AT at the headset in which every reading took three call-outs."""
    fitted, recogniser, store = FittedEars(folder), Exchangeable(), ListStore()
    offer = FitOffer(fitted)
    logbook = Logbook(store, watchers=(offer.watch, fitted.watch))
    fitted.tell = lambda whose: logbook.write("ears", fitted_to=whose)
    fitted.attach(recogniser, "headset")
    logbook.write("opened", session="s", flow="f", step="who")
    if who:
        put(logbook, WHO)
    again(logbook)
    return offer, logbook, store, recogniser, fitted


def put(logbook: Logbook, event: dict[str, Any]) -> None:
    logbook.write(event["type"], **{name: value for name, value in event.items() if name != "type"})


def again(logbook: Logbook) -> None:
    for _ in range(READINGS):
        for event in (CALL, CALL, CALL, MEASURED):
            put(logbook, event)


def test_it_is_said_once_and_stands_in_the_report(tmp_path: Path) -> None:
    offer, logbook, store, _, _ = bench(tmp_path)
    assert offer.aside(logbook) == wording.REPEATING
    again(logbook)
    assert offer.aside(logbook) == ""
    (flag,) = [flag.text for flag in flags(tell(store.events)) if "Heard badly" in flag.text]
    assert flag == "Heard badly: 18 call-outs for 6 readings, ears fitted to nobody"


def test_who_gave_no_initials_is_told_that_they_are_wanted(tmp_path: Path) -> None:
    offer, logbook, _, _, _ = bench(tmp_path, who=False)
    assert offer.aside(logbook) == wording.REPEATING_UNKNOWN
    voice = QuietVoice()
    offer.at_the_end(ScriptedEars(), voice)
    assert voice.said == []


def test_a_fit_under_which_it_happens_is_left_out_and_then_another_is_offered(bay: Path) -> None:
    offer, logbook, store, recogniser, fitted = bench(bay)
    assert recogniser.model != MODEL
    assert offer.aside(logbook) == wording.FIT_SET_ASIDE
    assert recogniser.model == MODEL and fitted.told == ""
    assert [event.get("fitted_to") for event in store.events if event["type"] == "ears"] == ["AT", ""]
    fitted.attach(later := Exchangeable(), "headset")
    assert later.model == MODEL, "also after the device was lost and came back"
    assert offer.aside(logbook) == "", "counted anew from there"
    again(logbook)
    assert offer.aside(logbook) == wording.REPEATING


def test_nothing_is_offered_to_who_was_heard_well_or_types(tmp_path: Path) -> None:
    fitted = FittedEars(tmp_path)
    fitted.attach(Exchangeable(), "headset")
    offer, voice = FitOffer(fitted), QuietVoice()
    offer.watch(WHO)
    offer.at_the_end(ScriptedEars(), voice)
    offer, logbook, *_ = bench(tmp_path)
    offer.aside(logbook)
    offer.at_the_end(TypedEars(), voice)
    assert voice.said == []


@pytest.mark.parametrize("script", [["no"], ["", ""], ["go ahead", ""], [DeviceLost("headset", "pulled out"), ""]])
def test_only_a_yes_is_a_yes(tmp_path: Path, script: list[Any]) -> None:
    offer, logbook, *_ = bench(tmp_path)
    offer.aside(logbook)
    voice = QuietVoice()
    offer.at_the_end(ears := ScriptedEars(*script), voice)
    assert set(voice.said) == {wording.FIT_NOW} and ears.left == ()


def test_who_was_never_understood_is_offered_it_too(tmp_path: Path) -> None:
    fitted = FittedEars(tmp_path)
    fitted.attach(Exchangeable(), "headset")
    offer, voice = FitOffer(fitted), QuietVoice()
    fitted.watch(WHO)
    offer.watch({"type": "stopped", "why": "not understood"})
    offer.at_the_end(ScriptedEars("no"), voice)
    assert voice.said == [wording.FIT_NOW]


@pytest.fixture(scope="module")
def said() -> list[Sound]:
    with Synthesiser("en-us") as voice:
        sounds = [resample(voice.synthesise(words), 16000).samples for words in ASKED]
    return [Sound(np.pad(sound, 4000), 16000) for sound in sounds]


def test_a_yes_ends_in_ears_fitted_and_kept(tmp_path: Path, said: list[Sound], monkeypatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setattr(at_microphone, "home", lambda: tmp_path)
    name, (_, bias) = next(iter(affine_parts((MODEL / NETWORK).read_bytes()).items()))
    monkeypatch.setattr(mic_fit, "fit", lambda network, calls, **more: Fit({name: bias + 0.01}, 1.0, 0.5))
    offer, logbook, _, recogniser, _ = bench(tmp_path)
    offer.aside(logbook)
    voice = QuietVoice()
    offer.at_the_end(ScriptedEars("affirm", *(Heard("x", 0.3, sound=sound) for sound in said)), voice)
    assert voice.said[0] == wording.FIT_NOW and voice.said[-1] == mic_fit.FITTED
    assert fitted_to(file_of(tmp_path, "AT", "headset")) == "AT"
    assert recogniser.model != MODEL and "reading" in recogniser.loaded


def test_who_takes_over_is_not_offered_what_another_needs(tmp_path: Path) -> None:
    offer, logbook, *_ = bench(tmp_path)
    assert offer.aside(logbook) == wording.REPEATING
    put(logbook, {"type": "handed_over", "from": "AT", "to": "BM"})
    offer.at_the_end(ScriptedEars(), voice := QuietVoice())
    assert voice.said == []


def test_ears_that_were_fitted_are_fitted_anew_from_the_model_as_it_was_made(
    bay: Path, said: list[Sound], monkeypatch
) -> None:
    monkeypatch.setattr(at_microphone, "home", lambda: bay)
    name, (_, bias) = next(iter(affine_parts((MODEL / NETWORK).read_bytes()).items()))
    monkeypatch.setattr(mic_fit, "fit", lambda network, calls, **more: Fit({name: bias - 0.01}, 1.0, 0.5))
    fitted, recogniser = FittedEars(bay), Exchangeable()
    told = list[str]()
    fitted.tell = told.append
    fitted.attach(recogniser, "headset")
    offer = FitOffer(fitted)
    fitted.watch(WHO)
    offer.watch({"type": "stopped", "why": "not understood"})
    offer.at_the_end(ScriptedEars("affirm", *(Heard("x", 0.3, sound=sound) for sound in said)), QuietVoice())
    assert told == ["AT"], "nothing is written behind the seal"
    assert fitted_model(file_of(bay, "AT", "headset"), model=MODEL) == recogniser.model


def test_a_microphone_lost_meanwhile_is_told_and_loses_nothing(tmp_path: Path) -> None:
    offer, logbook, *_ = bench(tmp_path)
    offer.aside(logbook)
    voice = QuietVoice()
    offer.at_the_end(ScriptedEars("affirm", DeviceLost("headset", "it was pulled out")), voice)
    assert voice.said[-1].startswith("Not fitted: headset: it was pulled out; plug it in")
