"""A measured set of confusions: call-outs of readings by many voices in noise, and what the recogniser made of each.

`python -m runner.safety.confusions measure` makes `runner/safety/confusions.json`; runner.safety.simulation resamples it.
"""

import argparse
import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np

from flows.circuits import CIRCUITS
from flows.meter import load_meter
from flows.site import Site
from flows.source import load_flow, load_sheet, shipped_flows
from runner.job import Job
from runner.record.session import Event
from runner.rehearsal.by_text import walk
from runner.talk.steps import grave_outcomes
from speech.levels import over_noise_db, speech_levels
from speech.phrasing import talk_s
from speech.ports import Heard, ListeningKind, Silence
from speech.pyttsx3_voice import ENGLISH, VARIANTS, Synthesiser
from speech.recogniser import Recogniser
from speech.sound import NoiseKind, Sound, add_noise, join, read_wav, resample, silence

DATA = Path(__file__).with_name("confusions.json")
LEVELS_DB = (20, 10, 5, 0)
NOISES: tuple[NoiseKind, ...] = ("engine", "compressor", "pink", "white")  # take 0, 1, 2, 3
KEPT_RIVALS = 4
PAUSE_S = 0.5  # nobody speaks before and after a call-out; the noise goes on
ANSWERS = ("wrong", "affirm")


@dataclass(frozen=True)
class Case:
    """A reading a check of a flow asks for: what is said, the window it is judged by, what the tool says before."""

    said: str
    quantity: str
    low: float | None
    high: float | None
    unit: str
    simple: bool
    inside: bool  # it is judged "in"
    grave: tuple[str, ...]  # outcomes on which the flow ends
    lead_s: float  # talk of the tool from the start of the check to the first call


def walked(flow: str, *, seeds: int) -> Iterator[Case]:
    """Every reading of walks through a flow, each fault and the sound engine, without sound."""
    sheet = load_sheet("th2")
    job = Job(load_flow(flow, sheet), sheet, Site(), load_meter("bench"))
    circuit = CIRCUITS[job.flow.circuit](sheet)
    for seed in range(seeds):
        for fault in (None, *circuit.faults().values()):
            yield from _cases(job, walk(job, circuit, fault, seed=seed))


def _cases(job: Job, events: list[Event]) -> Iterator[Case]:
    for number, event in enumerate(events):
        if event["type"] != "judged":
            continue
        step, measured = event["step"], events[number - 1]
        start = max(i for i, e in enumerate(events[:number]) if e["type"] == "asked" and e["want"] == "reading")
        while start and (events[start - 1].get("step") in (step, None)) and events[start - 1]["type"] != "branched":
            start -= 1
        first = next(i for i in range(start, number) if events[i].get("listening") == "reading")
        lead_s = sum(talk_s(e["text"]) for e in events[start:first] if e["type"] == "said")
        if measured["type"] == "measured" and measured["words"] and event["quantity"]:
            yield Case(
                measured["words"],
                event["quantity"],
                event["low"],
                event["high"],
                event["unit"],
                event["guard"] == 0,
                event["outcome"] == "in",
                grave_outcomes(job.flow, step),
                round(lead_s, 2),
            )


def choose(count: int, seed: int) -> list[Case]:
    """So many different call-outs of all flows, the more often called the likelier; a third of them out of their window."""
    rng = np.random.default_rng(seed)
    often: dict[str, int] = {}
    cases: dict[str, Case] = {}
    for flow in shipped_flows():
        for case in walked(flow, seeds=2):
            often[case.said] = often.get(case.said, 0) + 1
            cases.setdefault(case.said, case)
    chosen: list[Case] = []
    for inside, share in ((True, 2 / 3), (False, 1 / 3)):
        pool = [case for case in cases.values() if case.inside is inside]
        weights = np.array([float(often[case.said]) for case in pool]) ** 0.5
        size = min(len(pool), round(count * share))
        chosen += [pool[at] for at in rng.choice(len(pool), size, replace=False, p=weights / weights.sum())]
    return chosen


class Voices:
    """Who says the call-outs: espeak-ng voices, or recordings in a folder a speaker, NUMBER.wav and WORD.wav."""

    def __init__(self, recordings: Path | None) -> None:
        self._folder = recordings
        of_espeak = [f"{accent}{variant}" for accent in ENGLISH for variant in VARIANTS]
        self.names = sorted(one.name for one in recordings.iterdir() if one.is_dir()) if recordings else of_espeak

    def check(self, cases: Sequence[Case]) -> None:
        """Raise ValueError when the recordings are of other call-outs; their folder's list.tsv is what `list` printed."""
        if self._folder is None:
            return
        said = (self._folder / "list.tsv").read_text(encoding="utf-8").split("\n")
        for number, case in enumerate(cases):
            if said[number : number + 1] != [f"{number}\t{case.said}"]:
                raise ValueError(
                    f"{self._folder}/list.tsv: line {number + 1} is not {number}, {case.said!r}; record anew"
                )

    @contextmanager
    def speaking(self, name: str, *, rate_wpm: int) -> Iterator[Callable[[str, str], Sound]]:
        """A function from words and the name of their recording to sound at 16 kHz."""
        if self._folder is not None:
            folder = self._folder / name
            yield lambda words, file: resample(read_wav(folder / f"{file}.wav"), 16000)
            return
        with Synthesiser(voice=name, rate_wpm=rate_wpm, cache=None) as voice:
            yield lambda words, file: resample(voice.synthesise(words), 16000)


def measure(
    cases: Sequence[Case],
    *,
    seed: int,
    part: tuple[int, int] = (0, 1),
    recordings: Path | None = None,
    model: Path | None = None,
) -> dict[str, Any]:
    """Speak and hear every case at every level, by a voice drawn for it, once in each noise; answers likewise.

    part: of the voices, by their number. model: a folder to hear with instead of the shipped one, such as a fitted one.
    """
    rng = np.random.default_rng(seed + 1)
    voices = Voices(recordings)
    voices.check(cases)
    jobs = [
        (int(rng.integers(len(voices.names))), level, number) for number in range(len(cases)) for level in LEVELS_DB
    ]
    answering = set(rng.choice(len(voices.names), min(20, len(voices.names)), replace=False).tolist())
    recogniser = Recogniser(model, kinds=("reading", "commands"))
    calls: list[Any] = []
    answers: list[Any] = []
    for at in range(part[0], len(voices.names), part[1]):
        name = voices.names[at]
        with voices.speaking(name, rate_wpm=(140, 165, 190)[at % 3]) as say:
            for _, level, number in (job for job in jobs if job[0] == at):
                sound = say(cases[number].said, str(number))
                takes = [
                    _heard(recogniser, sound, level, take, seed + number, "reading") for take in range(len(NOISES))
                ]
                calls.append([number, level, name, round(sound.duration_s, 2), takes])
            for word in ANSWERS if at in answering else ():
                sound = say(word, word)
                for level in LEVELS_DB:
                    takes = [_heard(recogniser, sound, level, take, seed + at, "commands") for take in range(4)]
                    answers.append([word, level, name, takes])
    return {
        "noises": list(NOISES),
        "cases": [vars(case) for case in cases],
        "calls": calls,
        "answers": answers,
    }


def _heard(recogniser: Recogniser, sound: Sound, level: int, take: int, seed: int, kind: ListeningKind) -> list[Any]:
    """Words (null when refused, "" for silence), certainty, rivals, level over noise as the tool measures it [dB]."""
    around = [silence(PAUSE_S, rate_hz=16000), sound, silence(PAUSE_S, rate_hz=16000)]
    mixed = add_noise(join(around), snr_db=level, kind=NOISES[take], seed=1000 * seed + 10 * level + take)
    result = recogniser.decode(mixed, kind)
    over_db = round(over_noise_db(*speech_levels(mixed)), 1)
    if isinstance(result, Heard):
        rivals = [[one.words, round(one.confidence, 3)] for one in result.alternatives[:KEPT_RIVALS]]
        return [result.words, round(result.confidence, 4), rivals, over_db]
    return ["" if isinstance(result, Silence) else None, 0.0, [], over_db]


@dataclass(frozen=True)
class Confusions:
    """The set as it is resampled."""

    cases: tuple[Case, ...]
    calls: tuple[tuple[Any, ...], ...]  # (case, level, voice, seconds, takes)
    answers: Mapping[tuple[str, int], tuple[Any, ...]]  # word, level -> takes

    @cached_property
    def pools(self) -> Mapping[tuple[int, bool], list[Any]]:
        """Calls by level, and by whether the reading is inside its window."""
        pools: dict[tuple[int, bool], list[Any]] = {(level, yes): [] for level in LEVELS_DB for yes in (True, False)}
        for call in self.calls:
            pools[call[1], self.cases[call[0]].inside].append(call)
        return pools


def load(path: Path = DATA) -> Confusions:
    """The committed set, or another made the same way."""
    data = json.loads(path.read_text(encoding="utf-8"))
    return Confusions(
        tuple(Case(**{**case, "grave": tuple(case["grave"])}) for case in data["cases"]),
        tuple(tuple(call) for call in data["calls"]),
        {
            (word, level): tuple(take for one in data["answers"] if one[:2] == [word, level] for take in one[3])
            for word in ANSWERS
            for level in LEVELS_DB
        },
    )


def _written(data: dict[str, Any]) -> str:
    """JSON with one row a line, so that a change can be read."""
    rows = ",\n".join(
        f'"{key}": '
        + (
            "[\n" + ",\n".join(json.dumps(row, separators=(",", ":")) for row in value) + "\n]"
            if isinstance(value, list)
            else json.dumps(value)
        )
        for key, value in data.items()
    )
    return "{\n" + rows + "\n}\n"


def _cases_for(options: argparse.Namespace) -> Sequence[Case]:
    """Chosen from the flows, or so many of another set's at most."""
    if not options.cases:
        return choose(options.count, options.seed)
    cases = load(options.cases).cases
    return cases[:: max(1, len(cases) // options.count)]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", choices=("measure", "merge", "list"))
    parser.add_argument("files", nargs="*", type=Path, help="parts to merge")
    parser.add_argument("--count", type=int, default=360)
    parser.add_argument("--seed", type=int, default=23)
    parser.add_argument("--part", type=int, nargs=2, default=(0, 1), help="this part of so many, to share the work")
    parser.add_argument("--out", type=Path, default=DATA)
    parser.add_argument("--recordings", type=Path, help="folders of NUMBER.wav of what `list` prints, one a speaker")
    parser.add_argument("--model", type=Path, help="a model folder to hear with, such as one fitted to the speaker")
    parser.add_argument("--cases", type=Path, help="the call-outs of this set, instead of choosing them from the flows")
    options = parser.parse_args()
    if options.what == "list":
        named = [*((str(n), case.said) for n, case in enumerate(_cases_for(options))), *((w, w) for w in ANSWERS)]
        print("\n".join("\t".join(line) for line in named))
        return
    if options.what == "merge":
        parts = [json.loads(file.read_text(encoding="utf-8")) for file in options.files]
        data = {**parts[0], **{key: [row for part in parts for row in part[key]] for key in ("calls", "answers")}}
    else:
        how = {"part": tuple(options.part), "recordings": options.recordings, "model": options.model}
        data = measure(_cases_for(options), seed=options.seed, **how)
        asked = f"--cases {options.cases.name}" if options.cases else f"--count {options.count}"
        origin = f" --recordings {options.recordings.name}" if options.recordings else ""
        data = {"made_by": f"python -m runner.safety.confusions measure {asked} --seed {options.seed}{origin}", **data}
    options.out.write_text(_written(data), encoding="utf-8")


if __name__ == "__main__":
    main()
