"""The sets the reading model is measured on: who says what, listened to as what. Each has its own seed.

What the machine cannot make (people's recordings, flite, festival, the neural voice) is left out and named by `lacking`.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from random import Random
from typing import Literal

import numpy as np

from speech import chatter
from speech.commands import COMMANDS
from speech.grammar import grammar_for
from speech.ports import ListeningKind
from speech.sentences import Walker
from speech.training import people, saying, speakers, texts, voices
from speech.training.noises import RATE_HZ, noise
from speech.training.people import Said
from speech.training.speakers import Speak
from speech.training.voices import Clip

Part = Literal["trained", "development", "test"]


@dataclass(frozen=True)
class Set:
    """Call-outs measured together. `whole`: at every level; else clean and at 10 dB."""

    name: str
    kind: ListeningKind
    part: Part
    calls: tuple[Said, ...]
    whole: bool = False

    @property
    def rejection(self) -> bool:
        """Nothing in this set is a call-out."""
        return not any(call.words for call in self.calls)


def _spoken(voices_: dict[str, Speak], draw: Callable[[Random], list[str]], count: int, seed: int) -> Iterator[Said]:
    for who, speak in voices_.items():
        rng = Random(f"{seed} {who}")
        for _ in range(count):
            words = draw(rng)
            yield Said(who, " ".join(words), speak(words))


def _talk(voices_: dict[str, Speak], count: int, seed: int) -> Iterator[Said]:
    said = _spoken(voices_, lambda rng: chatter.talk(rng).split(), count, seed)
    return (Said(call.who, "", call.sound) for call in said)


def _commands(voices_: dict[str, Speak], every: int) -> Iterator[Said]:
    for who, speak in voices_.items():
        for phrase in sorted(COMMANDS)[::every]:
            yield Said(who, phrase, speak(phrase.split()))


def _forms(voices_: dict[str, Speak], name: str, count: int) -> Iterator[Said]:
    allowed = Walker(grammar_for("reading")).accepts
    for who, speak in voices_.items():
        rng, made = Random(f"{name} {who}"), 0
        while made < count:
            words = saying.FORMS[name](rng)
            if allowed(" ".join(words)):
                made += 1
                yield Said(who, " ".join(words), speak(words))


def _effects(calls: Iterable[Said], name: str) -> Iterator[Said]:
    return (Said(call.who, call.words, saying.EFFECTS[name](call.sound)) for call in calls)


def _no_voices(count: int) -> Iterator[Said]:
    """Coughs, dropped spanners, stretches of radio of 4 s, and the tool's own voice leaking from a headset."""
    rng = np.random.default_rng(23)
    for _ in range(count):
        yield Said("cough", "", saying.cough(rng))
        yield Said("dropped spanner", "", saying.spanner(rng))
        yield Said("radio", "", np.round(noise("radio", 4 * RATE_HZ, rng) * 2000).clip(-32000, 32000).astype(np.int16))
    own = speakers.espeak(speakers.TOOLS_OWN)
    for sentence in saying.PROMPTS * (1 + count // (2 * len(saying.PROMPTS))):
        yield Said("tool's own voice", "", saying.leaking(own(sentence.replace(",", "").split())))


def _digit_people(folder: Path | None, speaker: str, count: int) -> Iterator[Said]:
    return people.digits(folder, speaker, count, seed=19) if folder else iter(())


def lacking(folder: Path | None) -> list[str]:
    """What is measured elsewhere but not on this machine."""
    there = {
        "people of the digits' folder (--people)": folder is not None,
        "the announcer": people.ANNOUNCER.exists(),
        "pocketsphinx-testdata": people.OTHERS.exists(),
        "flite": voices.have_flite(),
        "piper joe": "piper joe" in speakers.unseen(),
        "festival ked": "festival ked" in speakers.unseen(),
        "development voices": bool(speakers.development()),
    }
    return [what for what, found in there.items() if not found]


class Sets:
    """Makes sets, each once; kept in a folder they are not made again."""

    def __init__(self, keep: Path | None, *, count: int, folder: Path | None, only: Sequence[str] = ()) -> None:
        """only: beginnings of the names of sets that are wanted; the others stay empty."""
        self._keep, self.count, self._folder, self._only = keep, count, folder, tuple(only)

    def _set(self, name: str, kind: ListeningKind, part: Part, make: Iterator[Said], *, whole: bool = False) -> Set:
        stem = (
            self._keep / f"{part} {name} {kind} {self.count}".replace(" ", "-").replace("/", "-")
            if self._keep
            else None
        )
        if self._only and not name.startswith(self._only):
            calls = []
        elif stem and stem.with_suffix(".npy").exists():
            calls = [Said(clip.voice, clip.text, clip.sound) for clip in voices.load(stem)]
        else:
            calls = list(make)
            if stem:
                stem.parent.mkdir(parents=True, exist_ok=True)
                voices.save([Clip(call.sound, (), call.words, call.who) for call in calls], stem)
        return Set(name, kind, part, tuple(calls), whole)

    def left_out(self, speaker: str) -> Set:
        """For a net that was trained without this person."""
        strings = _digit_people(self._folder, speaker, 3 * self.count)
        return self._set(f"4 digits, {speaker} left out", "digits", "test", strings, whole=True)

    def development(self) -> Iterator[Set]:
        """By these the settings are chosen."""
        kept = speakers.development()
        yield self._set(
            "readings with unit", "reading", "development", _spoken(kept, texts.plain_reading, self.count // 2, 31)
        )
        yield self._set("commands", "commands", "development", _commands(kept, 4))
        yield self._set("talk", "reading", "development", _talk(kept, self.count // 4, 37))

    def trained(self) -> Iterator[Set]:
        heard = speakers.trained()
        yield self._set(
            "readings with unit", "reading", "trained", _spoken(heard, texts.plain_reading, self.count // 2, 41)
        )
        yield self._set("commands", "commands", "trained", _commands(heard, 3))

    def test(self) -> Iterator[Set]:
        """Whole engines and people that were never heard; nothing is chosen by these."""
        unseen, count = speakers.unseen(), self.count
        singles = people.single_strings()
        yield self._set("4 digits", "digits", "test", people.announcer(3 * count, seed=17), whole=True)
        yield self._set("other digit strings", "digits", "test", singles)
        numbers = people.announcer(count, seed=29, whole_numbers=True)
        yield self._set("whole numbers", "reading", "test", numbers)
        plain = self._set(
            "readings with unit", "reading", "test", _spoken(unseen, texts.plain_reading, 2 * count, 11), whole=True
        )
        yield plain
        yield self._set("commands", "commands", "test", _commands(unseen, 1), whole=True)
        for name in saying.FORMS:
            yield self._set(f"form: {name}", "reading", "test", _forms(unseen, name, count // 3))
        for name in saying.EFFECTS:
            yield self._set(f"form: {name}", "reading", "test", _effects(plain.calls[::4], name))

    def rejection(self) -> Iterator[Set]:
        yield self._set("talk, synthetic", "reading", "test", _talk(speakers.unseen(), self.count, 13))
        yield self._set("talk, people", "reading", "test", people.talk())
        yield self._set("no talk", "reading", "test", _no_voices(self.count))
