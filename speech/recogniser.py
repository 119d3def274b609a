"""Sound -> words of one kind of listening, with the shipped reading model or a general Vosk model folder."""

import json
import threading
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from hashlib import sha256
from math import exp
from pathlib import Path
from types import ModuleType
from typing import Protocol

import numpy as np

from speech.general_model import check_general_model, general_phrases
from speech.grammar import grammar_for, vocabulary
from speech.graph import FILLER, FILLER_COST, FILLER_ENTRY, MODEL, write_model_folder
from speech.levels import FRAME_S, callers_part, speech_levels
from speech.lexicon import TABLE, missing
from speech.meaning import by_meaning, meaning_of
from speech.places import cache_folder, keep_newest, made_folder
from speech.ports import KINDS, Alternative, Heard, ListeningKind, ModelError, Rejected, Silence
from speech.sentences import Walker
from speech.sound import Sound, frame_levels_dbfs, resample

RATE_HZ = 16000
KEPT_GRAPHS = 12
"""Of each kind: one a person the ears were fitted to, and those of other models."""
KEPT_MODELS = 2
"""Kinds held in memory at once, 35 MB each; what is seldom asked for is loaded again in 0.1 s."""
ALTERNATIVES = 10
SHARPNESS = 0.5
"""Scores of alternatives are multiplied by this before they become shares of certainty."""
SUREST, DOUBTING = 0.98, 1.3
"""A share c of certainty is trusted as 0.98 c^1.3: voices never trained on are wrong that much more often than their shares
say. Fitted to three neural speakers kept out of training, clean and at 10 and 5 dB; of 420 call-outs of theirs that were heard
the expected calibration error is 0.037 without and 0.020 with. Of people in training it errs to the safe side (0.059 and 0.096)."""

HISS_DB, HISS_DBFS = 25.0, -55.0
"""Hiss under all that is heard, so far below the voice, or at this level when nobody knows how loud that is. Silence made by
a gate, and a band that was cut off, are less like anything the network knows than a little noise is: four digits of two
people left out of training, clean, 54 and 76 % right without it, 67 and 93 with it."""
GUESSED: Mapping[ListeningKind, float] = {"reading": 0.25, "digits": 0.0}
GUESSED_WORD = 0.4
"""Heard with less certainty it counts as not understood; digits alone, which practice asks for, are taken as heard. Of voices
never trained on under one in ten readings below 0.2 and four of ten words below 0.4 were right; a quarter of the values heard
in talk of other people lie below 0.25 (the model's card). In talk 14 dB under the caller "light" was taken with 0.20 for a
complaint."""
DISPUTED = 0.75
"""Of certainty, where a call-out is heard otherwise without what is fainter around it: about the share right then."""

_PARTS = ("am/final.mdl", "conf/mfcc.conf", "conf/model.conf")
_SOURCES = (
    *("graph", "grammar", "sentences", "commands", "choices", "numbers", "plain_numbers", "spelling", "cardinals"),
    "units",
)

FILLERS: dict[str, tuple[float, float]] = {"commands": (4.0, 1.2), "choice": (4.0, 1.2), "digits": (4.0, 1.2)}
"""Cost to enter the filler and of each of its phones, by kind; other kinds keep what speech.graph says.

A command that is refused stops the work, one that is taken wrongly is seen at once, so these kinds refuse less: on six
voices in training 1.6 % of commands at 8 dB instead of 7.1 % (see the model's card). Yes and no stay strict.
"""


@dataclass(frozen=True)
class Decoded:
    """What the engine made of the sound; no words is silence or noise."""

    words: str
    confidence: float
    alternatives: tuple[Alternative, ...] = ()

    @property
    def is_filler(self) -> bool:
        return FILLER in self.words.split() or "[unk]" in self.words.split()


class Stream:
    """One utterance while it comes in: 16 kHz samples, what is heard so far, what was heard in the end."""

    def __init__(self, engine: "_Vosk", kind: ListeningKind, *, hiss_dbfs: float = HISS_DBFS) -> None:
        """hiss_dbfs: level of the hiss put under what comes in."""
        self._engine, self._kind = engine, kind
        self._hiss = min(3000.0, max(1.5, 32768 * 10 ** (hiss_dbfs / 20)))
        self._rng = np.random.default_rng(0)

    def accept(self, samples: np.ndarray) -> None:
        """More samples (int16, 16 kHz)."""
        if len(samples) == 0:
            return
        heard = samples + self._hiss * self._rng.standard_normal(len(samples), np.float32)
        self._engine.AcceptWaveform(np.round(heard).clip(-32768, 32767).astype("<i2").tobytes())

    def partial(self) -> str:
        """The likeliest words so far."""
        return str(json.loads(self._engine.PartialResult()).get("partial", ""))

    def finish(self) -> Decoded:
        """The words, once no more samples come."""
        found = json.loads(self._engine.FinalResult()).get("alternatives", [])
        scored = [(str(one.get("text", "")).strip(), float(one.get("confidence", 0.0))) for one in found]
        shares = by_meaning(confidences(scored, sharpness=SHARPNESS), self._kind)
        ranked = [(words, SUREST * share**DOUBTING) for words, share in shares]
        if not ranked:
            return Decoded("", 0.0)
        (words, best), *others = ranked
        return Decoded(words, best, tuple(Alternative(text, share) for text, share in others))


class _Vosk(Protocol):
    def AcceptWaveform(self, data: bytes) -> object: ...  # noqa: N802
    def PartialResult(self) -> str: ...  # noqa: N802
    def FinalResult(self) -> str: ...  # noqa: N802
    def SetMaxAlternatives(self, count: int) -> None: ...  # noqa: N802


def confidences(scored: Sequence[tuple[str, float]], *, sharpness: float = SHARPNESS) -> list[tuple[str, float]]:
    """Each text once, with its share of certainty from the log scores, likeliest first.

    >>> confidences([("five", -10.0), ("nine", -10.0)], sharpness=1.0)
    [('five', 0.5), ('nine', 0.5)]
    """
    best: dict[str, float] = {}
    for text, score in scored:
        best[text] = max(score, best.get(text, score))
    if not best:
        return []
    top = max(best.values())
    weights = {text: exp(sharpness * (score - top)) for text, score in best.items()}
    total = sum(weights.values())
    return sorted(((text, weight / total) for text, weight in weights.items()), key=lambda pair: -pair[1])


class Recogniser:
    """Ears without a microphone: one graph for each kind, made once and kept, loaded when first wanted."""

    def __init__(
        self, model: Path | str | None = None, kinds: Sequence[ListeningKind] = (), *, cache: Path | None = None
    ) -> None:
        """model: None for the shipped one. kinds: loaded at once. Raises ModelError for a folder that will not do."""
        self.model = Path(model) if model is not None else MODEL
        self._vosk = _import_vosk()
        self._lock = threading.Lock()
        self._loaded: OrderedDict[str, object] = OrderedDict()
        self._walkers: dict[str, Walker] = {}
        self.missing: tuple[str, ...] = ()
        self.general = (self.model / "graph").is_dir()
        self._cache = cache
        if self.general:
            self.missing = check_general_model(self.model)
        else:
            check_model(self.model)
        for kind in kinds:
            self.load(kind)

    def load(self, kind: ListeningKind) -> None:
        """Have this kind ready; the first time on a machine its graph is made."""
        self._model(kind)

    def use(self, model: Path) -> None:
        """Hear with another model folder of our own from the next utterance on; what was loaded is loaded again meanwhile."""
        with self._lock:
            if model == self.model:
                return
            check_model(model)
            self.model, kinds = model, tuple(self._loaded)
            self._loaded.clear()
        self.load_ahead([kind for kind in KINDS if kind in kinds])

    def load_ahead(self, kinds: Sequence[ListeningKind]) -> None:
        """Load these kinds while other things are done; who wants one before that waits for it."""

        def each() -> None:
            for kind in kinds:
                with suppress(ModelError):  # told to whoever wants the kind
                    self.load(kind)

        threading.Thread(target=each, name="loading").start()

    def walker(self, kind: ListeningKind) -> Walker:
        """The grammar of a kind, to see whether words are whole."""
        if kind not in self._walkers:
            self._walkers[kind] = Walker(grammar_for(kind))
        return self._walkers[kind]

    def stream(self, kind: ListeningKind, *, hiss_dbfs: float = HISS_DBFS) -> Stream:
        """A fresh utterance of this kind; hiss_dbfs: see HISS_DB."""
        model = self._model(kind)
        if self.general:
            engine = self._vosk.KaldiRecognizer(model, RATE_HZ, json.dumps(general_phrases(kind, self.missing)))
        else:
            engine = self._vosk.KaldiRecognizer(model, RATE_HZ)
        engine.SetMaxAlternatives(ALTERNATIVES)
        return Stream(engine, kind, hiss_dbfs=hiss_dbfs)

    def decode(self, sound: Sound, kind: ListeningKind) -> Heard | Silence | Rejected:
        """What is said in a whole recording."""
        level, noise = speech_levels(sound)
        samples = resample(sound, RATE_HZ).samples
        whole = self._decoded(samples, kind)
        return result_of(self.callers_words(whole, samples, kind), kind, level, noise, ended_s=sound.duration_s)

    def callers_words(self, whole: Decoded, samples: np.ndarray, kind: ListeningKind) -> Decoded:
        """What the caller's part of the sound holds, when something fainter was to be heard before or after it.

        whole: what all of it (int16, 16 kHz) was heard as. Where the two differ, certainty falls to DISPUTED of it.
        """
        part = callers_part(frame_levels_dbfs(Sound(samples, RATE_HZ)))
        size = round(FRAME_S * RATE_HZ)
        if (part.start, part.stop) == (0, len(samples) // size) or not whole.words:
            return whole
        near = self._decoded(samples[part.start * size : part.stop * size], kind)
        if not near.words or near.is_filler or meaning_of(near.words, kind) == meaning_of(whole.words, kind):
            return near
        others = tuple(replace(one, confidence=DISPUTED * one.confidence) for one in near.alternatives)
        return Decoded(near.words, DISPUTED * near.confidence, others)

    def _decoded(self, samples: np.ndarray, kind: ListeningKind) -> Decoded:
        level, _ = speech_levels(Sound(samples, RATE_HZ))
        stream = self.stream(kind, hiss_dbfs=level - HISS_DB)
        margin = np.zeros(round(0.3 * RATE_HZ), np.int16)
        stream.accept(np.concatenate([margin, samples, margin]))
        return stream.finish()

    def _model(self, kind: ListeningKind) -> object:
        if kind not in KINDS:
            raise ValueError(f"there is no kind of listening {kind!r}; one of {', '.join(KINDS)}")
        key = "general" if self.general else kind
        with self._lock:
            if key not in self._loaded:
                folder = self.model if self.general else graph_folder(self.model, kind, cache=self._cache)
                try:
                    self._loaded[key] = self._vosk.Model(str(folder))
                except Exception as problem:
                    raise ModelError(f"{folder}: the recogniser cannot load this model ({problem})") from problem
                while len(self._loaded) > KEPT_MODELS:
                    self._loaded.popitem(last=False)
            self._loaded.move_to_end(key)
            return self._loaded[key]


def result_of(
    decoded: Decoded,
    kind: ListeningKind,
    level_dbfs: float,
    noise_dbfs: float,
    *,
    started_s: float = 0.0,
    ended_s: float = 0.0,
) -> Heard | Silence | Rejected:
    """What hearing these words amounts to: filler and guesses are refused, nothing is silence."""
    if not decoded.words:
        return Silence(ended_s - started_s)
    if decoded.is_filler or decoded.confidence < GUESSED.get(kind, GUESSED_WORD):
        return Rejected(decoded.words, decoded.confidence, level_dbfs, noise_dbfs)
    return Heard(
        decoded.words, decoded.confidence, decoded.alternatives, level_dbfs, noise_dbfs, started_s, ended_s, "voice"
    )


def _import_vosk() -> ModuleType:
    import vosk

    vosk.SetLogLevel(-2)  # warnings of the engine are no news to a technician
    module: ModuleType = vosk
    return module


def check_model(model: Path) -> None:
    """Raise ModelError when a part of the folder is missing."""
    absent = [part for part in _PARTS if not (model / part).is_file() or (model / part).stat().st_size == 0]
    if absent:
        raise ModelError(f"{model}: no {', no '.join(absent)}; reinstall, or give another folder with --model")


def graph_folder(model: Path, kind: ListeningKind, *, cache: Path | None = None) -> Path:
    """The folder with the graph of a kind, made when it is not there yet; two programs at once do no harm."""
    entry, phone = FILLERS.get(kind, (FILLER_ENTRY, FILLER_COST))
    target = (cache or cache_folder("graphs")) / f"{kind}-{_key(model, entry, phone)}"

    def make(folder: Path) -> None:
        unknown = missing(vocabulary(kind))
        if unknown:
            raise ModelError(f"no pronunciation for {', '.join(unknown)}; add them to speech/model/lexicon.txt")
        write_model_folder(folder, grammar_for(kind), model=model, filler_cost=phone, filler_entry=entry)
        keep_newest(target.parent, f"{kind}-*", KEPT_GRAPHS)

    return made_folder(target, make)


def _key(model: Path, entry: float, phone: float) -> str:
    """Changes when the model, the words, the costs of the filler or the code that makes graphs changes."""
    here = Path(__file__).parent
    digest = sha256(f"{entry} {phone}".encode())
    for path in (*(model / part for part in _PARTS), TABLE, *(here / f"{name}.py" for name in _SOURCES)):
        digest.update(sha256(path.read_bytes()).digest())
    return digest.hexdigest()[:16]
