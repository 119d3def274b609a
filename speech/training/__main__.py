"""The recipe in one command: `python -m speech.training --people DIR --out DIR [--leave-out NAME ...]`.

Speaks the sentences with every engine that is there, then trains a net on everybody and one without each person left
out; with --branches several of everybody and the mean of them. With several accelerators each speaks a share of the neural sentences, and the nets are spread over them, never two
on one at a time. Writes am/ and conf/ under OUT/all and OUT/NAME, and OUT/logs; copy am/ and conf/ of OUT/all over
speech/model. Needs the extra `train`; engines that are not on the machine are left out and named. Sentences, voices and
batches follow from the seeds; noise and the last digits of a net do not, as threads and accelerators go in no fixed
order and the number of steps is what fits the time.

--stop-at ends the whole at a clock time: neural sentences end after a share of what is left, the nets share the rest,
and whatever stands then is written. A call that is begun again with the same OUT makes no clip twice.
"""

import argparse
import os
import subprocess
import sys
import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import torch

from speech.training import abroad, actors, neural, voices

SENTENCES = {
    "actors": (8400, 0),
    "flite": (10080, 3000),
    "espeak": (30000, 3000),
    "festival": (8040, 3000),
    "abroad": (9480, 800000),
    "digits-espeak": (6400, 7000),
    "digits-abroad": (2400, 810000),
    "digits": (24000, 60000),
    "neural": (40000, 760000),
}
"""Sentences of each engine, and the seed of the first chunk. What is not made in time is left out."""
NEURAL = {"digits": 4, "neural": 9}
"""Engines that want an accelerator, and how many processes keep it busy."""
SPEAKING = 0.2
"""Share of the time until --stop-at that the neural voice may take."""
ALL = "all"


def there() -> dict[str, bool]:
    """Which engines this machine has."""
    found = dict.fromkeys(SENTENCES, True) | {"flite": voices.have_flite(), "festival": voices.have_festival()}
    return (
        found
        | {"actors": actors.have()}
        | dict.fromkeys(("abroad", "digits-abroad"), bool(abroad.have()))
        | dict.fromkeys(NEURAL, neural.available())
    )


def speaking(options: argparse.Namespace, clips: Path, until: float | None, cards: int) -> list[list[list[str]]]:
    """What makes the clips: groups of commands that run at once, one group after the other.

    With accelerators all run at once, each its share of the neural voice; without, every command takes all cores.
    """
    quick, slow = list[list[str]](), list[list[str]]()
    for engine, (count, seed) in SENTENCES.items():
        if not there()[engine]:
            print(f"left out: {engine} is not on this machine", file=sys.stderr)
            continue
        shares = max(1, cards) if engine in NEURAL else 1
        for share in range(shares):
            first = seed + share * 10000
            how = (
                f"--out {clips} --engine {engine} --count {max(1, int(count * options.share / shares))} --seed {first}"
            )
            how += f" --until {until:.0f}" if until else ""
            how += f" --processes {NEURAL[engine]}" if engine in NEURAL and cards else ""
            command = [sys.executable, "-m", "speech.training.make", *how.split()]
            (slow if engine in NEURAL else quick).append(command)
    return [[*quick, *slow]] if cards else [[one] for one in (*quick, *slow)]


def names_of(options: argparse.Namespace) -> list[str]:
    """The nets to train: all, all-2 ... for each branch, and a net's name is the person it never hears."""
    return [ALL, *(f"{ALL}-{k}" for k in range(2, options.branches + 1)), *options.leave_out]


def training(options: argparse.Namespace, clips: Path, net: str) -> list[str]:
    """What trains one net."""
    parts = ["--clips", str(clips), "--people", str(options.people), "--out", str(options.out / net)]
    command = [sys.executable, "-m", "speech.training.train", *parts, "--seconds", str(options.seconds)]
    everybody, _, branch = net.partition("-")
    seed = options.seed + 100 * (int(branch or 1) - 1 if everybody == ALL else 0)
    command += ["--tune", str(options.tune)] if options.tune else []
    left_out = "" if everybody == ALL else net
    return [*command, "--rate", str(options.rate), "--seed", str(seed), "--leave-out", left_out]


def averaging(options: argparse.Namespace, clips: Path) -> list[str]:
    """What makes one net of the branches, in OUT/mean."""
    nets = [str(options.out / name / "net.pt") for name in names_of(options)[: options.branches]]
    parts = ["--clips", str(clips), "--people", str(options.people), "--out", str(options.out / "mean")]
    return [sys.executable, "-m", "speech.training.average", *nets, *parts, "--seconds", str(options.seconds)]


def spread(nets: Sequence[str], cards: int) -> list[list[str]]:
    """Which nets each accelerator trains, one after the other; the net of everybody has one to itself where it can."""
    lanes: list[list[str]] = [[] for _ in range(max(1, min(cards, len(nets))))]
    for turn, net in enumerate(nets):
        lanes[turn if turn < len(lanes) else len(lanes) - 1 - (turn - len(lanes)) % max(1, len(lanes) - 1)].append(net)
    return lanes


def lane(options: argparse.Namespace, clips: Path, nets: Sequence[str], card: int) -> None:
    """Trains nets one after the other; one whose process dies goes on from what it had written, once."""
    for number, net in enumerate(nets):
        end = time.time() + (
            (options.stop_at - time.time()) / (len(nets) - number) if options.stop_at else 60 * options.minutes
        )
        command = training(options, clips, net)
        for more in ([], ["--go-on", str(options.out / net / "net.pt")]):
            if more and not Path(more[1]).exists():
                more = []
            minutes = f"{max(0.1, (end - time.time()) / 60):.3f}"
            if run([*command, *more, "--minutes", minutes], options.out, f"train-{net}", card):
                break


def run(command: Sequence[str], out: Path, name: str, card: int) -> bool:
    """Runs a command with its output in a log, on one accelerator; whether it went well."""
    print(" ".join(command), file=sys.stderr, flush=True)
    (out / "logs").mkdir(parents=True, exist_ok=True)
    began = time.time()
    with open(out / "logs" / f"{name}.log", "a") as log:
        env = {**os.environ, "CUDA_VISIBLE_DEVICES": str(card)} if card >= 0 else None
        code = subprocess.run(command, stdout=log, stderr=log, env=env, check=False).returncode
    print(f"{name}: took {time.time() - began:.0f} s, ended with {code}", file=sys.stderr, flush=True)
    return code == 0


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
    parser.add_argument("--tune", type=Path, help="model folder whose finished net learns on, instead of a new one")
    parser.add_argument(
        "--branches", type=int, default=1, help="nets of everybody with other batches; OUT/mean of them"
    )
    parser.add_argument("--rate", type=float, default=2e-3, help="highest learning rate; 1e-3 when a net learns on")
    parser.add_argument("--share", type=float, default=1.0, help="of the sentences, for a quick try; 0 makes none")
    parser.add_argument("--seconds", type=float, default=1000.0, help="sound in a batch")
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    clips = options.clips or options.out / "clips"
    cards = torch.cuda.device_count()
    until = time.time() + (options.stop_at - time.time()) * SPEAKING if options.stop_at else None
    for together in speaking(options, clips, until, cards) if options.share > 0 else []:
        with ThreadPoolExecutor(len(together)) as pool:
            for turn, command in enumerate(together):
                engine = command[command.index("--engine") + 1]
                card = sum(other[other.index("--engine") + 1] == engine for other in together[:turn])
                pool.submit(run, command, options.out, f"make-{engine}", card if cards else -1)
    lanes = spread(names_of(options), cards)
    with ThreadPoolExecutor(len(lanes)) as pool:
        for card, nets in enumerate(lanes):
            pool.submit(lane, options, clips, nets, card if cards else -1)
    if options.branches > 1:
        run(averaging(options, clips), options.out, "mean", 0 if cards else -1)


if __name__ == "__main__":
    main()
