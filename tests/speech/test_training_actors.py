"""Actors' lines out of games' data: small files of the same layouts, made here, and the real ones where they are installed."""

import contextlib
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
from speech.training.actors import drascula, queen, rnc, sky


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
    assert dict(queen.dialogue(data)) == {
        "090006J1.SB": "How are you?",
        "090028J1.SB": "Well,",
        "090028J2.SB": "so am I.",
        "090006P1.SB": "Fine",
        "090006P2.SB": "thanks!",
    }


def test_a_scene_counts_only_when_every_sound_has_its_text() -> None:
    data = a_scene("Stop there!*03Come here.", "No.")
    sounds = ["C16B_011.SB", "C16B_012.SB", "C16B_051.SB"]
    assert dict(queen.scene(data, sounds)) == dict(zip(sounds, ["Stop there!", "Come here.", "No."], strict=True))
    assert dict(queen.scene(data, sounds[:2])) == {}


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
    found = {clip.text: clip for clip in actors.clips(queen.lines(path))}
    assert set(found) == {"Nine to five.", "Hello again."}
    assert found["Nine to five."].voice == "actors hero" and found["Hello again."].voice == "actors C16"
    assert found["Nine to five."].phones[:3] == ("N", "AY", "N")
    assert len(found["Nine to five."].sound) == pytest.approx(16000, rel=0.1)


def test_another_file_is_refused() -> None:
    with pytest.raises(ValueError, match="another version"):
        queen.parts_of(b"RIFF" + bytes(100))


@given(st.binary(max_size=300))
def test_any_dialogue_or_scene_gives_lines_or_none(data: bytes) -> None:
    for name, text in (*queen.dialogue(bytes(30) + data), *queen.scene(data, ["C16B_011.SB"])):
        assert name.endswith(".SB") and text


@pytest.mark.skipif(not actors.have(), reason="optional: Debian's games, see DEVELOPERS.md")
def test_most_sounds_of_the_real_games_have_their_text_and_what_is_kept_back_is_not_learned() -> None:
    sounds = [name for name in queen.parts_of(queen.DATA.read_bytes()) if name.endswith(".SB")]
    lines = {"queen": queen.lines(), "sky": sky.lines(), "drascula": drascula.lines()}
    assert len(lines["queen"]) > len(sounds) / 2
    assert not any("*" in line.text or "@" in line.text for line in lines["queen"])
    assert len(lines["sky"]) > 3000 and not any("$" in line.text for line in lines["sky"])
    assert len(lines["drascula"]) > 0.9 * len(list(drascula.FOLDER.glob("*.ALS")))
    learned, held = actors.learned(), actors.kept_back()
    assert len(learned) + len(held) == sum(map(len, lines.values()))
    assert {line.who for line in held} == actors.HELD_BACK and not {line.who for line in learned} & actors.HELD_BACK
    for part in (learned[:20], learned[4500:4520], learned[-20:]):
        assert len(actors.clips(part)) > 12


@pytest.mark.skipif(not drascula.FOLDER.exists(), reason="optional: Debian's drascula")
def test_long_texts_take_long_and_those_of_their_neighbours_do_not_fit() -> None:
    """What shows that the groups of texts belong to the letters before the sounds."""
    lines = drascula.lines()
    for who in drascula.WHO:
        own = [line for line in lines if line.who == f"drascula{who}"]
        letters, loud = (
            [len(line.text) for line in own],
            [np.count_nonzero(np.abs(line.sound()[0]) > 1500) for line in own],
        )
        assert np.corrcoef(letters, loud)[0, 1] > 0.7 > np.corrcoef(letters[1:], loud[:-1])[0, 1]


class Packer:
    """Packs as RNC does, but with codes of sixteen words of four bits each: bits in words of 16, literals between them."""

    def __init__(self) -> None:
        self.out, self.word, self.used = bytearray(), 0, 16

    def put(self, value: int, count: int) -> None:
        low = min(count, 16 - self.used)
        self._bits(value & ((1 << low) - 1), low)
        if count > low:
            self.word, self.used = len(self.out), 0
            self.out += bytes(2)
            self._bits(value >> low, count - low)

    def _bits(self, value: int, count: int) -> None:
        if count:
            (held,) = struct.unpack_from("<H", self.out, self.word)
            struct.pack_into("<H", self.out, self.word, held | value << self.used)
            self.used += count

    def number(self, value: int) -> None:
        size = value if value < 2 else value.bit_length()
        self.put(int(f"{size:04b}"[::-1], 2), 4)
        if size > 1:
            self.put(value - (1 << size - 1), size - 1)


def packed_rnc(blocks: list[list[tuple[bytes, int, int]]], whole: int) -> bytes:
    """Blocks of literals, each but the last of a block followed by a copy: how far back, and how many."""
    packer = Packer()
    packer.put(0, 2)
    for block in blocks:
        for _code in range(3):
            packer.put(16, 5)
            for _word in range(16):
                packer.put(4, 4)
        packer.put(len(block), 16)
        for turn, (literals, back, size) in enumerate(block):
            packer.number(len(literals))
            packer.out += literals
            if turn < len(block) - 1:
                packer.number(back - 1)
                packer.number(size - 2)
    return rnc.MARK + struct.pack(">IIHHBB", whole, len(packer.out), 0, 0, 0, len(blocks)) + bytes(packer.out)


pieces = st.lists(
    st.tuples(st.binary(min_size=1, max_size=20), st.integers(1, 30), st.integers(2, 60)), min_size=1, max_size=6
)


@given(st.lists(pieces, min_size=1, max_size=3))
def test_what_is_packed_comes_out_again(wanted: list[list[tuple[bytes, int, int]]]) -> None:
    whole, blocks = bytearray(), []
    for block in wanted:
        fitted = []
        for turn, (literals, back, size) in enumerate(block):
            whole += literals
            back = min(back, len(whole))
            fitted.append((literals, back, size))
            for _ in range(size if turn < len(block) - 1 else 0):
                whole.append(whole[-back])
        blocks.append(fitted)
    data = packed_rnc(blocks, len(whole))
    assert rnc.unpack(data) == bytes(whole)
    with pytest.raises(ValueError):
        rnc.unpack(data[: rnc.HEAD + 10])


@given(st.binary(max_size=200))
def test_anything_else_is_not_unpacked(data: bytes) -> None:
    with pytest.raises(ValueError):
        rnc.unpack(data)
    with contextlib.suppress(ValueError):
        rnc.unpack(rnc.MARK + data)


def written(text: str) -> list[int]:
    """The bits of a text by the tree of the letters, an even number of them."""
    codes: dict[str, list[int]] = {}

    def walk(fork: sky.Fork, before: list[int]) -> None:
        if isinstance(fork, str):
            codes.setdefault(fork, before)
        else:
            walk(fork[0], [*before, 0])
            walk(fork[1], [*before, 1])

    walk(sky.tree(), [])
    bits = [bit for letter in text + "\0" for bit in codes[letter]]
    return bits + [0] * (len(bits) % 2)


def a_section(texts: list[str]) -> bytes:
    """Sums of the sizes of each 32 texts, the sizes, and the texts; a size is in pairs of bits, a long one in eights of them."""
    coded = [written(text) for text in texts]
    coded = [bits if len(bits) < 256 else bits + [0] * (-len(bits) % 16) for bits in coded]
    sizes = [len(bits) // 2 for bits in coded]
    sums = [sum(sizes[at : at + 32]) for at in range(0, len(sizes), 32)]
    steps = bytes(size if size < 128 else 0x80 | size >> 3 for size in sizes)
    first = 4 + 2 * len(sums) + len(steps)
    flat = [bit for bits in coded for bit in bits]
    flat += [0] * (-len(flat) % 8)
    body = bytes(int("".join(map(str, flat[at : at + 8])), 2) for at in range(0, len(flat), 8))
    return struct.pack(f"<HH{len(sums)}H", 4 + 2 * len(sums), first, *sums) + steps + body


@given(st.lists(st.text("abcdefghijklmnopqrstuvwxyzABCDEFGHI .,?!'-0123456789", max_size=60), min_size=1, max_size=70))
def test_every_text_of_a_section_is_read(texts: list[str]) -> None:
    section = a_section(texts)
    assert [sky.text(section, number, sky.tree()) for number in range(len(texts))] == texts


def test_sounds_have_the_text_of_their_number_packed_or_not(tmp_path: Path) -> None:
    head, plain = bytes(sky.HEAD), bytes([128, 200, 56] * 50)
    files = {
        sky.TEXTS: a_section(["Not said.", "What IS it?"]),
        sky.TEXTS + 1: a_section(["Nothing."]),
        sky.SOUNDS + 1: head + plain,
        sky.SOUNDS + 600: head + packed_rnc([[(plain[:3], 3, 147), (b"", 1, 2)]], 150),
    }
    index, data = struct.pack("<I", len(files)), b""
    for number, body in files.items():
        data += bytes(-len(data) % 16)
        packed = number < sky.TEXTS and rnc.MARK in body
        flags = len(body) | (0 if packed else 1 << 23)
        index += (
            struct.pack("<H", number) + (1 << 23 | len(data) >> 4).to_bytes(3, "little") + flags.to_bytes(3, "little")
        )
        data += body
    (tmp_path / "sky.dnr").write_bytes(index)
    (tmp_path / "sky.dsk").write_bytes(data)
    lines = sky.lines(tmp_path)
    assert [(line.who, line.text) for line in lines] == [("sky0", "what is it?"), ("sky1", "nothing.")]
    for line in lines:
        sound, rate_hz = line.sound()
        assert rate_hz == 11025 and list(sound[:3]) == [0, 72 << 8, -72 << 8] and len(sound) == 150


def test_groups_of_texts_belong_to_the_letters_before_the_sounds(tmp_path: Path) -> None:
    def group(texts: list[str]) -> bytes:
        body = b"\0\0"
        for text in texts:
            raw = text.encode() + bytes(1 + -(len(text) + 3) % 4)
            body += struct.pack(">H", len(raw) + 2) + raw
        return struct.pack(">H", len(texts)) + (struct.pack(">H", len(body)) + body) * drascula.LANGUAGES

    said = {who: ["", f"HELLO {who}"] for who in drascula.WHO[1:]}
    said[""] = ["", "A DOOR", *[""] * (drascula.FIRST - 2)]
    data = drascula.MARK + bytes(40) + b"".join(group(said[who]) for who in drascula.WHO)
    (tmp_path / "drascula.dat").write_bytes(data)
    for name in ("1.ALS", "VB1.ALS", "VB2.ALS", "B1.ALS"):
        (tmp_path / name).write_bytes(bytes([128, 0, 255]))
    found = {line.who: line for line in drascula.lines(tmp_path)}
    assert {who: line.text for who, line in found.items()} == {
        "drascula": "a door",
        "drasculaVB": "hello vb",
        "drasculaB": "hello b",
    }
    assert list(found["drascula"].sound()[0]) == [0, -32768, 127 << 8]
    with pytest.raises(ValueError, match="another version"):
        list(drascula.groups(data[:60]))
    with pytest.raises(ValueError, match="cut short"):
        list(drascula.groups(data[:-200]))
    with pytest.raises(ValueError, match="another version"):
        list(drascula.groups(b"RIFF" + data))
