"""What is remembered of a person, and what a broken file does: nothing."""

from pathlib import Path

from runner.talk.loudness import LevelWatch
from runner.talk.people import Manner, People, Remembering
from speech.fakes import QuietVoice
from speech.ports import Heard, Rejected, Silence


def test_who_asked_for_slower_is_spoken_to_slowly_next_time(run_session, tmp_path: Path) -> None:
    people = People(tmp_path / "people.json")
    said_who = {"type": "answered", "step": "who", "store": "who", "answer": "AT", "outcome": "answered"}
    first = Remembering(people)
    first.watch(said_who)
    first.changed(Manner().changed(rate_wpm=-25, volume=-0.2))
    applied: list[Manner] = []
    second = Remembering(people)
    second.speak_through(applied.append)
    second.watch(said_who)
    assert applied == [Manner(140, 0.8, False)]
    other = Remembering(people)
    other.speak_through(applied.append)
    other.watch({**said_who, "answer": "BM"})
    assert len(applied) == 1, "nobody else is spoken to slowly"


def test_what_the_command_line_gives_goes_before_what_is_remembered(tmp_path: Path) -> None:
    people = People(tmp_path / "people.json")
    people.keep_manner("AT", Manner(rate_wpm=120))
    applied: list[Manner] = []
    remembering = Remembering(people, given=Manner(rate_wpm=200))
    remembering.speak_through(applied.append)
    remembering.watch({"type": "answered", "store": "who", "answer": "AT", "outcome": "answered"})
    assert applied[-1].rate_wpm == 200


def test_a_broken_file_is_as_good_as_none(tmp_path: Path) -> None:
    file = tmp_path / "people.json"
    for text in ("", "[]", '{"AT": 3}', '{"AT": {"manner": {"rate_wpm": "fast"}, "microphones": [1]}}'):
        file.write_text(text)
        assert People(file).faintest_caller_dbfs("USB headset") is None
        assert People(file).manner("AT") is None
    People(tmp_path / "no" / "such" / "people.json").keep_manner("AT", Manner())
    assert People(tmp_path / "no" / "such" / "people.json").manner("AT") == Manner()


def test_slower_and_louder_are_asked_for_by_voice_and_told_on(run_session) -> None:
    voice = QuietVoice()
    good = ("five point zero zero three volts", "")
    rest = ("cannot", "set", good[0], *good, "set")
    run_session("slower", "quieter", "affirm", "set", *good, *rest, voice=voice)
    assert (voice.rate_wpm, voice.volume) == (140, 0.8)


def test_brief_leaves_out_what_a_practised_hand_knows(run_session, monkeypatch) -> None:
    monkeypatch.setattr("runner.talk.line.Manner", lambda: Manner(brief=True))
    good = ("five point zero zero three volts", "")
    done = run_session("affirm", "set", *good, "cannot", "set", good[0], *good, "set")
    assert "Five point zero zero three volts." in done.said, "the tone says that it is in"
    assert not any(text.startswith("Sensor supply at the plug.") for text in done.said)


def test_each_fault_of_the_microphone_is_named_once_in_two_minutes() -> None:
    now = [0.0]
    watch = LevelWatch(clock=lambda: now[0])
    faint = Rejected("", 0.0, level_dbfs=-50.0, noise_dbfs=-80.0)
    assert "faintly" in watch.warning(faint)
    assert watch.warning(faint) == ""
    assert "Unmute" in watch.warning(Silence(3.0, level_dbfs=-120.0))
    assert "overdriven" in watch.warning(Heard("x", 1.0, level_dbfs=-3.0, noise_dbfs=-40.0, clipped=True))
    assert "loud here" in watch.warning(Heard("x", 1.0, level_dbfs=-20.0, noise_dbfs=-24.0))
    now[0] = 121.0
    assert "faintly" in watch.warning(faint)
    assert watch.warning(Heard("x", 1.0)) == "", "a keyboard has no level"


def test_the_faintest_caller_of_a_microphone_is_the_one_to_hear(tmp_path: Path) -> None:
    people = People(tmp_path / "people.json")
    assert people.faintest_caller_dbfs("USB headset") is None
    people.keep_microphone("AT", "USB headset", {"speech_dbfs": -22.0, "heard": 10})
    people.keep_microphone("KM", "USB headset", {"speech_dbfs": -31.0, "heard": 9})
    people.keep_microphone("KM", "built in", {"speech_dbfs": -50.0, "heard": 10})
    people.keep_microphone("JO", "USB headset", {"speech_dbfs": -70.0, "heard": 0})  # nothing came through
    people.keep_manner("ZZ", Manner())
    assert people.faintest_caller_dbfs("USB headset") == -31.0
