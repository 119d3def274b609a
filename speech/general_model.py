"""A general Vosk model given with --model: whether it will do, and what it is told to listen for."""

import random
from collections.abc import Sequence
from pathlib import Path

from speech.cardinals import DIGIT_WORDS, TEENS, TENS
from speech.grammar import grammar_for, vocabulary
from speech.ports import KINDS, ListeningKind, ModelError
from speech.sentences import Walker


def check_general_model(model: Path) -> tuple[str, ...]:
    """Words of ours that a general model does not know. Raises ModelError when it cannot be used at all."""
    graph = model / "graph"
    if not (graph / "HCLr.fst").is_file() or not (graph / "Gr.fst").is_file():
        what = f"{model}: its graph is fixed, so what may be said cannot be told to it"
        raise ModelError(f"{what}; use a model with graph/HCLr.fst and graph/Gr.fst, or leave --model out")
    try:
        lines = (graph / "words.txt").read_text(encoding="utf-8").splitlines()
    except OSError as problem:
        raise ModelError(f"{model}: no graph/words.txt ({problem.strerror}); it is not a whole Vosk model") from problem
    known = {line.split()[0] for line in lines if line.strip()}
    lacking = tuple(sorted({word for kind in KINDS for word in vocabulary(kind)} - known))
    grave = [word for word in lacking if word in ESSENTIAL_WORDS]
    if grave:
        raise ModelError(f"{model}: it does not know the words {', '.join(grave)}; readings need them, use another")
    return lacking


ESSENTIAL_WORDS = frozenset(
    [
        *DIGIT_WORDS,
        *TEENS,
        *TENS,
        *("hundred", "point", "minus", "half", "volts", "ohms", "amps", "degrees", "percent", "open"),
        *("yes", "no", "wrong", "correction", "stop", "test", "repeat", "pause"),
    ]
)
"""Without these a general model is refused; other words it lacks are left out and named."""


def general_phrases(kind: ListeningKind, lacking: Sequence[str]) -> list[str]:
    """Phrases of a kind for an engine that takes a list: sentences by chance, and every word on its own."""
    walker, rng, gone = Walker(grammar_for(kind)), random.Random(0), set(lacking)
    drawn = (walker.sample(rng) for _ in range(400))
    sentences = {" ".join(words) for words in drawn if words and not gone & set(words)}
    return [*sorted(sentences), *(word for word in vocabulary(kind) if word not in gone), "[unk]"]
