"""Settings of the decoder against each other, on development clips only: `python -m speech.training.sweep --keep DIR ...`.

A setting is `name:key=value,key=value`; keys are costs of the filler (entry, phone), lines of model.conf
(beam, lattice-beam, max-active, acoustic-scale), `word`, a cost added to each word, `graph`, a factor on every cost of the
grammar, `no_unit`, the cost of ending without a unit, `sharpness` of the confidence, and `guess`, under which a reading is
refused. Without any, what ships is measured.
"""

import argparse
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from speech import recogniser
from speech.grammar import NO_UNIT_COST, grammar_for
from speech.graph import FILLER_COST, FILLER_ENTRY, MODEL, WordGraph, write_model_folder
from speech.ports import Heard, ListeningKind
from speech.recogniser import FILLERS, Recogniser
from speech.sound import Sound
from speech.training import noises, rejecting
from speech.training.rejecting import RATE_HZ, Group
from speech.training.report import Outcome, calibration_error, markdown

BANK = 1  # of noise; the test's is 0
LEVELS = (None, 10.0, 5.0)
LEAST_DB = 10.0  # refusals count at this level and better


@dataclass(frozen=True)
class Setting:
    """A name and what is changed."""

    name: str
    changes: Mapping[str, float]

    @classmethod
    def parse(cls, text: str) -> "Setting":
        name, _, rest = text.partition(":")
        return cls(
            name, {key: float(value) for key, _, value in (one.partition("=") for one in rest.split(",") if one)}
        )


def changed(graph: WordGraph, *, word: float = 0.0, factor: float = 1.0, no_unit: float | None = None) -> WordGraph:
    """The same sentences at other costs."""
    arcs = tuple((s, t, w, factor * c + (word if w else 0.0)) for s, t, w, c in graph.arcs)
    ends = {s: (no_unit if no_unit is not None and c == NO_UNIT_COST else factor * c) for s, c in graph.finals.items()}
    return WordGraph(arcs, ends)


def folder_of(setting: Setting, kind: ListeningKind, cache: Path, *, model: Path = MODEL) -> Path:
    """A folder for a kind under these settings, with the network of a model."""
    changes = setting.changes
    graph = changed(
        grammar_for(kind),
        word=changes.get("word", 0.0),
        factor=changes.get("graph", 1.0),
        no_unit=changes.get("no_unit"),
    )
    entry, phone = FILLERS.get(kind, (FILLER_ENTRY, FILLER_COST))
    entry, phone = changes.get("entry", entry), changes.get("phone", phone)
    target = cache / f"{setting.name} {kind}"
    folder = write_model_folder(target, graph, model=model, filler_cost=phone, filler_entry=entry)
    conf = (model / "conf/model.conf").read_text(encoding="ascii").splitlines()
    lines = [next((f"--{k}={v:g}" for k, v in changes.items() if one.startswith(f"--{k}=")), one) for one in conf]
    (folder / "conf/model.conf").unlink()
    (folder / "conf/model.conf").write_text("\n".join(lines) + "\n", encoding="ascii")
    return folder


def heard(group: Group, ears: Recogniser) -> list[Outcome]:
    """Every clip of a group at its levels, each in a noise of its own turn."""
    found = []
    for number, call in enumerate(group.calls):
        for level in LEVELS if group.true else LEVELS[:2]:
            kind = noises.KINDS[(number + int(level or 0)) % len(noises.KINDS)] if level else ""
            rng = np.random.default_rng([11, number, int(level or 0)])
            sound = noises.with_noise(noises.with_silence(call.sound), level, kind, rng, bank=BANK)
            result = ears.decode(Sound(sound, RATE_HZ), group.kind)
            words, sure = (result.words, result.confidence) if isinstance(result, Heard) else ("", 0.0)
            who = f"{call.who}, {group.name}"
            found.append(
                Outcome(
                    "ours", "development", "", group.kind, who, level, kind, False, call.words, words, sure, 0.0, 0.0
                )
            )
    return found


def line_of(setting: Setting, outcomes: Sequence[Outcome]) -> list[str]:
    """Percent exact at each level, percent refused, values from what is no call-out, calibration error."""
    true = [one for one in outcomes if one.said]
    false = [one for one in outcomes if not one.said]
    refusable = [one for one in true if one.level_db is None or one.level_db >= LEAST_DB]
    exact = [np.mean([one.right for one in true if one.level_db == level]) for level in LEVELS]
    return [
        setting.name,
        *(f"{100 * share:.1f}" for share in exact),
        f"{100 * np.mean([not one.heard for one in refusable]):.1f}",
        f"{sum(one.value for one in false)} of {len(false)}",
        f"{calibration_error(outcomes):.3f}",
    ]


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m speech.training.sweep", description=__doc__)
    parser.add_argument("settings", nargs="*", default=["as shipped:"])
    parser.add_argument("--keep", type=Path, required=True, help="folder the clips are kept in")
    parser.add_argument("--model", type=Path, default=MODEL, help="folder with another network")
    parser.add_argument("--people", type=Path, help="digits folder of the Free Spoken Digit Dataset")
    parser.add_argument("--abroad", type=Path, nargs="*", default=[], help="folders of sentences in other languages")
    parser.add_argument("--groups", nargs="*", default=[], help="only groups whose name begins so")
    parser.add_argument("--every", type=int, default=1, help="only every so manieth clip")
    parser.add_argument("--json", type=Path, help="add every outcome to this file, a line each")
    options = parser.parse_args()
    made = rejecting.groups(options.keep, folder=options.people, abroad=options.abroad, only=options.groups)
    groups = [replace(group, calls=group.calls[:: options.every]) for group in made]
    rows = []
    for setting in map(Setting.parse, options.settings):
        recogniser.SHARPNESS = setting.changes.get("sharpness", recogniser.SHARPNESS)
        if "guess" in setting.changes:
            recogniser.GUESSED = {**recogniser.GUESSED, "reading": setting.changes["guess"]}
        with TemporaryDirectory() as cache:
            ears = Recogniser()
            for kind in {group.kind for group in groups}:
                ears._loaded[kind] = ears._vosk.Model(str(folder_of(setting, kind, Path(cache), model=options.model)))
            outcomes = [one for group in groups for one in heard(group, ears)]
        rows.append(line_of(setting, outcomes))
        if options.json:
            with options.json.open("a", encoding="utf-8") as file:
                file.writelines(json.dumps({"setting": setting.name, **asdict(one)}) + "\n" for one in outcomes)
        print(rows[-1], flush=True)
    head = [
        "setting",
        "clean",
        "10 dB",
        "5 dB",
        "refused, 10 dB and better",
        "values from no call-out",
        "calibration error",
    ]
    print(markdown(head, rows))


if __name__ == "__main__":
    main()
