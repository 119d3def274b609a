"""The reading model that ships: small, quick to load, quick to answer, and it reads what synthetic voices say."""

import ctypes
import json
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from speech.graph import FILLER, MODEL, WordGraph, write_model_folder

DIGITS = ["zero", "oh", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "niner"]
UNITS = ["volts", "millivolts", "ohms", "kilohms", "kilopascals", "degrees"]


def readings() -> WordGraph:
    """Digits, at most one point, and a unit."""
    arcs = [(0, 0, word, 0.0) for word in DIGITS] + [(0, 1, "point", 0.0), (0, 2, "minus", 0.0)]
    arcs += [(2, 0, word, 0.0) for word in DIGITS] + [(1, 3, word, 0.0) for word in DIGITS]
    arcs += [(3, 3, word, 0.0) for word in DIGITS]
    arcs += [(state, 4, unit, 0.0) for state in (0, 3) for unit in UNITS]
    return WordGraph(tuple(arcs), {4: 0.0})


SPEAK = """
import sys, wave
import numpy as np
from speech.training.espeak import RATE_HZ, Espeak
engine = Espeak()
assert engine.choose(sys.argv[1])
for number, text in enumerate(sys.argv[3:]):
    with wave.open(f"{sys.argv[2]}/{number}.wav", "wb") as wav:
        wav.setnchannels(1), wav.setsampwidth(2), wav.setframerate(RATE_HZ)
        wav.writeframes(engine.say(text).astype("<i2").tobytes())
"""


def spoken(voice: str, texts: list[str], folder: Path) -> list[np.ndarray]:
    """Texts by an espeak-ng voice at 16 kHz, made in a process of its own: the library dies with a bad voice."""
    import wave

    pytest.importorskip("espeakng_loader")
    subprocess.run([sys.executable, "-c", SPEAK, voice, str(folder), *texts], check=True, timeout=60)
    sounds = []
    for number in range(len(texts)):
        with wave.open(str(folder / f"{number}.wav")) as wav:
            sound = np.frombuffer(wav.readframes(wav.getnframes()), "<i2").astype(np.float64)
            heard_s = np.arange(0, len(sound) / wav.getframerate(), 1 / 16000)
            sounds.append(np.interp(heard_s, np.arange(len(sound)) / wav.getframerate(), sound))
    return sounds


@pytest.fixture(scope="module")
def hear(tmp_path_factory: pytest.TempPathFactory) -> Callable[[np.ndarray], str]:
    vosk = pytest.importorskip("vosk")
    vosk.SetLogLevel(-1)
    model = vosk.Model(str(write_model_folder(tmp_path_factory.mktemp("model"), readings())))

    def heard(sound: np.ndarray) -> str:
        recogniser = vosk.KaldiRecognizer(model, 16000)
        recogniser.AcceptWaveform(np.pad(sound, 4800).astype("<i2").tobytes())
        return str(json.loads(recogniser.FinalResult())["text"])

    return heard


def files() -> list[Path]:
    return [path for path in MODEL.rglob("*") if path.is_file()]


def test_the_model_is_under_ten_megabytes() -> None:
    assert sum(path.stat().st_size for path in files()) < 10e6


def test_the_folder_has_all_that_a_graph_is_put_beside() -> None:
    names = {str(path.relative_to(MODEL)) for path in files()}
    assert {"am/final.mdl", "conf/mfcc.conf", "conf/model.conf", "lexicon.txt", "MODEL_CARD.md"} <= names


def context_frames() -> tuple[int, int]:
    """Frames before and after that the network needs, read off its own configuration."""
    data = (MODEL / "am" / "final.mdl").read_bytes()
    config = data[data.index(b"<Nnet3>") : data.index(b"<NumComponents>")].decode()
    left, right = {"input": 0}, {"input": 0}
    for name, source in re.findall(r"component-node name=(\S+) component=\S+ input=(.*)", config):
        offsets: dict[str, list[int]] = {}
        rest = source
        for inside, by in re.findall(r"Offset\(([^,()]+), (-?\d+)\)", source):
            offsets.setdefault(inside, []).append(int(by))
        rest = re.sub(r"Offset\([^)]*\)", "", rest)
        for inside in re.findall(r"[a-z][\w.-]*", rest.replace("Append", "").replace("Sum", "")):
            offsets.setdefault(inside, []).append(0)
        left[name] = max(left[inside] - min(moves) for inside, moves in offsets.items())
        right[name] = max(right[inside] + max(moves) for inside, moves in offsets.items())
    return left["log-softmax"], right["log-softmax"]


def test_an_answer_waits_for_at_most_160_ms_of_sound() -> None:
    before, after = context_frames()
    assert after * 10 <= 160
    assert before * 10 == 1120


def test_the_file_says_its_own_context() -> None:
    data = (MODEL / "am" / "final.mdl").read_bytes()
    for name, frames in zip((b"<LeftContext> ", b"<RightContext> "), context_frames(), strict=True):
        at = data.rindex(name) + len(name)
        assert data[at : at + 5] == b"\x04" + frames.to_bytes(4, "little")


SAID = [
    "four point nine six volts",
    "one two point six volts",
    "zero point zero five volts",
    "minus zero point two volts",
    "nine nine five ohms",
    "two point two kilohms",
    "one zero one kilopascals",
    "three five zero millivolts",
    "eight seven degrees",
]


@pytest.mark.parametrize("voice", ["en-us", "en-gb-scotland", "en-us+f3", "en-us+klatt2"])
def test_readings_by_synthetic_voices_are_heard_word_for_word(
    voice: str, hear: Callable[[np.ndarray], str], tmp_path: Path
) -> None:
    texts = [text.replace("kilohms", "kill ohms") for text in SAID]
    heard = [hear(sound) for sound in spoken(voice, texts, tmp_path)]
    assert heard == SAID


def test_readings_in_noise_are_mostly_heard(hear: Callable[[np.ndarray], str], tmp_path: Path) -> None:
    rng = np.random.default_rng(1)
    right = 0
    for said, sound in zip(
        SAID, spoken("en-us", [t.replace("kilohms", "kill ohms") for t in SAID], tmp_path), strict=True
    ):
        level = np.sqrt(np.mean(sound[np.abs(sound) > 50] ** 2))
        right += hear(sound + rng.standard_normal(len(sound)) * level / 10 ** (15 / 20)) == said
    assert right >= len(SAID) - 2


@pytest.mark.parametrize("text", ["could you pass me that spanner please", "it is going to rain this afternoon"])
def test_other_talk_is_no_reading(text: str, hear: Callable[[np.ndarray], str], tmp_path: Path) -> None:
    (sound,) = spoken("en-us", [text], tmp_path)
    heard = hear(sound)
    assert not heard or FILLER in heard.split()


def test_silence_and_noise_are_heard_as_nothing(hear: Callable[[np.ndarray], str]) -> None:
    rng = np.random.default_rng(2)
    for level in (0, 30, 1000):
        assert hear(rng.standard_normal(32000) * level) in ("", FILLER)


def test_a_word_added_to_the_lexicon_needs_no_training(tmp_path: Path) -> None:
    """Any word with phones can be listened for; here two that no training sentence is about."""
    vosk = pytest.importorskip("vosk")
    vosk.SetLogLevel(-1)
    graph = WordGraph(((0, 1, "orange", 0.0), (0, 1, "battery", 0.0)), {1: 0.0})
    model = vosk.Model(str(write_model_folder(tmp_path / "model", graph)))
    for word, sound in zip(("orange", "battery"), spoken("en-us", ["orange", "battery"], tmp_path), strict=True):
        recogniser = vosk.KaldiRecognizer(model, 16000)
        recogniser.AcceptWaveform(np.pad(sound, 4800).astype("<i2").tobytes())
        assert json.loads(recogniser.FinalResult())["text"] == word


def test_the_card_says_what_it_is_made_of() -> None:
    card = (MODEL / "MODEL_CARD.md").read_text(encoding="utf-8")
    for fact in ("Free Spoken Digit Dataset", "CC BY-SA 4.0", "espeak-ng", "flite", "festival", "seed", "weak"):
        assert fact in card, fact


def test_the_engine_library_is_found_without_a_system_install() -> None:
    loader = pytest.importorskip("espeakng_loader")
    assert ctypes.CDLL(loader.get_library_path())
