"""How much solving many engines at once saves over one after the other: `python -m flows.trial.speed`.

Both ways solve the same engines with the same faults in the same states, in one process, one right after the other, so
that what else the machine does meets both. What they read is compared; the sizes of faults are worked out before, and
nothing that was solved is kept.
"""

import argparse
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import islice, product

import numpy as np

from flows.circuits import CIRCUITS
from flows.network.alike import states_of
from flows.network.crowd import Crowd
from flows.network.described import DescribedCircuit
from flows.source import load_sheet
from flows.trial.engines import draw_engines

CIRCUITS_TRIED = ("coolant-temperature", "throttle-position", "manifold-pressure", "fuel-pump")
STATES = 3


@dataclass(frozen=True)
class Speed:
    """One circuit both ways. solves: networks each way; apart: greatest difference of a reading [V]."""

    circuit: str
    engines: int
    solves: int
    together_s: float
    alone_s: float
    apart: float

    @property
    def ratio(self) -> float:
        """How many times as long one after the other takes."""
        return self.alone_s / self.together_s


def measured(name: str, *, engines: int, faults: int, seed: int = 1) -> Speed:
    """The first so many faults of a circuit, and the healthy engine, in its first states."""
    circuit = CIRCUITS[name](load_sheet())
    assert isinstance(circuit, DescribedCircuit)
    lot = draw_engines(engines, seed=seed)
    crowds = [lot.some(slice(i, i + 1)).crowd for i in range(engines)]
    chosen = (None, *islice(circuit.faults().values(), faults))
    cases = list(product(chosen, states_of(circuit.description)[:STATES]))
    for fault, crowd in product(chosen, (lot.crowd, *crowds)):
        circuit.sizing.of(fault, crowd)
    point = circuit.description.runs[0].node(0)

    def volts(crowd: Crowd) -> np.ndarray:
        made = [circuit.solve(fault, state, crowd).dc(point, "battery.negative") for fault, state in cases]
        return np.array(made)

    together_s, together = _timed(lambda: volts(lot.crowd))
    alone_s, alone = _timed(lambda: np.concatenate([volts(crowd) for crowd in crowds], axis=1))
    apart = float(np.abs(together - alone).max())
    return Speed(name, engines, len(cases) * engines, together_s, alone_s, apart)


def _timed(work: Callable[[], np.ndarray]) -> tuple[float, np.ndarray]:
    """Processor seconds of this process, so that others on the machine do not count."""
    began = time.process_time()
    made = work()
    return time.process_time() - began, made


def table(rows: Sequence[Speed]) -> str:
    """One line a circuit, and all together."""
    lines = [f"{'circuit':22s} engines  networks  together s  one by one s  ratio  apart V"]
    for row in rows:
        lines.append(
            f"{row.circuit:22s} {row.engines:7d} {row.solves:9d} {row.together_s:11.3f} {row.alone_s:13.2f} "
            f"{row.ratio:6.1f}  {row.apart:.1e}"
        )
    together, alone = sum(row.together_s for row in rows), sum(row.alone_s for row in rows)
    solves = sum(row.solves for row in rows)
    return "\n".join(
        [*lines, f"{'all':22s} {'':7s} {solves:9d} {together:11.3f} {alone:13.2f} {alone / together:6.1f}"]
    )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(prog="python -m flows.trial.speed", description=(__doc__ or "").splitlines()[0])
    parser.add_argument("circuits", nargs="*", default=CIRCUITS_TRIED)
    parser.add_argument("--engines", type=int, default=1000)
    parser.add_argument("--faults", type=int, default=6)
    args = parser.parse_args()
    print(table([measured(name, engines=args.engines, faults=args.faults) for name in args.circuits]))


if __name__ == "__main__":
    main()
