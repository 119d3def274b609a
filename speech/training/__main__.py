"""The recipe in one command: `python -m speech.training --people DIR --out DIR`.

Speaks the sentences with every engine that is there, trains for the time given, and writes am/ and conf/ under
OUT; copy them over speech/model. Needs the extra `train` and, for what shipped, flite and an
accelerator. Sentences, voices and batches follow from the seeds; the last digits of a net do not, as the
accelerator adds in no fixed order and the number of steps is what fits the time.
"""

import argparse
import subprocess
import sys
from pathlib import Path

from speech.training import neural, voices

SHIPPED = {"flite": (10080, 3000), "espeak": (20000, 3000), "neural": (5650, 3000)}
"""Sentences of each engine in the model that ships, and the seed of the first chunk."""


def commands(options: argparse.Namespace) -> list[list[str]]:
    """What is run, one after the other."""
    there = {
        "espeak": True,
        "flite": voices.have_flite(),
        "neural": neural.available(),
    }
    clips = str(options.out / "clips")
    made = []
    for engine, (count, seed) in SHIPPED.items():
        if not there[engine]:
            print(f"left out: {engine} is not on this machine", file=sys.stderr)
            continue
        how = f"--out {clips} --engine {engine} --count {int(count * options.share)} --seed {seed}".split()
        made.append([sys.executable, "-m", "speech.training.make", *how])
    parts = ("--clips", clips, "--people", str(options.people), "--out", str(options.out))
    train = [sys.executable, "-m", "speech.training.train", *parts, "--minutes", str(options.minutes)]
    train += ["--seconds", "850", "--rate", "2.5e-3", "--seed", str(options.seed), "--leave-out", options.leave_out]
    return [*made, train]


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m speech.training", description=__doc__)
    parser.add_argument("--people", type=Path, required=True, help="digits folder of the Free Spoken Digit Dataset")
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--minutes", type=float, default=22.75)
    parser.add_argument("--leave-out", default="", help="a person never to train on")
    parser.add_argument("--share", type=float, default=1.0, help="of the sentences, for a quick try")
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    for command in commands(options):
        print(" ".join(command), file=sys.stderr)
        subprocess.run(command, check=True)


if __name__ == "__main__":
    main()
