"""In how many jobs a person is told that they repeat often: `python -m runner.safety.repeating [SET.json ...]`.

Jobs of twelve readings, each by one voice of a set of confusions (runner.safety.confusions) beside one level of noise, through
the dialogue's own rules; then counted as runner.talk.repeats counts.
"""

import argparse
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from flows.meter import load_meter
from runner.safety.confusions import DATA, Confusions, load
from runner.safety.simulation import one_reading
from runner.talk.repeats import CALLS, READINGS
from runner.talk.taking import RULES

LEVELS_DB = (20, 10, 5)
A_JOB = 12


def often(calls: Sequence[int]) -> bool:
    """Whether call-outs by reading come to what counts as often anywhere in a job."""
    return any(sum(calls[at : at + READINGS]) >= CALLS for at in range(len(calls) - READINGS + 1))


def told(data: Confusions, *, jobs: int, seed: int) -> Mapping[int, float]:
    """Share of the jobs in which it is told, by level [dB]; who takes part is drawn among the voices of the set."""
    rng, meter = np.random.default_rng(seed), load_meter("bench")
    shares = {}
    for level in LEVELS_DB:
        voices = sorted({str(call[2]) for call in data.calls if call[1] == level})
        found = 0
        for _ in range(jobs):
            voice = voices[int(rng.integers(len(voices)))]
            own = replace(data, calls=tuple(call for call in data.calls if call[1:3] == (level, voice)))
            ones = [one_reading(own, rules=RULES, notices=0.6, level=level, meter=meter, rng=rng) for _ in range(A_JOB)]
            found += often([one.calls for one in ones if not one.noisy])
        shares[level] = found / jobs
    return shares


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("sets", type=Path, nargs="*", default=[DATA])
    parser.add_argument("--jobs", type=int, default=200, help="of each level")
    parser.add_argument("--seed", type=int, default=3)
    options = parser.parse_args()
    print(
        f"| set | {' | '.join(f'{level} dB' for level in LEVELS_DB)} |\n| --- | {' | '.join(['---:'] * len(LEVELS_DB))} |"
    )
    for path in options.sets:
        shares = told(load(path), jobs=options.jobs, seed=options.seed)
        print(f"| {path.stem} | {' | '.join(f'{100 * share:.0f} %' for share in shares.values())} |", flush=True)


if __name__ == "__main__":
    main()
