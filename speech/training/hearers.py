"""What is measured: our recogniser as the program runs it, and PocketSphinx with the same grammar and words.

PocketSphinx (BSD-like) brings its own general model of American English; it is given our word graph as a finite
state grammar, and our lexicon, so that both may hear exactly the same sentences.
"""

import time
from dataclasses import dataclass
from math import exp
from pathlib import Path
from tempfile import NamedTemporaryFile
from typing import Protocol

import numpy as np

from speech.grammar import grammar_for
from speech.lexicon import pronounce
from speech.ports import Heard, ListeningKind
from speech.recogniser import RATE_HZ, Recogniser
from speech.sound import Sound


@dataclass(frozen=True)
class Answer:
    """Words heard, none where the sound was refused or held nothing, and how sure the hearer is."""

    words: str
    confidence: float
    took_s: float  # of processor time


class Hearer(Protocol):
    """Something that turns sound at 16 kHz into words."""

    name: str

    def hear(self, sound: np.ndarray, kind: ListeningKind) -> Answer: ...


class Ours:
    """The program's own recogniser with a model folder."""

    def __init__(self, model: Path, *, cache: Path | None = None, name: str = "ours") -> None:
        self.name = name
        self._recogniser = Recogniser(model, cache=cache)

    def hear(self, sound: np.ndarray, kind: ListeningKind) -> Answer:
        self._recogniser.load(kind)
        began = time.process_time()
        heard = self._recogniser.decode(Sound(sound.astype(np.int16), RATE_HZ), kind)
        took_s = time.process_time() - began
        if isinstance(heard, Heard):
            return Answer(heard.words, heard.confidence, took_s)
        return Answer("", getattr(heard, "confidence", 0.0), took_s)


class Sphinx:
    """PocketSphinx; a grammar is loaded when it is first wanted."""

    name = "PocketSphinx"

    def __init__(self) -> None:
        self._decoders: dict[ListeningKind, object] = {}

    def hear(self, sound: np.ndarray, kind: ListeningKind) -> Answer:
        if kind not in self._decoders:
            self._decoders[kind] = self._load(kind)
        decoder = self._decoders[kind]
        began = time.process_time()
        decoder.start_utt()  # type: ignore[attr-defined]
        decoder.process_raw(np.pad(sound, RATE_HZ // 10).astype("<i2").tobytes(), full_utt=True)  # type: ignore[attr-defined]
        decoder.end_utt()  # type: ignore[attr-defined]
        found = decoder.hyp()  # type: ignore[attr-defined]
        return Answer(found.hypstr if found else "", 0.0, time.process_time() - began)

    def _load(self, kind: ListeningKind) -> object:
        from pocketsphinx import Decoder, get_model_path

        graph = grammar_for(kind)
        words = sorted({word for _, _, word, _ in graph.arcs if word})
        with NamedTemporaryFile("w", suffix=".dict") as lexicon:
            for word in words:
                for turn, phones in enumerate(pronounce(word), 1):
                    lexicon.write(f"{word}{f'({turn})' if turn > 1 else ''} {' '.join(phones)}\n")
            lexicon.flush()
            decoder = Decoder(
                hmm=f"{get_model_path()}/en-us/en-us",
                dict=lexicon.name,
                lm=None,
                samprate=RATE_HZ,
                maxhmmpf=3000,
                loglevel="FATAL",
            )
        end = 1 + max(max(source, target) for source, target, _, _ in graph.arcs)
        arcs = [
            (source, target, exp(-cost), word) if word else (source, target, exp(-cost))
            for source, target, word, cost in graph.arcs
        ]
        arcs += [(state, end, exp(-cost)) for state, cost in graph.finals.items()]
        decoder.add_fsg(kind, decoder.create_fsg(kind, 0, end, arcs))
        decoder.activate_search(kind)
        return decoder
