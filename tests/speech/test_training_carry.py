"""What goes to an accelerator machine: folders that hold everything once and keep to their size, and clips that come back."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from speech.training.carry import heard_again, shared_out, sounds


@given(st.lists(st.integers(1, 60), max_size=30), st.integers(1, 80))
def test_everything_is_carried_once_and_no_folder_is_too_large(sizes: list[int], most: int) -> None:
    files = [(f"file {number}", size) for number, size in enumerate(sizes)]
    groups = shared_out(files, most)
    assert sorted(name for group in groups for name in group) == sorted(name for name, _ in files)
    known = dict(files)
    for group in groups:
        assert sum(known[name] for name in group) <= most or len(group) == 1


def test_what_opens_the_clips_goes_with_the_first_folder() -> None:
    files = [("engines.tar.xz", 25), ("soundfile-1.whl", 1), ("clips.tar", 30), ("cffi-2.whl", 1)]
    first, *_ = shared_out(files, 44)
    assert {"soundfile-1.whl", "cffi-2.whl"} <= set(first)


def test_clips_sound_the_same_after_the_journey(tmp_path: Path) -> None:
    pytest.importorskip("soundfile", reason="optional: needs the extra train")
    pytest.importorskip("soxr", reason="optional: needs the extra train")
    from speech.training.voices import Clip, load, save

    time = np.arange(24000) / 16000
    tones = [np.round(8000 * np.sin(2 * np.pi * hz * time)).astype(np.int16) for hz in (200, 330)]
    clips = [Clip(tone, ("N", "AY", "N"), "nine", f"voice {number}") for number, tone in enumerate(tones)]
    for folder in ("made", "packed", "there"):
        (tmp_path / folder).mkdir()
    save(clips, tmp_path / "made/abroad-7")
    sounds(tmp_path / "made", tmp_path / "packed")
    (packed,) = (tmp_path / "packed").iterdir()
    heard_again(packed, tmp_path / "there")
    back = load(tmp_path / "there/abroad-7")
    assert [(c.phones, c.text, c.voice, len(c.sound)) for c in back] == [
        (c.phones, c.text, c.voice, len(c.sound)) for c in clips
    ]
    for one, other in zip(clips, back, strict=True):
        assert np.corrcoef(one.sound, other.sound)[0, 1] > 0.99
    assert packed.stat().st_size < 0.25 * 2 * sum(len(clip.sound) for clip in clips)
