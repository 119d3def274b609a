"""The reading model at work: a voice says it, the recogniser hears it, the parser makes a value of it."""

import json
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from speech.general_model import general_phrases
from speech.graph import MODEL
from speech.hearing import EXPECTATIONS, hear, kind_for, reading_in
from speech.numbers import Spoken, parse_reading
from speech.ports import KINDS, Heard, ListeningKind, ModelError, Rejected, Silence, SpeechError
from speech.pyttsx3_voice import Synthesiser
from speech.recogniser import KEPT_MODELS, Recogniser, graph_folder
from speech.sound import Sound, add_noise, from_floats, resample, silence
from speech.vosk_ears import VoskEars


@pytest.fixture(scope="module")
def recogniser() -> Recogniser:
    return Recogniser()


@pytest.fixture(scope="module")
def voice() -> Iterator[Synthesiser]:
    with Synthesiser("en-us", cache=None) as made:
        yield made


@pytest.mark.parametrize(
    ("words", "value", "unit"),
    [
        ("four point nine six volts", 4.96, "V"),
        ("minus zero point zero two volts", -0.02, "V"),
        ("three five zero millivolts", 350, "mV"),
        ("one zero one point three kilopascals", 101.3, "kPa"),
        ("twelve point six volts", 12.6, "V"),
        ("two point two kilohms", 2.2, "kohm"),
        ("twenty one degrees celsius", 21, "degC"),
    ],
)
def test_a_spoken_reading_becomes_its_value(
    recogniser: Recogniser, voice: Synthesiser, words: str, value: float, unit: str
) -> None:
    heard = recogniser.decode(voice.synthesise(words), "reading")
    assert isinstance(heard, Heard)
    spoken = parse_reading(heard.words)
    assert isinstance(spoken, Spoken), heard
    assert (spoken.value, spoken.unit) == (value, unit)
    assert 0 < heard.confidence <= 1
    assert heard.level_dbfs > heard.noise_dbfs + 10


@pytest.mark.parametrize(
    "words", ["four point nine six volts", "three five zero millivolts", "one two point six volts"]
)
def test_a_call_beside_a_blowing_air_line_is_heard(recogniser: Recogniser, voice: Synthesiser, words: str) -> None:
    """White noise 5 dB under the voice; a network that heard so much of it with nobody speaking was deaf in it."""
    heard = recogniser.decode(add_noise(voice.synthesise(words), snr_db=5, kind="white", seed=4), "reading")
    assert isinstance(heard, Heard) and heard.words == words


@pytest.mark.parametrize("words", ["four point nine six volts", "three five zero millivolts"])
def test_talk_across_the_shop_before_a_call_is_not_part_of_it(
    recogniser: Recogniser, voice: Synthesiser, words: str
) -> None:
    call = resample(voice.synthesise(words), 16000).samples.astype(np.float64)
    talk = resample(voice.synthesise("two one eight, seven two, and the other one is in the van"), 16000).samples
    both = np.concatenate((talk * 10 ** (-20 / 20), np.zeros(1600), call, np.zeros(4800)))
    heard = recogniser.decode(Sound(np.round(both).astype(np.int16), 16000), "reading")
    assert isinstance(heard, Heard)
    assert parse_reading(heard.words) == parse_reading(words)


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("commands", "say again"),
        ("commands", "stop test"),
        ("commands", "can't see"),
        ("yes_no", "affirm"),
        ("codes", "p zero one zero seven"),
        ("digits", "four zero nine two"),
        ("initials", "juliett mike"),
        ("choice", "stalling"),
        ("reading", "oh el"),
        ("reading", "say again"),
        ("reading", "four point point six"),
    ],
)
def test_each_kind_hears_what_belongs_to_it(
    recogniser: Recogniser, voice: Synthesiser, kind: ListeningKind, words: str
) -> None:
    heard = recogniser.decode(voice.synthesise(words), kind)
    assert isinstance(heard, Heard), heard
    assert heard.words == words


@pytest.mark.parametrize("rate_hz", [8000, 16000, 44100, 48000])
def test_any_rate_is_heard(recogniser: Recogniser, voice: Synthesiser, rate_hz: int) -> None:
    heard = recogniser.decode(resample(voice.synthesise("five point one volts"), rate_hz), "reading")
    assert isinstance(heard, Heard)
    if rate_hz > 8000:
        assert heard.words == "five point one volts"


def test_silence_hiss_and_nothing_are_silence(recogniser: Recogniser) -> None:
    hiss = from_floats(np.random.default_rng(1).standard_normal(32000) * 0.002, 16000)
    for sound in (silence(2.0, rate_hz=16000), hiss, Sound(np.zeros(1, np.int16), 16000)):
        assert isinstance(recogniser.decode(sound, "reading"), Silence)


def test_talk_about_other_things_is_refused(recogniser: Recogniser, voice: Synthesiser) -> None:
    said = voice.synthesise("Could you please pass me the big hammer from the shelf behind you.")
    for kind in KINDS:
        assert isinstance(recogniser.decode(said, kind), Rejected | Silence), kind


def test_live_ears_hear_what_a_file_gives(recogniser: Recogniser, voice: Synthesiser) -> None:
    from speech.fakes import SoundSource

    ears = VoskEars(recogniser, SoundSource(voice.synthesise("four point nine six volts")))
    heard = ears.listen("reading", timeout_s=5)
    assert isinstance(heard, Heard)
    assert heard.words == "four point nine six volts"
    assert 1.0 < heard.ended_s - heard.started_s < 2.5


def test_noise_lowers_the_confidence_or_the_answer(recogniser: Recogniser, voice: Synthesiser) -> None:
    clean = voice.synthesise("four point nine six volts")
    noisy = recogniser.decode(add_noise(clean, snr_db=-12, seed=2), "reading")
    quiet = recogniser.decode(clean, "reading")
    assert isinstance(quiet, Heard)
    assert not isinstance(noisy, Heard) or noisy.confidence < quiet.confidence or noisy.words != quiet.words


def test_hear_gives_a_line(recogniser: Recogniser, voice: Synthesiser) -> None:
    line = hear(voice.synthesise("three five zero millivolts"), "V", recogniser=recogniser, file="a.wav")
    assert (line.file, line.text, line.value, line.unit) == ("a.wav", "three five zero millivolts", 0.35, "V")
    digits = hear(voice.synthesise("four zero nine two"), "digits", recogniser=recogniser)
    assert (digits.text, digits.value, digits.unit) == ("four zero nine two", None, None)
    nothing = hear(silence(1.0, rate_hz=16000), "V", recogniser=recogniser)
    assert (nothing.text, nothing.value, nothing.confidence) == ("", None, 0.0)


@pytest.mark.parametrize(
    ("said", "heard", "value"),
    [
        ("eight hundred r p m", "eight hundred rpm", 800),
        ("three thousand rpm", "three thousand rpm", 3000),
        ("one four five zero rpm", "one four five zero rpm", 1450),
    ],
)
def test_engine_speed_is_heard(recogniser: Recogniser, voice: Synthesiser, said: str, heard: str, value: float) -> None:
    line = hear(voice.synthesise(said), "rpm", recogniser=recogniser)
    assert (line.text, line.value, line.unit) == (heard, value, "rpm")


@pytest.mark.parametrize(
    ("words", "unit", "value"),
    [
        ("three five zero millivolts", "V", 0.35),
        ("four point nine six", "V", 4.96),
        ("fourteen point seven psi", "kPa", pytest.approx(101.3529, abs=1e-3)),
        ("two k two", "ohm", 2200),
        ("dead", "V", 0),
        ("four amps", "V", None),
        ("oh el", "ohm", None),
        ("four point point six", "V", None),
        ("four ninety eight", "V", None),
    ],
)
def test_readings_in_the_unit_expected(words: str, unit: str, value: float | None) -> None:
    assert reading_in(words, unit) == (value, None if value is None else unit)


def test_an_unknown_expectation_is_refused() -> None:
    assert kind_for("digits") == "digits"
    assert kind_for("commands") == "commands"
    with pytest.raises(SpeechError, match="nothing is measured in 'parsec'"):
        kind_for("parsec")
    assert {"V", "ohm", "kPa", "degC", "A", "Hz", "digits", "commands"} <= set(EXPECTATIONS)


def test_a_model_folder_that_lacks_a_part_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ModelError, match=r"no am/final\.mdl, no conf/mfcc\.conf"):
        Recogniser(tmp_path)
    shutil.copytree(MODEL, tmp_path / "model")
    (tmp_path / "model" / "am" / "final.mdl").write_bytes(b"")
    with pytest.raises(ModelError, match="reinstall"):
        Recogniser(tmp_path / "model")


def test_a_general_model_with_a_fixed_graph_or_without_our_words_is_refused(tmp_path: Path) -> None:
    graph = tmp_path / "graph"
    graph.mkdir()
    with pytest.raises(ModelError, match="its graph is fixed"):
        Recogniser(tmp_path)
    for name in ("HCLr.fst", "Gr.fst"):
        (graph / name).write_bytes(b"x")
    with pytest.raises(ModelError, match=r"no graph/words\.txt"):
        Recogniser(tmp_path)
    (graph / "words.txt").write_text("<eps> 0\nzero 1\none 2\n")
    with pytest.raises(ModelError, match="does not know the words amps, correction"):
        Recogniser(tmp_path)


def test_phrases_for_a_general_model_leave_out_what_it_lacks() -> None:
    phrases = general_phrases("reading", ["kilohms"])
    assert "[unk]" in phrases and "volts" in phrases and "kilohms" not in phrases
    assert not any("kilohms" in phrase for phrase in phrases)
    assert any(len(phrase.split()) > 3 for phrase in phrases)
    assert json.dumps(phrases)


def test_graphs_are_made_once_and_safely(tmp_path: Path) -> None:
    code = (
        "import sys; from pathlib import Path; from speech.recogniser import graph_folder; from speech.graph import MODEL;"
        "print(graph_folder(MODEL, 'yes_no', cache=Path(sys.argv[1])))"
    )
    both = [
        subprocess.Popen([sys.executable, "-c", code, str(tmp_path)], stdout=subprocess.PIPE, text=True)
        for _ in range(3)
    ]
    folders = {process.communicate(timeout=60)[0] for process in both}
    assert [process.returncode for process in both] == [0, 0, 0]
    assert len(folders) == 1
    (folder,) = tmp_path.iterdir()
    assert (folder / "graph" / "HCLG.fst").stat().st_size > 1000
    before = (folder / "graph" / "HCLG.fst").stat().st_mtime_ns
    assert graph_folder(MODEL, "yes_no", cache=tmp_path) == folder
    assert (folder / "graph" / "HCLG.fst").stat().st_mtime_ns == before


def test_the_engine_prints_nothing(voice: Synthesiser, capfd: pytest.CaptureFixture[str]) -> None:
    Recogniser().decode(voice.synthesise("half a volt"), "reading")
    assert capfd.readouterr() == ("", "")


def test_an_unknown_kind_is_refused(recogniser: Recogniser) -> None:
    with pytest.raises(ValueError, match="no kind of listening 'song'"):
        recogniser.stream("song")  # type: ignore[arg-type]


def test_only_so_many_kinds_stay_in_memory_and_each_still_hears(voice: Synthesiser) -> None:
    ears = Recogniser(kinds=KINDS)
    assert len(ears._loaded) == KEPT_MODELS < len(KINDS)
    heard = ears.decode(voice.synthesise("say again"), KINDS[0])
    assert isinstance(heard, Heard) and heard.words == "say again"
    assert len(ears._loaded) == KEPT_MODELS


def test_kinds_loaded_ahead_are_there_and_a_broken_model_is_told_to_whoever_listens(
    tmp_path: Path, voice: Synthesiser
) -> None:
    ears = Recogniser()
    ears.load_ahead(["commands"])
    heard = ears.decode(voice.synthesise("say again"), "commands")
    assert isinstance(heard, Heard) and heard.words == "say again"
    shutil.copytree(MODEL, tmp_path / "model")
    (tmp_path / "model" / "am" / "final.mdl").write_bytes(b"no model")
    broken = Recogniser(tmp_path / "model", cache=tmp_path / "cache")
    broken.load_ahead(["commands"])
    with pytest.raises(ModelError, match="cannot load this model"):
        broken.load("commands")
