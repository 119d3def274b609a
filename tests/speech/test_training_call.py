"""The one call that makes a net: which engines speak, that no test voice does, and one net a person left out."""

import argparse
from pathlib import Path

import pytest

pytest.importorskip("soxr", reason="optional: needs the extra train")

from speech.training import __main__ as recipe
from speech.training import batches, make, voices

OPTIONS = argparse.Namespace(
    people=Path("people"),
    out=Path("out"),
    share=1.0,
    seconds=850.0,
    seed=1,
    tune=None,
    rate=2e-3,
    branches=1,
    leave_out=[],
)


def engines(commands: list[list[str]]) -> list[str]:
    return [command[command.index("--engine") + 1] for command in commands]


def test_every_engine_that_is_there_speaks_and_stops_in_time(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        recipe, "there", lambda: dict.fromkeys(recipe.SENTENCES, True) | {"neural": False, "abroad": False}
    )
    made = recipe.speaking(OPTIONS, Path("clips"), 1000.0, 0)
    each = [engines(together) for together in made]
    assert each == [
        [one] for one in ["actors", "flite", "espeak", "festival", "digits-espeak", "digits-abroad", "digits"]
    ]
    assert set(recipe.SENTENCES) <= set(make.CHUNK)
    assert all("--until 1000" in " ".join(command) for together in made for command in together)


def test_accelerators_share_the_neural_sentences_and_none_is_made_twice(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(recipe, "there", lambda: dict.fromkeys(recipe.SENTENCES, True))
    (last,) = recipe.speaking(OPTIONS, Path("clips"), None, 4)
    assert engines(last)[-8:] == ["digits"] * 4 + ["neural"] * 4
    assert len(set(engines(last)[:-8])) == len(engines(last)) - 8
    for engine in recipe.NEURAL:
        own = [command for command in last if command[command.index("--engine") + 1] == engine]
        counts = [int(command[command.index("--count") + 1]) for command in own]
        first = [int(command[command.index("--seed") + 1]) for command in own]
        assert sum(counts) == recipe.SENTENCES[engine][0]
        chunks = [
            set(range(seed, seed + -(-count // make.CHUNK[engine]))) for seed, count in zip(first, counts, strict=True)
        ]
        assert len(set.union(*chunks)) == sum(len(one) for one in chunks)


def test_each_net_is_trained_once_and_that_of_everybody_has_an_accelerator_to_itself() -> None:
    nets = ["all", "lucas", "george", "jackson", "nicolas"]
    for cards in range(9):
        lanes = recipe.spread(nets, cards)
        assert sorted(net for one in lanes for net in one) == sorted(nets)
        assert len(lanes) == min(max(cards, 1), 5) and all(lanes)
        assert cards < 2 or lanes[0] == ["all"]


def test_a_net_whose_process_died_goes_on_from_what_was_written(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    ran: list[str] = []
    ends = iter([False, True, True])

    def run(command: list[str], out: Path, name: str, card: int) -> bool:
        ran.append(" ".join([f"{name} on {card}", *command[-4:]]))
        (out / "george").mkdir(exist_ok=True)
        (out / "george/net.pt").write_text("")
        return next(ends)

    monkeypatch.setattr(recipe, "run", run)
    options = argparse.Namespace(**{**vars(OPTIONS), "out": tmp_path, "stop_at": None, "minutes": 1.0})
    recipe.lane(options, Path("clips"), ["george", "lucas"], 2)
    assert [line.split()[:3] for line in ran] == [[f"train-{net}", "on", "2"] for net in ("george", "george", "lucas")]
    assert ["--go-on" in line for line in ran] == [False, True, False]


def test_a_person_left_out_has_a_net_of_a_folder_of_its_own() -> None:
    command = recipe.training(OPTIONS, Path("clips"), "george")
    assert command[command.index("--out") + 1] == "out/george"
    assert command[command.index("--leave-out") + 1] == "george"
    assert recipe.training(OPTIONS, Path("clips"), "all")[-1] == ""


def test_branches_hear_other_batches_and_begin_at_the_same_net() -> None:
    options = argparse.Namespace(
        **{**vars(OPTIONS), "branches": 3, "leave_out": ["lucas"], "tune": Path("speech/model")}
    )
    nets = recipe.names_of(options)
    assert nets == ["all", "all-2", "all-3", "lucas"]
    commands = [recipe.training(options, Path("clips"), net) for net in nets[:3]]
    assert len({command[command.index("--seed") + 1] for command in commands}) == 3
    assert {command[command.index("--tune") + 1] for command in commands} == {"speech/model"}
    assert {command[-1] for command in commands} == {""}
    last = recipe.averaging(options, Path("clips"))
    assert last[3:6] == ["out/all/net.pt", "out/all-2/net.pt", "out/all-3/net.pt"]


def test_no_voice_kept_for_measuring_is_trained_on() -> None:
    assert not any("ked" in voice for voice in voices.FESTIVAL)
    assert not any(kind == "piper" for kind in [*make.CHUNK, *batches.SHARES])
    assert set(batches.SHARES) == {*(engine.partition("-")[0] for engine in make.CHUNK), "human"}
    assert sum(batches.SHARES.values()) == pytest.approx(1.0)
