"""What fitting the ears to a person is worth: `python -m speech.training.fitted --people DIR --left NAME=MODEL ... [--voices]`.

People left out of training: fitted to ten strings of four digits from every second of their recordings, measured on
strings from the others. --voices: engines never heard, fitted to the ten readings that `leadsman mic --fit` asks for,
measured on the readings and commands of the test; and what each fit does to another voice.
"""

import argparse
from collections.abc import Sequence
from pathlib import Path
from random import Random
from shutil import copytree
from tempfile import TemporaryDirectory

import numpy as np

from speech.fitting.fit import ASKED, Call, Fit, fit, network_of
from speech.fitting.kept import NETWORK, model_folder
from speech.fitting.model_file import with_biases
from speech.graph import MODEL
from speech.ports import ListeningKind
from speech.training import people, speakers, texts, voices
from speech.training.hearers import Ours
from speech.training.noises import KINDS, RATE_HZ, with_noise, with_silence
from speech.training.people import Said
from speech.training.report import LEVELS_DB, Outcome, markdown
from speech.training.testsets import Sets

MEASURED = 60
LEVELS = (None, 10.0, 5.0)
assert set(LEVELS) < set(LEVELS_DB)


def takes(folder: Path, who: str, *, odd: bool) -> dict[str, list[np.ndarray]]:
    """Every second recording of each digit."""
    found: dict[str, list[np.ndarray]] = {word: [] for word in texts.DIGITS}
    for path in sorted((folder / who).glob("*.wav")):
        digit, _, number = path.stem.split("_")
        if int(number) % 2 == odd:
            found[texts.DIGITS[int(digit)]].append(voices._read_wav(path))
    return found


def strings(folder: Path, who: str) -> tuple[list[Said], list[Said]]:
    """Ten strings to fit to, in which every digit is said four times, and strings of other takes to measure with."""
    rng = Random(f"fit {who}")
    every = [digit for _ in range(4) for digit in rng.sample(texts.DIGITS, 10)]
    drawn = (rng.choices(texts.DIGITS, k=4) for _ in range(MEASURED))
    first = people.strings(who, takes(folder, who, odd=False), (every[i : i + 4] for i in range(0, len(every), 4)), rng)
    return list(first), list(people.strings(who, takes(folder, who, odd=True), drawn, rng))


def padded(said: Said) -> Call:
    """A call-out as the ears hand it on: some silence before and after it."""
    return Call(with_silence(said.sound).astype(np.int16), tuple(said.words.split()))


def fitted_folder(model: Path, calls: Sequence[Call], cache: Path) -> tuple[Path, Fit]:
    """A model fitted to call-outs."""
    data = (model / NETWORK).read_bytes()
    found = fit(network_of(data), calls)
    return model_folder(with_biases(data, found.biases), model=model, cache=cache), found


def percent(model: Path, calls: Sequence[Said], kind: ListeningKind, cache: Path) -> list[str]:
    """Exact at each level; the noise depends on the call-out alone."""
    ours, shares = Ours(model, cache=cache), []
    for level in LEVELS:
        right = 0
        for number, call in enumerate(calls):
            noise = KINDS[number % len(KINDS)] if level else ""
            rng = np.random.default_rng([31, number, int(level or 0)])
            sound = with_noise(with_silence(call.sound), level, noise, rng)
            heard = ours.hear(sound, kind)
            told = (heard.words, heard.confidence, heard.took_s, len(sound) / RATE_HZ)
            right += Outcome("ours", "test", "", kind, call.who, level, noise, True, call.words, *told).right
        shares.append(f"{100 * right / len(calls):.1f}")
    return shares


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m speech.training.fitted", description=__doc__)
    parser.add_argument("--people", type=Path, help="digits folder of the Free Spoken Digit Dataset")
    parser.add_argument("--left", action="append", default=[], help="lucas=DIR: a model trained without that person")
    parser.add_argument("--voices", action="store_true", help="engines never heard as well")
    parser.add_argument("--keep", type=Path, help="folder the sets of speech.training.evaluate are kept in")
    parser.add_argument("--out", type=Path, help="folder for the fitted models, one a voice")
    options = parser.parse_args()
    rows = []
    with TemporaryDirectory() as folder:
        cache = Path(folder)

        def told(
            who: str, model: Path, calls: Sequence[Call], sets: Sequence[tuple[str, ListeningKind, Sequence[Said]]]
        ) -> None:
            better, found = fitted_folder(model, calls, cache)
            if options.out:
                copytree(better, options.out / who.replace(" ", "-"), dirs_exist_ok=True)
            for name, kind, measured in sets:
                before, after = (percent(one, measured, kind, cache) for one in (model, better))
                pairs = [f"{a} -> {b}" for a, b in zip(before, after, strict=True)]
                rows.append([who, name, str(len(measured)), *pairs, f"{found.before:.2f} -> {found.after:.2f}"])
                print(rows[-1], flush=True)

        for given in options.left:
            who, _, model = given.partition("=")
            first, rest = strings(options.people, who)
            told(who, Path(model), [padded(said) for said in first], [("4 digits", "digits", rest)])
        if options.voices:
            made = {
                one.name: one
                for one in Sets(options.keep, count=24, folder=None, only=("readings with", "commands")).test()
            }
            for who, speak in speakers.unseen().items():
                calls = [padded(Said(who, words, speak(words.split()))) for words in ASKED]
                sets: list[tuple[str, ListeningKind, list[Said]]] = []
                kinds: dict[str, ListeningKind] = {"readings with unit": "reading", "commands": "commands"}
                for name, kind in kinds.items():
                    for whose in speakers.unseen():
                        every = [call for call in made[name].calls if call.who == whose]
                        sets.append((f"{name}, {whose}", kind, every if whose == who else every[::2]))
                told(who, MODEL, calls, sets)
    head = ["fitted to", "measured on", "calls", "clean", "10 dB", "5 dB", "loss of a phone"]
    print(markdown(head, rows))


if __name__ == "__main__":
    main()
