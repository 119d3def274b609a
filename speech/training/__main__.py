"""The recipe in one command: `python -m speech.training --people DIR --out DIR [--leave-out NAME ...]`.

Speaks the sentences with every engine that is there, then trains a net on everybody and one without each person left
out, one after the other, each for the time given. Writes am/ and conf/ under OUT/all and OUT/NAME; copy those of
OUT/all over speech/model. Needs the extra `train`; the engines that trained the shipped net were espeak-ng, flite and
the neural one. Engines that are not on the machine are left out and named. Sentences, voices and batches follow from the seeds; the last digits of
a net do not, as the accelerator adds in no fixed order and the number of steps is what fits the time.

--stop-at ends the whole at a clock time: sentences get a third of what is left, the nets share the rest, and whatever
stands then is written. A call that is begun again with the same OUT makes no clip twice.
"""

import argparse
import subprocess
import sys
import time
from pathlib import Path

from speech.training import neural, voices

SENTENCES = {
    "flite": (10080, 3000),
    "espeak": (30000, 3000),
    "festival": (8040, 3000),
    "digits": (10000, 3000),
    "neural": (40000, 3000),
}
"""Sentences of each engine, and the seed of the first chunk; quick ones first. What is not made in time is left out."""
ALL = "all"


def there() -> dict[str, bool]:
    """Which engines this machine has."""
    found = neural.available()
    return {
        "flite": voices.have_flite(),
        "espeak": True,
        "festival": voices.have_festival(),
        "digits": found,
        "neural": found,
    }


def speaking(options: argparse.Namespace, clips: Path, until: float | None) -> list[list[str]]:
    """What makes the clips, one command an engine."""
    made = []
    for engine, (count, seed) in SENTENCES.items():
        if not there()[engine]:
            print(f"left out: {engine} is not on this machine", file=sys.stderr)
            continue
        how = f"--out {clips} --engine {engine} --count {max(1, int(count * options.share))} --seed {seed}".split()
        how += ["--until", f"{until:.0f}"] if until else []
        made.append([sys.executable, "-m", "speech.training.make", *how])
    return made


def training(options: argparse.Namespace, clips: Path, left_out: str) -> list[str]:
    """What trains one net."""
    parts = ["--clips", str(clips), "--people", str(options.people), "--out", str(options.out / (left_out or ALL))]
    command = [sys.executable, "-m", "speech.training.train", *parts, "--seconds", str(options.seconds)]
    return [*command, "--rate", "2.5e-3", "--seed", str(options.seed), "--leave-out", left_out]


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m speech.training", description=__doc__)
    parser.add_argument("--people", type=Path, required=True, help="digits folder of the Free Spoken Digit Dataset")
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument(
        "--clips", type=Path, help="folder of clips, made before or elsewhere; OUT/clips when not given"
    )
    parser.add_argument("--minutes", type=float, default=22.75, help="of each net")
    parser.add_argument("--stop-at", type=float, help="clock time to end at [s since the epoch]; overrules --minutes")
    parser.add_argument("--leave-out", nargs="*", default=[], help="people, each with a net never trained on them")
    parser.add_argument("--share", type=float, default=1.0, help="of the sentences, for a quick try; 0 makes none")
    parser.add_argument("--seconds", type=float, default=850.0, help="sound in a batch")
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    clips = options.clips or options.out / "clips"
    until = time.time() + (options.stop_at - time.time()) / 3 if options.stop_at else None
    for command in speaking(options, clips, until) if options.share > 0 else []:
        run(command)
    nets = ["", *options.leave_out]
    for number, left_out in enumerate(nets):
        left_s = (options.stop_at - time.time()) / (len(nets) - number) if options.stop_at else 60 * options.minutes
        run([*training(options, clips, left_out), "--minutes", f"{left_s / 60:.3f}"])


def run(command: list[str]) -> None:
    print(" ".join(command), file=sys.stderr, flush=True)
    began = time.time()
    subprocess.run(command, check=True)
    print(f"took {time.time() - began:.0f} s", file=sys.stderr, flush=True)


if __name__ == "__main__":
    main()
