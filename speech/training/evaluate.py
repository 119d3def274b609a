"""Measures the reading model: `python -m speech.training.evaluate [--people DIR] [--left NAME=MODEL] [--quick]`.

Prints the tables of speech/model/MODEL_CARD.md: each set and voice at each noise level, each kind of noise, forms of
saying a reading, what is refused, calibration, and PocketSphinx with the same grammar on the same clips. Draws the plots.
Exact is the share heard word for word; another spelling of the same thing counts as right (nine and niner, zero and oh).
"""

import argparse
import json
import sys
from collections.abc import Iterator, Sequence
from dataclasses import asdict
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from speech.graph import MODEL
from speech.training import report
from speech.training.hearers import Hearer, Ours, Sphinx
from speech.training.noises import KINDS, RATE_HZ, with_noise, with_silence
from speech.training.report import LEVELS_DB, Outcome
from speech.training.testsets import Set, Sets, lacking

RIVAL_CALLS = 6
"""Call-outs of a set that PocketSphinx hears; it takes up to ten times real time in this grammar."""


def conditions(number: int, *, whole: bool) -> Iterator[tuple[float | None, str, bool]]:
    """Level, noise and whether the noise is this clip's own, for the clip of this number in its set.

    Each clip meets two of the six noises at each level, so that all are met by clips of like number.
    """
    own, other = KINDS[number % len(KINDS)], KINDS[(number + 3) % len(KINDS)]
    yield None, "", True
    for level in LEVELS_DB[1:] if whole else (10.0,):
        yield level, own, True
        if whole:
            yield level, other, False


def measure(calls: Set, hearers: Sequence[Hearer], rivals: Sequence[Hearer] = ()) -> Iterator[Outcome]:
    """The hearers on every clip, the rivals on some clips in their own noise; noise depends on the clip alone."""
    some = set(np.linspace(0, len(calls.calls) - 1, RIVAL_CALLS).astype(int)) if calls.whole else set()
    for number, call in enumerate(calls.calls):
        for level, kind, own in conditions(number, whole=calls.whole):
            rng = np.random.default_rng([7, number, int(level or 0), KINDS.index(kind) if kind else 0])
            sound = with_noise(with_silence(call.sound), level, kind, rng)
            beside = own and number in some
            for hearer in (*hearers, *rivals) if beside else hearers:
                heard = hearer.hear(sound, calls.kind)
                yield Outcome(
                    *(hearer.name, calls.part, calls.name, calls.kind, call.who, level, kind, beside, call.words),
                    *(heard.words, heard.confidence, heard.took_s, len(sound) / RATE_HZ),
                )


def run(options: argparse.Namespace, cache: Path) -> list[Outcome]:
    sets = Sets(options.keep, count=8 if options.quick else options.count, folder=options.people, only=options.sets)
    ours = Ours(options.model, cache=cache)
    rivals: list[Hearer] = [] if options.alone else [Sphinx()]
    outcomes: list[Outcome] = []

    def take(one: Set, hearer: Hearer) -> None:
        if not one.calls:
            return
        print(f"{one.part} {one.name}: {len(one.calls)}", file=sys.stderr, flush=True)
        outcomes.extend(measure(one, [] if options.rival else [hearer], rivals if one.whole else ()))

    if "test" in options.parts:
        for given in options.left:
            speaker, _, model = given.partition("=")
            take(sets.left_out(speaker), Ours(Path(model), cache=cache))
        for one in sets.test():
            take(one, ours)
        for one in sets.rejection():
            take(one, ours)
    for part, made in (("development", sets.development), ("trained", sets.trained)):
        if part in options.parts:
            for one in made():
                take(one, ours)
    return outcomes


def written(outcomes: Sequence[Outcome]) -> str:
    """The whole report."""
    ours = [one for one in outcomes if one.hearer == "ours"]
    tested = [one for one in ours if one.part == "test"]
    parts = [
        ("Against what was asked for", report.against_targets(ours)),
        ("Exact by voice and level, percent", report.by_level(ours)),
        (
            "Exact by noise, percent",
            report.by_noise([one for one in tested if one.name in report.whole(tested)], KINDS),
        ),
        ("Beside PocketSphinx: same clips, grammar and lexicon", report.beside(outcomes)),
        ("Rejection", report.rejection(ours)),
        ("People", report.people_heard(ours)),
        ("Calibration", report.calibration(ours)),
        ("Speed", f"{np.sum([o.took_s for o in ours]) / np.sum([o.sound_s for o in ours]):.4f} of real time, one core"),
    ]
    return "\n\n".join(f"## {title}\n{text}" for title, text in parts)


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m speech.training.evaluate", description=__doc__)
    parser.add_argument("--model", type=Path, default=MODEL)
    parser.add_argument("--people", type=Path, help="digits folder of the Free Spoken Digit Dataset")
    parser.add_argument("--left", action="append", default=[], help="lucas=DIR: a model trained without that person")
    parser.add_argument("--parts", nargs="+", default=["test", "development", "trained"])
    parser.add_argument("--sets", nargs="*", default=[], help="only sets whose name begins so")
    parser.add_argument("--count", type=int, default=24, help="call-outs of a voice in a set, about")
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--alone", action="store_true", help="without PocketSphinx")
    parser.add_argument("--rival", action="store_true", help="PocketSphinx alone, on the clips that it hears")
    parser.add_argument("--merge", type=Path, nargs="+", help="files of --json, measured side by side, told as one run")
    parser.add_argument("--keep", type=Path, help="folder to keep the sets in, so that they are not made again")
    parser.add_argument("--pictures", type=Path, default=Path(".pictures"))
    parser.add_argument("--json", type=Path, help="write every outcome there, a line each")
    options = parser.parse_args()
    if absent := lacking(options.people):
        print("left out, not on this machine: " + ", ".join(absent))
    if options.merge:
        outcomes = [Outcome(**json.loads(line)) for path in options.merge for line in path.read_text().splitlines()]
    else:
        with TemporaryDirectory() as cache:
            outcomes = run(options, Path(cache))
    print(written(outcomes))
    if options.json:
        options.json.write_text("".join(json.dumps(asdict(one)) + "\n" for one in outcomes))
    from speech.training.plots import draw

    print("\ndrawn: " + ", ".join(str(path) for path in draw(outcomes, options.pictures)))


if __name__ == "__main__":
    main()
