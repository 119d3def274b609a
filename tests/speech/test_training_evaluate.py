"""Who hears which clip of a measurement, and that parts measured side by side are told as one run."""

import json
import sys
from dataclasses import asdict
from pathlib import Path

import numpy as np
import pytest

pytest.importorskip("soxr", reason="optional: needs the extra train")

from speech.ports import ListeningKind
from speech.training import evaluate
from speech.training.hearers import Answer
from speech.training.people import Said
from speech.training.testsets import Set


class Writes:
    """A hearer that understands everything and keeps what it was given."""

    def __init__(self, name: str) -> None:
        self.name, self.given = name, list[bytes]()

    def hear(self, sound: np.ndarray, kind: ListeningKind) -> Answer:
        self.given.append(sound.tobytes())
        return Answer("five volts", 1.0, 0.1)


def a_set(*, whole: bool) -> Set:
    tone = (3000 * np.sin(np.arange(8000) / 8)).astype(np.int16)
    calls = tuple(Said("somebody", "five volts", np.roll(tone, turn)) for turn in range(20))
    return Set("readings", "reading", "test", calls, whole=whole)


def test_rivals_hear_some_clips_and_the_very_same_sound() -> None:
    ours, rival = Writes("ours"), Writes("rival")
    outcomes = list(evaluate.measure(a_set(whole=True), [ours], [rival]))
    assert {one.hearer: one.beside for one in outcomes if not one.beside} == {"ours": False}
    both = [sum(one.hearer == name and one.beside for one in outcomes) for name in ("ours", "rival")]
    assert both[0] == both[1] == len(rival.given) < len(ours.given)
    assert set(rival.given) < set(ours.given)


def test_rivals_alone_hear_what_they_hear_beside_us() -> None:
    beside, alone = Writes("rival"), Writes("rival")
    list(evaluate.measure(a_set(whole=True), [Writes("ours")], [beside]))
    assert len(list(evaluate.measure(a_set(whole=True), [], [alone]))) == len(alone.given)
    assert alone.given == beside.given


def test_parts_measured_side_by_side_are_told_as_one_run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    outcomes = list(evaluate.measure(a_set(whole=True), [Writes("ours")], [Writes("PocketSphinx")]))
    files = [tmp_path / "one.json", tmp_path / "two.json"]
    for path, part in zip(files, (outcomes[::2], outcomes[1::2]), strict=True):
        path.write_text("".join(json.dumps(asdict(one)) + "\n" for one in part))
    monkeypatch.setattr(sys, "argv", ["evaluate", "--merge", *map(str, files), "--pictures", str(tmp_path)])
    evaluate.main()
    told = capsys.readouterr().out
    heads = ("Against what was asked for", "Beside PocketSphinx", "Calibration")
    assert all(head in told for head in heads)
    assert "| test | readings | somebody | 20 | 100 | 100 | 100 | 100 | 100 |" in told
