"""One net out of several that learned on from the same: `python -m speech.training.average NET.pt NET.pt --clips DIR ...`.

Nets that begin at the same weights and hear other batches end in the same valley; the mean of their weights lies lower
in it than each (Wortsman and others, "Model soups", 2022). The norms' mean and spread are of no net's activations then,
so they are taken anew from batches.
"""

import argparse
from collections.abc import Sequence
from pathlib import Path

import torch

from speech.lexicon import PHONES
from speech.training.network import Net
from speech.training.train import Ahead, Hearing, batches_of, save


def mean(states: Sequence[dict[str, torch.Tensor]]) -> dict[str, torch.Tensor]:
    """The mean of each weight; what only counts is taken from the first."""
    first = states[0]
    return {
        name: torch.stack([state[name].float() for state in states]).mean(0) if value.is_floating_point() else value
        for name, value in first.items()
    }


@torch.no_grad()
def settle_norms(net: Net, hearing: Hearing, batches: int) -> None:
    """Mean and spread of each norm from so many batches, as they are when the net is in use (without dropout)."""
    net.eval()
    norms = [part for part in net.modules() if isinstance(part, torch.nn.BatchNorm1d)]
    for norm in norms:
        norm.reset_running_stats()
        norm.momentum = None  # the plain mean of all batches
        norm.train()
    for _ in range(batches):
        net.both(hearing.next().features)
    net.eval()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("nets", type=Path, nargs="+", help="net.pt of each")
    parser.add_argument("--clips", type=Path, required=True)
    parser.add_argument("--people", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--batches", type=int, default=40)
    parser.add_argument("--seconds", type=float, default=1000.0, help="sound in a batch")
    parser.add_argument("--seed", type=int, default=99)
    parser.add_argument("--leave-out", default="", help="a person the nets were not trained on")
    parser.add_argument("--device", default="cuda" if torch.cuda.is_available() else "cpu")
    options = parser.parse_args()
    device = torch.device(options.device)
    net = Net(len(PHONES)).to(device)
    net.load_state_dict(mean([torch.load(path, map_location=device)["net"] for path in options.nets]))
    hearing = Hearing(Ahead(batches_of(options, options.seed), options), device)
    settle_norms(net, hearing, options.batches)
    save(net, options.out, {"mean of": [str(path) for path in options.nets]})
    hearing.ahead.close()


if __name__ == "__main__":
    main()
