"""Speaks the training sentences: `python -m speech.training.make --out DIR --engine espeak --count 40000`.

One process a core, each with a seed of its own, so the same command makes the same sentences.
"""

import argparse
import os
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from random import Random

from speech import chatter
from speech.lexicon import words
from speech.training import abroad, actors, alone, neural, texts, voices
from speech.training.voices import Clip

CHUNK = {
    "espeak": 250,
    "flite": 120,
    "festival": 60,
    "neural": 25,
    "abroad": 60,
    "actors": 400,
    **dict.fromkeys(alone.SETS, 40),
}
TALK = 0.12
"""Share of the sentences that are other talk; the filler needs all phones in all orders."""


SPEAK: dict[str, Callable[[Sequence[str] | str, Random], Clip | None]] = {
    "espeak": voices.espeak_clip,
    "flite": voices.flite_clip,
    "neural": neural.neural_clip,
}
BATCH: dict[str, Callable[[Sequence[Sequence[str] | str], Random], list[Clip]]] = {
    "festival": voices.festival_clips,
    "abroad": abroad.abroad_clips,
}


def chunk(engine: str, seed: int, out: Path, deadline: float) -> int:
    """One file of clips; returns how many. Nothing is made after the deadline [s since the epoch]."""
    if time.time() > deadline:
        return 0
    stem = out / f"{engine}-{seed}"
    if stem.with_suffix(".npy").exists():
        return 0
    if engine == "actors":
        clips = actors.clips(actors.learned()[seed * CHUNK[engine] :][: CHUNK[engine]])
        voices.save(clips, stem)
        return len(clips)
    rng = Random(f"{engine} {seed}")
    if engine in alone.SETS:
        clips = [clip for _ in range(CHUNK[engine] // 20) for clip in alone.SETS[engine](rng)]
        voices.save(clips, stem)
        return len(clips)
    known = sorted(words())
    wanted: list[Sequence[str] | str] = []
    for _ in range(CHUNK[engine]):
        wanted.append(texts.sentence(rng, known) if rng.random() >= TALK else chatter.talk(rng))
    batch = BATCH.get(engine)
    clips = batch(wanted, rng) if batch else _each(engine, wanted, rng, deadline)
    voices.save([clip for clip in clips if len(clip.sound) > 1600 and clip.phones], stem)
    return len(clips)


def _each(engine: str, wanted: Sequence[Sequence[str] | str], rng: Random, deadline: float) -> list[Clip]:
    clips = []
    for said in wanted:
        if time.time() > deadline:
            break
        clip = SPEAK[engine](said, rng)
        if clip is not None:
            clips.append(clip)
    return clips


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--engine", choices=sorted(CHUNK), required=True)
    parser.add_argument("--count", type=int, required=True, help="sentences")
    parser.add_argument("--seed", type=int, default=0, help="number of the first chunk")
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--until", type=float, default=1e12, help="clock time to stop at [s since the epoch]")
    options = parser.parse_args()
    options.out.mkdir(parents=True, exist_ok=True)
    began = time.time()
    seeds = range(options.seed, options.seed + -(-options.count // CHUNK[options.engine]))
    with ProcessPoolExecutor(options.processes) as pool:
        jobs = [pool.submit(chunk, options.engine, s, options.out, options.until) for s in seeds]
        made, failed = 0, []
        for job in jobs:
            try:
                made += job.result()
            except Exception as error:
                failed.append(repr(error))
    print(
        f"{options.engine}: {made} clips in {time.time() - began:.0f} s, {len(failed)} chunks failed {failed[:2]}",
        flush=True,
    )


if __name__ == "__main__":
    main()
