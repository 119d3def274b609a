"""No sound is kept before somebody agreed to it aloud."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from runner.job import Job
from runner.record.logbook import ListStore, Logbook
from runner.record.sounds import SoundStore
from runner.talk.consent import KEPT, NOT_KEPT, Sounds, kept_in
from runner.talk.consent import QUESTION as ASKED
from runner.talk.dialogue import Conversation
from runner.talk.line import Line
from speech.fakes import QuietVoice, ScriptedEars
from speech.ports import Heard, Listened, Rejected
from speech.sound import Sound

QUESTION = ASKED.format(days=90)
BEEP = Sound(np.arange(1600, dtype=np.int16), 16000)


def heard(words: str) -> Heard:
    return Heard(words, 0.9, sound=BEEP)


def run(
    small_job: Job, tmp_path: Path, *script: str | Listened, agreed: bool | None = None, audio: bool = True
) -> tuple[ListStore, list[str]]:
    store, voice = ListStore(), QuietVoice()
    logbook = Logbook(store, events=[{"type": "opened", "session": "test", "flow": "small", "step": "who"}])
    line = Line(ScriptedEars(*script), voice, logbook)
    sounds = Sounds(line, logbook, SoundStore(tmp_path / "audio") if audio else None, agreed=agreed)
    Conversation(small_job, line=line, logbook=logbook).run(before=sounds.ask_once)
    return store, voice.said


def with_sound(store: ListStore) -> list[str]:
    return [str(each["words"]) for each in store.events if "sound" in each]


def test_yes_keeps_what_is_heard_from_then_on(small_job: Job, tmp_path: Path) -> None:
    script = (heard("affirm"), heard("alfa tango"), "", Rejected("[unk]", 0.3, sound=BEEP), heard("note"))
    store, said = run(small_job, tmp_path, *script, Rejected("[unk]", 0.2, sound=BEEP), heard("stop test"))
    assert said[:2] == [QUESTION, KEPT]
    assert with_sound(store) == ["alfa tango", "[unk]", "note", "[unk]", "[unk]", "stop test"], "the memo's too"
    consent = next(each for each in store.events if each["type"] == "sound_consent")
    assert consent["given"] is True and consent["days"] == 90 and "90 days" in QUESTION
    facts = next(each["sound"] for each in store.events if "sound" in each)
    assert SoundStore(tmp_path / "audio").sound(facts["sha256"]) is not None and facts["seconds"] == 0.1


@pytest.mark.parametrize("answer", ["no", "cannot"])
def test_anything_else_keeps_nothing(small_job: Job, tmp_path: Path, answer: str) -> None:
    store, said = run(small_job, tmp_path, heard(answer), heard("alfa tango"), "", heard("stop test"))
    assert NOT_KEPT in said and with_sound(store) == []
    assert not (tmp_path / "audio").exists()


def test_stop_at_the_question_stops(small_job: Job, tmp_path: Path) -> None:
    store, _said = run(small_job, tmp_path, heard("stop test"))
    assert store.events[-1]["status"] == "stopped" and with_sound(store) == []


def test_session_taken_up_again_is_not_asked_twice(small_job: Job, tmp_path: Path) -> None:
    store, said = run(small_job, tmp_path, heard("stop test"), agreed=True)
    assert QUESTION not in said and with_sound(store) == ["stop test"]
    store, said = run(small_job, tmp_path, heard("stop test"), agreed=False)
    assert QUESTION not in said and with_sound(store) == []


def test_without_audio_nothing_is_asked(small_job: Job, tmp_path: Path) -> None:
    store, said = run(small_job, tmp_path, heard("stop test"), audio=False)
    assert QUESTION not in said and with_sound(store) == []


def test_disk_that_takes_no_sound_stops_no_test(tmp_path: Path) -> None:
    (tmp_path / "audio").write_text("a file where the folder should be")
    facts = kept_in(SoundStore(tmp_path / "audio"))(BEEP)
    assert facts["lost"] and "sha256" not in facts


def test_sentences_are_short() -> None:
    assert all(len(sentence.split()) <= 25 for sentence in (QUESTION, KEPT, NOT_KEPT))
