"""When an utterance is over: a sentence that cannot go on needs less silence after it than one that could."""

from dataclasses import dataclass, field
from typing import Literal

from speech.graph import FILLER
from speech.levels import FRAME_S
from speech.plain_numbers import POINTS
from speech.sentences import Walker

Ending = Literal["none", "part", "bare", "open", "closed"]


@dataclass(frozen=True)
class Waits:
    """Silence after speech that ends an utterance [s], and bounds for what never ends."""

    closed_s: float = 0.25
    open_s: float = 0.5
    bare_s: float = 0.8
    part_s: float = 1.1
    no_words_s: float = 0.7
    noise_extra_s: float = 0.3
    longest_s: float = 12.0

    def after(self, ending: Ending) -> float:
        """Silence wanted after words that have come so far [s]."""
        waits: dict[Ending, float] = {
            **{"none": self.no_words_s, "part": self.part_s, "bare": self.bare_s},
            **{"open": self.open_s, "closed": self.closed_s},
        }
        return waits[ending]


def ending_of(words: str, walker: Walker) -> Ending:
    """Whether these words are a whole sentence, and whether more could follow.

    A correction could follow every reading; nobody waits for it. Filler is over when it is quiet.
    """
    if not words or FILLER in words.split():
        return "none"
    whole, following = walker.after(words)
    if not whole or words.split()[-1] in POINTS:
        return "part"
    if "volts" in following:  # a number whose unit, or more of it, may still come
        return "bare"
    return "closed" if following <= {"correction"} else "open"


@dataclass
class Endpointer:
    """Decides, from loudness and words, when to stop listening; all times are those of the sound itself [s]."""

    timeout_s: float
    waits: Waits = field(default_factory=Waits)
    first_loud_s: float | None = None
    last_loud_s: float | None = None
    words: str = ""
    words_since_s: float = 0.0
    _frames: int = 0
    _loud_run: int = 0

    @property
    def now_s(self) -> float:
        """How much sound has come in."""
        return self._frames * FRAME_S

    def frames(self, loud: list[bool]) -> None:
        """Frames that came in, each loud enough for speech or not."""
        for one in loud:
            self._frames += 1
            self._loud_run = self._loud_run + 1 if one else 0
            if self._loud_run >= 3:  # a click is no speech
                self.first_loud_s = self.first_loud_s or self.now_s
                self.last_loud_s = self.now_s

    def heard(self, words: str) -> None:
        """The words so far."""
        if words != self.words:
            self.words, self.words_since_s = words, self.now_s

    def over(self, ending: Ending) -> bool:
        """Whether the utterance, or the wait for one, is over."""
        if self.first_loud_s is None and not self.words:
            return self.now_s >= self.timeout_s
        started_s = self.first_loud_s if self.first_loud_s is not None else self.words_since_s
        if self.now_s - started_s >= self.waits.longest_s:
            return True
        waits = self.waits
        need_s = {
            "none": waits.no_words_s,
            "part": waits.part_s,
            "bare": waits.bare_s,
            "open": waits.open_s,
            "closed": waits.closed_s,
        }[ending]
        quiet_s = self.now_s - self.last_loud_s if self.last_loud_s is not None else 0.0
        still_s = self.now_s - self.words_since_s
        if ending == "none":
            return quiet_s >= need_s
        # in noise it never gets quiet: words that no longer change end it too
        return quiet_s >= need_s or still_s >= need_s + waits.noise_extra_s
