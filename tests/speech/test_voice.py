"""A voice in a process of its own: sound for every sentence, again after the process dies, nothing left behind."""

import os
import signal
from pathlib import Path

import numpy as np
import pytest

from speech.fakes import QuietPlayer
from speech.places import cache_folder, keep_newest, made_folder, write_whole
from speech.playing_voice import PlayingVoice
from speech.ports import DeviceLost, Said
from speech.pyttsx3_voice import Synthesiser, VoiceError, voices
from speech.sound import level_dbfs


@pytest.fixture(scope="module")
def voice():  # type: ignore[no-untyped-def]
    with Synthesiser(cache=None) as made:
        yield made


def test_sentences_become_sound_and_nothing_is_printed(voice: Synthesiser, capfd: pytest.CaptureFixture[str]) -> None:
    short, long = voice.synthesise("Four volts."), voice.synthesise("Put the red probe on the sensor plug, pin two.")
    assert 0.4 < short.duration_s < 1.5
    assert 2.0 < long.duration_s < 5.0
    assert level_dbfs(long) > -40
    assert capfd.readouterr() == ("", "")


def test_symbols_are_spoken(voice: Synthesiser) -> None:
    assert (
        voice.synthesise("4.96 V").samples.tobytes() == voice.synthesise("four point nine six volts").samples.tobytes()
    )


def test_the_process_is_started_again_when_it_dies(voice: Synthesiser) -> None:
    voice.synthesise("One.")
    assert voice.process_id is not None
    os.kill(voice.process_id, signal.SIGKILL)
    assert voice.synthesise("Two volts and a half.").duration_s > 0.5


def test_many_sentences_in_a_row(voice: Synthesiser) -> None:
    lengths = {voice.synthesise(f"{number} volts").duration_s for number in range(40)}
    assert min(lengths) > 0.3


def test_voices_are_distinct() -> None:
    names = [voices()[0], voices()[2], voices()[9]]
    sounds = set()
    for name in names:
        with Synthesiser(name, cache=None) as made:
            sounds.add(made.synthesise("five volts").samples.tobytes())
    assert len(sounds) == 3


def test_a_faster_voice_takes_less_time() -> None:
    with Synthesiser(cache=None, rate_wpm=120) as slow:
        slow_s = slow.synthesise("put the red probe on the plug").duration_s
        with slow.at_rate(240) as fast:
            assert fast.synthesise("put the red probe on the plug").duration_s < 0.7 * slow_s


@pytest.mark.parametrize("name", ["nobody", "en-us+nobody", ""])
def test_an_unknown_voice_is_refused(name: str) -> None:
    with Synthesiser(name, cache=None) as made, pytest.raises(VoiceError, match="there is no v"):
        made.synthesise("five volts")


def test_what_cannot_be_said_is_refused(voice: Synthesiser) -> None:
    with pytest.raises(VoiceError, match="nothing to say"):
        voice.synthesise("  ... ")
    with pytest.raises(VoiceError, match="words a minute"):
        Synthesiser(rate_wpm=5)


def test_a_closed_voice_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    made = Synthesiser(cache=None).start()
    assert len(list(tmp_path.iterdir())) == 1
    process = made.process_id
    made.close()
    made.close()
    assert list(tmp_path.iterdir()) == []
    with pytest.raises(ProcessLookupError):
        os.kill(process or 0, 0)
    with pytest.raises(VoiceError, match="closed"):
        made.synthesise("five")


def test_prompts_are_kept_on_disk_by_text_voice_and_rate(tmp_path: Path) -> None:
    with Synthesiser(cache=tmp_path) as first:
        sound = first.synthesise("five volts")
    with Synthesiser(cache=tmp_path) as second:
        assert np.array_equal(second.synthesise("five volts").samples, sound.samples)
        assert second.process_id is None  # nothing had to be made
    with Synthesiser(cache=tmp_path, rate_wpm=120) as slower:
        assert slower.synthesise("five volts").duration_s > sound.duration_s


def test_a_damaged_prompt_on_disk_is_made_again(tmp_path: Path) -> None:
    with Synthesiser(cache=tmp_path) as first:
        first.synthesise("five volts")
    (file,) = tmp_path.iterdir()
    file.write_bytes(b"RIFF")
    with Synthesiser(cache=tmp_path) as second:
        assert second.synthesise("five volts").duration_s > 0.4


def test_a_playing_voice_says_and_remembers_rate_and_volume(tmp_path: Path) -> None:
    player = QuietPlayer()
    voice = PlayingVoice(player, Synthesiser(cache=tmp_path))
    voice.prepare(["five volts"])
    assert isinstance(voice.say("five volts"), Said)
    voice.set_volume(0.5)
    voice.say("five volts")
    assert level_dbfs(player.played[0]) - level_dbfs(player.played[1]) == pytest.approx(20, abs=0.5)
    voice.set_volume(1.0)
    voice.set_rate(240)
    voice.say("five volts")
    assert player.played[2].duration_s < 0.9 * player.played[0].duration_s
    assert isinstance(voice.sound("in"), Said)
    voice.stop()
    voice.close()
    assert player.closed and player.stopped


def test_a_loudspeaker_that_vanished_is_a_result(tmp_path: Path) -> None:
    voice = PlayingVoice(QuietPlayer(lost=True), Synthesiser(cache=tmp_path))
    assert isinstance(voice.say("five volts"), DeviceLost)
    voice.close()


def test_cache_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    assert cache_folder("graphs") == tmp_path / "leadsman" / "graphs"
    monkeypatch.setenv("XDG_CACHE_HOME", "/proc/nowhere")
    monkeypatch.setenv("HOME", "/proc/nowhere")
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    assert cache_folder("graphs").parent.parent == tmp_path


def test_a_made_folder_is_whole_or_not_there(tmp_path: Path) -> None:
    def fails(folder: Path) -> None:
        (folder / "half").write_text("x")
        raise OSError("full")

    with pytest.raises(OSError, match="full"):
        made_folder(tmp_path / "a", fails)
    assert list(tmp_path.iterdir()) == []

    def other_is_first(folder: Path) -> None:
        (tmp_path / "a").mkdir()
        (tmp_path / "a" / "whole").write_text("y")
        (folder / "mine").write_text("x")

    assert [file.name for file in made_folder(tmp_path / "a", other_is_first).iterdir()] == ["whole"]
    assert [file.name for file in tmp_path.iterdir()] == ["a"]
    assert made_folder(tmp_path / "a", fails).is_dir()


def test_a_cache_that_cannot_be_written_is_no_error(tmp_path: Path) -> None:
    write_whole(tmp_path / "none" / "x", b"1")
    write_whole(tmp_path / "x", b"1")
    assert [file.name for file in tmp_path.iterdir()] == ["x"]


def test_old_folders_go_and_the_newest_stay(tmp_path: Path) -> None:
    for number in range(5):
        (tmp_path / f"yes_no-{number}").mkdir()
        os.utime(tmp_path / f"yes_no-{number}", (number, number))
    (tmp_path / "reading-1").mkdir()
    keep_newest(tmp_path, "yes_no-*", 2)
    assert sorted(folder.name for folder in tmp_path.iterdir()) == ["reading-1", "yes_no-3", "yes_no-4"]
