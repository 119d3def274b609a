"""Actors' lines out of a game's data: a small file of the same layout, made here, and the real one where it is installed."""

import io
import struct
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st

pytest.importorskip("soxr", reason="optional: needs the extra train")

from speech.training import actors


def packed(parts: dict[str, bytes]) -> bytes:
    """A file of parts as the game has it."""
    head = b"QTBLCEM10\0\0\0\1" + struct.pack(">H", len(parts))
    first = len(head) + 21 * len(parts)
    rows, body = b"", b""
    for name, data in parts.items():
        rows += name.encode().ljust(12, b"\0") + struct.pack(">BII", 1, first + len(body), len(data))
        body += data
    return head + rows + body


def a_dialogue(number: int, his: list[tuple[int, str]], theirs: list[tuple[int, str]]) -> bytes:
    """Its head, a table of numbers that is no text, and the strings, each on an even place."""
    data = b"AmBk\0\x0f\0\1\x80\0\x0c\2Datas   " + struct.pack(">4h", 5, number, number, len(his))
    data += struct.pack(">8h", len(theirs), 0, 0, 6, 1, 0, 40, 0)
    for line, text in (*his, *theirs):
        data += struct.pack(">HB", line, len(text)) + text.encode()
        data += b"\0" * (len(data) % 2)
    return data + b"\0" * 20


def a_scene(*strings: str) -> bytes:
    return b"\0\2\xff\xf6\0\0" + b"".join(bytes([len(one)]) + one.encode() + b"\0\0" for one in strings) + b"\0" * 8


def tone(seconds: float) -> bytes:
    time = np.arange(round(11025 * seconds)) / 11025
    file = io.BytesIO()
    soundfile.write(file, 0.3 * np.sin(2 * np.pi * 300 * time), 11025, format="MP3", subtype="MPEG_LAYER_III")
    return file.getvalue()


def test_lines_of_a_dialogue_are_named_by_its_number_theirs_and_who_speaks() -> None:
    data = a_dialogue(9, [(6, "How are you?*15"), (40, "Well,*02 so am I.*16*02")], [(6, "Fine*00 thanks!")])
    assert dict(actors.dialogue(data)) == {
        "090006J1.SB": "How are you?",
        "090028J1.SB": "Well,",
        "090028J2.SB": "so am I.",
        "090006P1.SB": "Fine",
        "090006P2.SB": "thanks!",
    }


def test_a_scene_counts_only_when_every_sound_has_its_text() -> None:
    data = a_scene("Stop there!*03Come here.", "No.")
    sounds = ["C16B_011.SB", "C16B_012.SB", "C16B_051.SB"]
    assert dict(actors.scene(data, sounds)) == dict(zip(sounds, ["Stop there!", "Come here.", "No."], strict=True))
    assert dict(actors.scene(data, sounds[:2])) == {}


def test_clips_have_the_phones_of_their_text_and_lines_of_another_length_are_left_out(tmp_path: Path) -> None:
    parts = {
        "ONE.DOG": a_dialogue(9, [(6, "Nine to five.")], [(6, "Yes."), (7, "A")]),
        "C16B.CUT": a_scene("Hello again."),
        "090006J1.SB": tone(1.0),
        "090006P1.SB": tone(6.0),  # one word in six seconds: another line
        "C16B_011.SB": tone(0.8),
    }
    path = tmp_path / "data"
    path.write_bytes(packed(parts))
    found = {clip.text: clip for clip in actors.clips(path=path)}
    assert set(found) == {"Nine to five.", "Hello again."}
    assert found["Nine to five."].voice == "actors hero" and found["Hello again."].voice == "actors C16"
    assert found["Nine to five."].phones[:3] == ("N", "AY", "N")
    assert len(found["Nine to five."].sound) == pytest.approx(16000, rel=0.1)


def test_another_file_is_refused() -> None:
    with pytest.raises(ValueError, match="another version"):
        actors.parts_of(b"RIFF" + bytes(100))


@given(st.binary(max_size=300))
def test_any_dialogue_or_scene_gives_lines_or_none(data: bytes) -> None:
    for name, text in (*actors.dialogue(bytes(30) + data), *actors.scene(data, ["C16B_011.SB"])):
        assert name.endswith(".SB") and text


@pytest.mark.skipif(not actors.DATA.exists(), reason="optional: Debian's flight-of-the-amazon-queen")
def test_most_sounds_of_the_real_game_have_their_text() -> None:
    parts = actors.parts_of(actors.DATA.read_bytes())
    lines = actors.lines_of(parts)
    sounds = {name for name in parts if name.endswith(".SB")}
    assert len(lines) > len(sounds) / 2 and set(lines) < sounds
    assert not any("*" in text or "@" in text for text in lines.values())
    learned, held = actors.clips(500, 60), actors.clips(0, 10, held_back=True)
    assert 40 < len(learned) <= 60 and not {clip.voice.split()[1] for clip in learned} & actors.HELD_BACK
    assert {clip.voice.split()[1] for clip in held} <= actors.HELD_BACK
