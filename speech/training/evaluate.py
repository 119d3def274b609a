"""Measures the reading model: `python -m speech.training.evaluate [--people DIR] [--quick]`.

Exact is the share of call-outs heard word for word. What the machine cannot make (flite, piper, people) is
left out and named. Another spelling of the same thing counts as right: nine and niner, zero and oh, "p s i" and psi.
"""

import argparse
import json
import time
from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from speech.commands import COMMANDS
from speech.grammar import grammar_for
from speech.graph import FILLER, FILLER_COST, MODEL, WordGraph, write_model_folder
from speech.ports import ListeningKind
from speech.training import testsets
from speech.training.noises import KINDS, RATE_HZ, with_noise, with_silence
from speech.training.testsets import Said

STEPS_DB: tuple[float | None, ...] = (None, 20.0, 10.0, 5.0, 0.0)
_JOINED = {"p s i": "psi", "meg ohm": "megohm", "kilo ohm": "kilohm", "oh l": "oh el"}
_SAME = {"niner": "nine", "oh": "zero", "a": "one"}


@dataclass(frozen=True)
class Figure:
    """One line of the table."""

    name: str
    who: str
    snr_db: float | None
    count: int
    exact: float
    word_error: float
    nothing: float  # share heard as nothing or as filler
    times_real: float  # decoding time over sound time, one core


class Recogniser:
    """Vosk with one grammar of the project."""

    def __init__(self, graph: WordGraph, model: Path, folder: Path, filler_cost: float | None) -> None:
        import vosk

        vosk.SetLogLevel(-1)
        self._vosk = vosk
        self.model = vosk.Model(str(write_model_folder(folder, graph, model=model, filler_cost=filler_cost)))

    def hear(self, sound: np.ndarray) -> str:
        recogniser = self._vosk.KaldiRecognizer(self.model, RATE_HZ)
        heard = []
        data = sound.astype("<i2").tobytes()
        for at in range(0, len(data), 8000):
            if recogniser.AcceptWaveform(data[at : at + 8000]):
                heard.append(json.loads(recogniser.Result())["text"])
        heard.append(json.loads(recogniser.FinalResult())["text"])
        return " ".join(text for text in heard if text)


def plain(words: str) -> list[str]:
    """Words with one spelling for each thing said."""
    for spelling, word in _JOINED.items():
        words = words.replace(spelling, word)
    return [_SAME.get(word, word) for word in words.split()]


def errors(said: list[str], heard: list[str]) -> int:
    """Words to change, add or leave out."""
    row = list(range(len(heard) + 1))
    for i, a in enumerate(said, 1):
        row, old = [i], row
        for j, b in enumerate(heard, 1):
            row.append(min(old[j] + 1, row[-1] + 1, old[j - 1] + (a != b)))
    return row[-1]


def measure(
    name: str, calls: Iterable[Said], hear: Callable[[np.ndarray], str], *, steps: Iterable[float | None] = STEPS_DB
) -> list[Figure]:
    """Figures of one set at each noise level; the kinds of noise take turns."""
    calls = list(calls)
    figures = []
    for snr_db in steps:
        rng = np.random.default_rng(7)
        tally: dict[str, list[tuple[bool, int, int, bool]]] = defaultdict(list)
        spent = sounded = 0.0
        for i, call in enumerate(calls):
            sound = with_noise(with_silence(call.sound), snr_db, KINDS[i % len(KINDS)], rng)
            began = time.process_time()
            heard = hear(sound)
            spent += time.process_time() - began
            sounded += len(sound) / RATE_HZ
            said, got = plain(call.words), plain(heard)
            empty = not got or FILLER in got
            tally[call.who].append((said == got, errors(said, got), len(said), empty))
        for who, rows in tally.items():
            exact, wrong, words, empty = (sum(column) for column in zip(*rows, strict=True))
            figures.append(
                Figure(
                    name,
                    who,
                    snr_db,
                    len(rows),
                    exact / len(rows),
                    wrong / max(words, 1),
                    empty / len(rows),
                    spent / sounded,
                )
            )
    return figures


def table(figures: list[Figure]) -> str:
    """Markdown: a line a set and voice, a column a noise level, exact in percent."""
    rows: dict[tuple[str, str], dict[float | None, Figure]] = defaultdict(dict)
    for figure in figures:
        rows[figure.name, figure.who][figure.snr_db] = figure
    head = [*("clean" if step is None else f"{step:g} dB" for step in STEPS_DB)]
    lines = ["| set | who | count | " + " | ".join(head) + " |", "| --- | --- | ---: |" + " ---: |" * len(head)]
    for (name, who), by_step in rows.items():
        shown = [f"{by_step[step].exact * 100:.0f}" if step in by_step else "" for step in STEPS_DB]
        lines.append(f"| {name} | {who} | {next(iter(by_step.values())).count} | " + " | ".join(shown) + " |")
    return "\n".join(lines)


def run(options: argparse.Namespace) -> list[Figure]:
    figures: list[Figure] = []
    trained, unseen = testsets.trained_voices(), testsets.unseen_voices()
    count = 6 if options.quick else options.count
    with TemporaryDirectory() as folder:

        def recogniser(kind: ListeningKind) -> Recogniser:
            return Recogniser(grammar_for(kind), options.model, Path(folder, kind), options.filler_cost)

        reading = recogniser("reading")
        for name, voices in (("reading, voice in training", trained), ("reading, unseen voice", unseen)):
            many = count if voices is trained else 4 * count
            figures += measure(name, testsets.readings(voices, many, seed=11), reading.hear)
        both = trained | unseen
        talk = testsets.other_talk(both, 2 * count, seed=13)
        figures += measure(
            "other talk (right is nothing)", talk, lambda s: _nothing(reading.hear(s)), steps=(None, 10.0)
        )
        commands = recogniser("commands")
        wanted = sorted(COMMANDS)[:: len(COMMANDS) // (10 if options.quick else 40) or 1]
        figures += measure("commands", testsets.phrases(both, wanted), commands.hear)
        digits = recogniser("digits")
        figures += measure("4 digits, test only", testsets.announcer(4 * count, seed=17), digits.hear)
        for speaker in options.speakers.split(",") if options.people else ():
            strings = testsets.people(options.people, speaker, 6 * count, seed=19)
            figures += measure("4 digits", strings, digits.hear)
    return figures


def _nothing(heard: str) -> str:
    return "" if FILLER in heard.split() else heard


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--model", type=Path, default=MODEL)
    parser.add_argument("--people", type=Path, help="digits folder of the Free Spoken Digit Dataset")
    parser.add_argument("--speakers", default="lucas,jackson,nicolas,george")
    parser.add_argument("--filler-cost", type=float, default=FILLER_COST)
    parser.add_argument("--count", type=int, default=25)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--json", type=Path, help="write the figures there too")
    options = parser.parse_args()
    for what, there in (("flite", testsets.voices.have_flite()), ("piper joe", bool(testsets.unseen_voices()))):
        if not there:
            print(f"left out: {what} is not on this machine")
    figures = run(options)
    print(table(figures))
    print(f"decoding: {np.mean([f.times_real for f in figures]):.3f} of real time, one core")
    if options.json:
        options.json.write_text(json.dumps([asdict(figure) for figure in figures], indent=1))


if __name__ == "__main__":
    main()
