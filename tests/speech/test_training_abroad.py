"""Voices of other languages: which sounds stand for English ones, on small sets of phones made here, and one real clip."""

import itertools
import re
from collections.abc import Sequence
from pathlib import Path
from random import Random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

pytest.importorskip("soxr", reason="optional: needs the extra train")

from speech.lexicon import PHONES, pronounce
from speech.training import abroad
from speech.training.abroad import Voice, _link, _options, _rendered, _segments, _spelt, fitted

TABLES = {"italian": abroad.ITALIAN, "czech": abroad.CZECH, "finnish": abroad.FINNISH, "indian": abroad.INDIAN}
LACKING = {("italian", "HH")}
ENGLISH = [*PHONES[1:], "AX"]
LINKS = ("#", "e")


def pairs(*chains: str) -> frozenset[tuple[str, str]]:
    """Neighbours in chains such as `# a t #`."""
    return frozenset(pair for chain in chains for pair in itertools.pairwise(chain.split()))


@pytest.mark.parametrize("name", TABLES)
def test_every_english_phone_has_ways_in_each_language(name: str) -> None:
    table = TABLES[name]
    assert set(table) == set(ENGLISH)
    for phone in ENGLISH:
        ways = [way.split() for way in re.split(r"[|;]", table[phone])]
        assert all(ways) != ((name, phone) in LACKING), phone
        assert all(len(way) <= 2 for way in ways), phone


def test_a_link_goes_between_only_where_a_pair_is_missing() -> None:
    known = pairs("a t a", "k e s", "k # s", "p # z")
    assert _link("", "a", LINKS, known) == ""
    assert _link("a", "t", LINKS, known) == ""
    assert _link("o", "o", LINKS, known) == ""
    assert _link("k", "s", LINKS, known) == "#"
    assert _link("k", "s", ("e", "#"), known) == "e"
    assert _link("p", "z", ("e",), known) is None
    assert _link("t", "z", LINKS, known) is None


def test_the_likeliest_way_is_taken_where_its_pairs_are_there() -> None:
    options = {"SIL": [(0, ("#",))], "T": [(0, ("t",))], "IH": [(0, ("i",)), (1, ("y",))]}
    assert fitted(["SIL", "T", "IH", "SIL"], options, LINKS, pairs("# t i #", "t y #")) == [
        ("#",),
        ("t",),
        ("i",),
        ("#",),
    ]


def test_another_way_is_taken_before_a_link_and_a_link_before_a_gap() -> None:
    options = {"SIL": [(0, ("#",))], "T": [(0, ("t",))], "IH": [(0, ("i",)), (1, ("y",)), (3, ("u",))]}
    said = ["SIL", "T", "IH", "SIL"]
    assert fitted(said, options, LINKS, pairs("# t", "i #", "t e i", "t y #"))[2] == ("y",)
    assert fitted(said, options, LINKS, pairs("# t", "i #", "t e i", "y #"))[2] == ("i",)
    assert fitted(said, options, LINKS, pairs("# t", "i #", "y #", "t u #"))[2] == ("u",)


def test_no_phones_and_phones_without_a_sound_are_no_trouble() -> None:
    options = {"HH": [(0, ())], "AA": [(0, ("a",))]}
    assert fitted([], options, LINKS, pairs()) == []
    assert fitted(["AA", "HH", "AA"], options, LINKS, pairs()) == [("a",), (), ("a",)]


sounds = st.sampled_from("abct#")
ways = st.lists(
    st.tuples(st.integers(0, 8), st.lists(sounds, min_size=1, max_size=2).map(tuple)), min_size=1, max_size=3
)


@given(
    st.lists(st.sampled_from("XYZ"), max_size=5),
    st.fixed_dictionaries(dict.fromkeys("XYZ", ways)),
    st.frozensets(st.tuples(sounds, sounds), max_size=20),
)
def test_no_row_of_ways_is_cheaper(
    phones: list[str], options: dict[str, list[tuple[int, tuple[str, ...]]]], known: frozenset[tuple[str, str]]
) -> None:
    def cost(row: Sequence[str]) -> int:
        """5 for a pair that one of the links mends, 100 for one that none does."""
        bad = [(a, b) for a, b in itertools.pairwise(row) if a != b and (a, b) not in known]
        mended = sum(any((a, link) in known and (link, b) in known for link in ("#", "b")) for a, b in bad)
        return 5 * mended + 100 * (len(bad) - mended)

    every = itertools.product(*(options[phone] for phone in phones))
    cheapest = min(sum(own for own, _ in row) + cost([name for _, way in row for name in way]) for row in every)
    found = fitted(phones, options, ("#", "b"), known)
    own = sum(min(c for c, way in options[phone] if way == taken) for phone, taken in zip(phones, found, strict=True))
    assert own + cost([name for way in found for name in way]) == cheapest


def test_ah_is_weak_where_it_bears_no_stress() -> None:
    seven, above, other = ("S", "EH", "V", "AH", "N"), ("AH", "B", "AH", "V"), ("B", "R", "AH", "DH", "ER")
    assert _spelt(seven, later=False) == (["S", "EH", "V", "AX", "N"], "s eh1 v ax0 n")
    assert _spelt(above, later=True) == (["AX", "B", "AH", "V"], "ax0 b ah1 v")
    assert _spelt(other, later=False) == (list(other), "b r ah1 dh er0")
    assert _spelt(("AH",), later=False)[0] == ["AX"]  # the article
    assert _spelt(("S",), later=False) == (["S"], "s")


def test_what_the_american_told_becomes_segments_with_times_of_their_own() -> None:
    rows = [["pau", "0.2", "0.1:120"], ["t", "0.1"], ["uw", "0.3", "0.35:110", "0.55:90"], ["pau", "0.2"]]
    told = _segments(rows, ["T", "UW"])
    assert [(phone, length) for phone, length, _ in told] == [("SIL", 0.2), ("T", 0.1), ("UW", 0.3), ("SIL", 0.2)]
    assert [len(pitches) for _, _, pitches in told] == [1, 0, 2, 0]
    assert np.allclose(told[2][2], [(0.05, 110), (0.25, 90)])
    assert _segments(rows, ["T"]) == []
    assert _segments(rows, ["T", "UW", "N"]) == []


SMALL = Voice("none", {"T": "t", "AY": "a i", "IY": "i;y", "S": "s|z"}, LINKS, 100)


def listed(text: str | None) -> list[tuple[str, float]]:
    """Names and seconds in what is given to festival."""
    assert text is not None and text.count("(") == text.count(")")
    return [(name, float(length)) for name, length in re.findall(r'\("([^"]+)" ([\d.]+) ', text)]


def test_two_sounds_share_the_seconds_of_one_and_a_link_is_short() -> None:
    segments = [("SIL", 0.2, ()), ("T", 0.1, ()), ("AY", 0.2, ((0.05, 105.0), (0.5, 105.0))), ("SIL", 0.3, ())]
    text = _rendered(segments, SMALL, pairs("# t a e i #"), Random(1))
    wanted = [("#", 0.2), ("t", 0.1), ("a", 0.12), ("e", 0.02), ("i", 0.08), ("#", 0.3)]
    assert [name for name, _ in listed(text)] == [name for name, _ in wanted]
    assert [length for _, length in listed(text)] == pytest.approx([length for _, length in wanted])
    points = [(float(at), float(hz)) for at, hz in re.findall(r"\((\d[\d.]*) ([\d.]+)\)", text or "")]
    assert [at for at, _ in points] == pytest.approx([0.05, 0.12])  # none after its sound
    assert all(85 <= hz <= 115 for _, hz in points)  # the American's middle is the speaker's


def test_one_sound_twice_is_a_long_one_unless_the_pair_is_there() -> None:
    segments = [("SIL", 0.2, ()), ("IY", 0.1, ()), ("IY", 0.2, ()), ("SIL", 0.2, ())]
    assert listed(_rendered(segments, SMALL, pairs("# i #"), Random(1)))[1:-1] == [("i", 0.3)]
    assert listed(_rendered(segments, SMALL, pairs("# i i #"), Random(1)))[1:-1] == [("i", 0.1), ("i", 0.2)]


def test_a_sentence_with_a_gap_is_not_said() -> None:
    segments = [("SIL", 0.2, ()), ("T", 0.1, ()), ("S", 0.2, ()), ("SIL", 0.2, ())]
    assert _rendered(segments, SMALL, pairs("# t", "s #", "z #"), Random(1)) is None


def test_an_accent_changes_the_order_of_ways_and_never_drops_one() -> None:
    seen = set()
    for seed in range(40):
        options = _options(SMALL, Random(seed))
        assert options["SIL"] == [(0, ("#",))]
        assert options["IY"] == [(0, ("i",)), (3, ("y",))]
        assert sorted(cost for cost, _ in options["S"]) == [0, 1]
        seen.add(tuple(way for _, way in options["S"]))
    assert seen == {(("s",), ("z",)), (("z",), ("s",))}


def test_sounds_of_a_file_of_diphones_are_halved_and_nothing_else(tmp_path: Path) -> None:
    head = b".snd" + (24).to_bytes(4, "big") + (4).to_bytes(4, "big") + (1).to_bytes(4, "big") + bytes(8)
    path = tmp_path / "a.group"
    path.write_bytes(b"# - a\x80\x00" + head + b"\x80\x00\xff\xaf" + b"\x80\x00 rest")
    # G.711: 80 is 32124 and 90 is 15996, 00 and 10 their negatives; ff and 7f are 0; af is 4092, be 2108 and bf 1980
    quiet = abroad._quieter(path, 0.5)
    assert quiet.startswith(b"# - a\x80\x00" + head + b"\x90\x10")
    assert quiet[-9] in (0xFF, 0x7F)
    assert quiet.endswith(b"\xbe\x80\x00 rest") and len(quiet) == len(path.read_bytes())


def test_a_file_of_diphones_names_its_pairs(tmp_path: Path) -> None:
    path = tmp_path / "a.group"
    path.write_bytes(b"EST_File index\nEST_Header_End\n#-a 0 100 200\na-t~ 200 310 400\nt-# 1 2\n\xff\x00-a 1 2 3 4\n")
    assert abroad.diphones(path) == {("#", "a"), ("a", "t~")}


@pytest.mark.parametrize(("voice", "wanted"), [("lp", ["five"]), ("pc", ["five"]), ("krb", ["hundred", "five"])])
def test_no_sentence_with_a_phone_the_language_lacks_is_said(
    voice: str, wanted: list[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    path = tmp_path / abroad.VOICES[voice].group
    path.parent.mkdir(parents=True)
    path.write_bytes(b"")
    told: list[str] = []
    monkeypatch.setattr(abroad, "FOLDER", tmp_path)
    monkeypatch.setattr(abroad, "_festival", lambda *_: "")
    monkeypatch.setattr(abroad, "_told", lambda sentences, _: [told.extend(words) or [] for _, words in sentences])
    assert "HH" in pronounce("hundred")[0]
    assert abroad.abroad_clips([["hundred"], ["five"]], Random(1), voice=voice) == []
    assert told == wanted


VOICES = abroad.have()
needs_a_voice = pytest.mark.skipif(not VOICES, reason="optional: needs festival and a voice of another language")


@needs_a_voice
@pytest.mark.parametrize("name", VOICES)
def test_each_english_phone_can_be_said_by_each_voice_that_is_here(name: str) -> None:
    voice = abroad.VOICES[name]
    known = abroad.diphones(min(abroad.FOLDER.glob(voice.group)))
    options = _options(voice, Random(1))
    for phone in ENGLISH:
        if voice.ways[phone]:
            row = [way for part in fitted(["SIL", phone, "AA", "SIL"], options, voice.links, known) for way in part]
            assert all(_link(a, b, voice.links, known) is not None for a, b in itertools.pairwise(row)), phone


@needs_a_voice
def test_a_voice_says_a_number() -> None:
    words = ["seven", "point", "two"]
    (clip,) = abroad.abroad_clips([words], Random(5), voice=VOICES[0])
    assert clip.text == "seven point two" and clip.voice == f"abroad {VOICES[0]}"
    assert any(clip.phones[:5] == way for way in pronounce("seven"))
    seconds, sound = len(clip.sound) / 16000, clip.sound.astype(float)
    assert 0.04 < seconds / len(clip.phones) < 0.4
    assert np.abs(sound).max() == pytest.approx(abroad.PEAK, abs=1)
    assert 1500 < np.sqrt(np.mean(sound**2)) < 12000
    assert np.mean(np.abs(sound) > 0.99 * abroad.PEAK) < 0.01  # not clipped
