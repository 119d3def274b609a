"""Development clips that settings of the decoder and of refusal are chosen by; no test voice or person is among them.

Call-outs: the four neural speakers kept out of training, some voices of training, the digits of people in training.
No call-outs: talk by the same, sentences of people in other languages (`--abroad`, folders of WAV files, such as the
`sounds/` of Debian's asterisk-core-sounds-fr-wav, -it-wav and -ru-wav), radios, coughs and spanners made anew, and
sentences of flows leaking from a headset, lines of actors that no net learns. Debian's English announcer is a test person
and stays out.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from random import Random

import numpy as np

from speech import chatter
from speech.commands import COMMANDS
from speech.grammar import grammar_for
from speech.ports import ListeningKind
from speech.sentences import Walker
from speech.training import actors, noises, people, saying, speakers, texts, voices
from speech.training.people import Said
from speech.training.speakers import Speak
from speech.training.voices import Clip

RATE_HZ = noises.RATE_HZ
LEARNED = ("george", "jackson", "nicolas")
LEAKED_BY = ("en-gb-x-rp", "en-us-nyc+f2")
_NUMBERED = (
    "we need {} more of those by {} o'clock", "it was about {} years ago", "he lives at number {}",
    "I paid {} pounds for the pair", "the other {} are in the van", "page {} of the book", "take the {} bus from here",
    "there were {} of us at the party", "she is {} next birthday", "{} people came and {} went home",
)  # fmt: skip
"""Talk that holds a number and is no call-out. Invented here."""


@dataclass(frozen=True)
class Group:
    """Clips listened to as one kind; `true` when they are call-outs."""

    name: str
    kind: ListeningKind
    calls: tuple[Said, ...]

    @property
    def true(self) -> bool:
        return any(call.words for call in self.calls)


def _readings(speak: Speak, who: str, count: int, seed: int) -> Iterator[Said]:
    """Half plain readings, half the forms in turn."""
    rng, allowed = Random(f"{seed} {who}"), Walker(grammar_for("reading")).accepts
    forms = list(saying.FORMS.values())
    made = 0
    while made < count:
        words = texts.plain_reading(rng) if made % 2 else forms[made // 2 % len(forms)](rng)
        if allowed(" ".join(words)):
            made += 1
            yield Said(who, " ".join(words), speak(words))


def _talk(speak: Speak, who: str, count: int, seed: int) -> Iterator[Said]:
    rng = Random(f"talk {seed} {who}")
    for number in range(count):
        words = chatter.talk(rng)
        if number % 4 == 3:
            template = rng.choice(_NUMBERED)
            numbers = [" ".join(texts.natural(rng.randrange(2, 200), rng)) for _ in range(template.count("{}"))]
            words = template.format(*numbers)
        yield Said(who, "", speak(words.replace("'", "").split()))


def _abroad(folders: Iterable[Path], count: int) -> Iterator[Said]:
    """Sentences of people in other languages, one person a folder."""
    for folder in folders:
        if folder.resolve() == people.ANNOUNCER.resolve():
            raise ValueError(f"{folder} is a test person; nothing may be chosen by her")
        paths = [path for path in sorted(folder.glob("*.wav")) if path.stat().st_size > 2 * 8000 * 1.2]
        for path in Random(str(folder.name)).sample(paths, min(count, len(paths))):
            sound = voices._read_wav(path)
            if len(sound) > RATE_HZ and "beep" not in path.stem and "tone" not in path.stem:
                yield Said(f"person {folder.name}", "", sound[: 6 * RATE_HZ])


def _actors(count: int) -> Iterator[Said]:
    lines = actors.clips(actors.kept_back()) if actors.have() else []
    long = [clip for clip in lines if len(clip.sound) > 0.8 * RATE_HZ]
    return (Said(clip.voice, "", clip.sound) for clip in Random(59).sample(long, min(count, len(long))))


def _made(count: int) -> Iterator[Said]:
    rng = np.random.default_rng(101)
    for _ in range(count):
        yield Said("cough", "", saying.cough(rng))
        yield Said("dropped spanner", "", saying.spanner(rng))
    for name, make in (("radio", noises.radio), ("others", noises.others)):
        for _ in range(count // 6):
            long = make(24 * RATE_HZ, rng)
            long = long / np.sqrt(np.mean(long**2)) * 2000
            for part in np.array_split(long, 6):
                yield Said(name, "", np.round(part).clip(-32000, 32000).astype(np.int16))


def _leaked(sentences: Sequence[str]) -> Iterator[Said]:
    for number, sentence in enumerate(sentences):
        own = speakers.espeak(LEAKED_BY[number % 2])
        yield Said("own voice", "", saying.leaking(own(sentence.split())))


def _own_sentences(count: int) -> list[str]:
    """Sentences that steps of the shipped flows speak, with the values put in."""
    rng = Random(3)
    parts = (
        "check the supply at {} volts", "resistance is {} ohms, wanted under {}", "step {} of {}", "hold the probe still",
        "key on, engine off", "I have {} volts", "out of limits, repair the wire", "disconnect the battery first",
        "the reading is {} kilopascals", "go to pin {}", "is {} right", "wait {} seconds, then call",
    )  # fmt: skip
    drawn = [parts[number % len(parts)] for number in range(count)]
    return [
        text.replace(",", "").format(*(" ".join(texts.natural(rng.randrange(1, 400), rng)) for _ in range(2)))
        for text in drawn
    ]


def groups(
    keep: Path, *, folder: Path | None, abroad: Sequence[Path], only: Sequence[str] = (), size: int = 24
) -> Iterator[Group]:
    """Every group (those whose name begins with one of `only`), made once and kept in a folder."""

    def group(name: str, kind: ListeningKind, made: Iterator[Said]) -> Group:
        stem = keep / f"rejecting {name} {size}".replace(" ", "-")
        if stem.with_suffix(".npy").exists():
            return Group(name, kind, tuple(Said(clip.voice, clip.text, clip.sound) for clip in voices.load(stem)))
        calls = list(made)
        stem.parent.mkdir(parents=True, exist_ok=True)
        voices.save([Clip(call.sound, (), call.words, call.who) for call in calls], stem)
        return Group(name, kind, tuple(calls))

    kept = speakers.development()
    learned = {f"espeak {name}": speakers.espeak(name) for name in ("en-us", "en-029+m2", "en-us+f4", "en-gb-x-rp")}
    learned |= {f"flite {name}": speakers.flite(name) for name in ("rms", "slt", "awb")} if voices.have_flite() else {}
    makers: dict[str, tuple[ListeningKind, Callable[[], Iterator[Said]]]] = {
        "noises": ("reading", lambda: _made(2 * size)),
        "leaked": ("reading", lambda: _leaked(_own_sentences(3 * size))),
        "abroad": ("reading", lambda: _abroad(abroad, 4 * size)),
        "talk actors": ("reading", lambda: _actors(8 * size)),
    }
    for who, speak in (learned | kept).items():
        count = 2 * size if who in kept else size
        makers[f"readings {who}"] = ("reading", partial(_readings, speak, who, count, 51))
        makers[f"talk {who}"] = ("reading", partial(_talk, speak, who, size, 53))
    for who, speak in kept.items():
        makers[f"commands {who}"] = ("commands", partial(_commands, who, speak))
    if folder is not None:
        for name in LEARNED:
            makers[f"digits {name}"] = ("digits", partial(people.digits, folder, name, size, seed=57))
    for name, (kind, make) in makers.items():
        if not only or name.startswith(tuple(only)):
            yield group(name, kind, make())


def _commands(who: str, speak: Speak) -> Iterator[Said]:
    return (Said(who, phrase, speak(phrase.split())) for phrase in sorted(COMMANDS)[1::3])
