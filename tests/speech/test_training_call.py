"""The one call that makes a net: which engines speak, that no test voice does, and one net a person left out."""

import argparse
from pathlib import Path

import pytest

pytest.importorskip("soxr", reason="optional: needs the extra train")

from speech.training import __main__ as recipe
from speech.training import batches, make, voices

OPTIONS = argparse.Namespace(people=Path("people"), out=Path("out"), share=1.0, seconds=850.0, seed=1)


def test_every_engine_that_is_there_speaks_and_stops_in_time(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(recipe, "there", lambda: dict.fromkeys(recipe.SENTENCES, True) | {"neural": False})
    made = recipe.speaking(OPTIONS, Path("clips"), 1000.0)
    engines = [command[command.index("--engine") + 1] for command in made]
    assert engines == ["flite", "espeak", "festival", "digits"]
    assert set(engines) <= set(make.CHUNK)
    assert all(command[-2:] == ["--until", "1000"] for command in made)


def test_a_person_left_out_has_a_net_of_a_folder_of_its_own() -> None:
    command = recipe.training(OPTIONS, Path("clips"), "george")
    assert command[command.index("--out") + 1] == "out/george"
    assert command[command.index("--leave-out") + 1] == "george"
    assert recipe.training(OPTIONS, Path("clips"), "")[-1] == ""


def test_no_voice_kept_for_measuring_is_trained_on() -> None:
    assert not any("ked" in voice for voice in voices.FESTIVAL)
    assert not any(kind == "piper" for kind in [*make.CHUNK, *batches.SHARES])
    assert set(batches.SHARES) == {*make.CHUNK, "human"}
    assert sum(batches.SHARES.values()) == pytest.approx(1.0)
