"""Every recording is heard as its page says; one that holds no reading gives nothing."""

from pathlib import Path

import pytest
import yaml

from speech.hearing import hear
from speech.recogniser import Recogniser
from speech.sound import read_wav

RECORDINGS = Path(__file__).parents[2] / "recordings"
PAGES = sorted(RECORDINGS.glob("*.yaml"))


@pytest.fixture(scope="module")
def recogniser() -> Recogniser:
    return Recogniser()


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.stem)
def test_what_was_said_is_heard(page: Path, recogniser: Recogniser) -> None:
    told = yaml.safe_load(page.read_text(encoding="utf-8"))
    sound = read_wav(page.with_suffix(".wav"))
    assert sound.rate_hz == told["rate_hz"]
    line = hear(sound, told["expect"], recogniser=recogniser)
    assert line.text == told["words"]
    assert line.value == (pytest.approx(told["value"]) if told["value"] is not None else None)


def test_every_recording_has_its_page_and_they_stay_small() -> None:
    sounds = sorted(RECORDINGS.glob("*.wav"))
    assert [s.stem for s in sounds] == [p.stem for p in PAGES]
    assert all({"who", "licence", "words"} <= set(yaml.safe_load(page.read_text())) for page in PAGES)
    assert sum(s.stat().st_size for s in sounds) < 20e6
