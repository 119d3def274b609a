"""What ears and a voice are to the rest of the program, and what listening can end in: never None."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from math import nan
from typing import TYPE_CHECKING, Literal, Protocol, runtime_checkable

if TYPE_CHECKING:
    from speech.sound import Sound

ListeningKind = Literal["reading", "commands", "yes_no", "codes", "digits", "initials", "choice"]
KINDS: tuple[ListeningKind, ...] = ("reading", "commands", "yes_no", "codes", "digits", "initials", "choice")
Source = Literal["voice", "button", "keyboard"]


class SpeechError(Exception):
    """Something in this room went wrong; the text says what was seen, what was wanted and what to do."""


class ModelError(SpeechError):
    """A model folder that cannot be used."""


@dataclass(frozen=True)
class Alternative:
    """Another way the same sound may have been meant."""

    words: str
    confidence: float


@dataclass(frozen=True)
class Heard:
    """One utterance of the kind that was listened for."""

    words: str
    confidence: float
    alternatives: tuple[Alternative, ...] = ()
    level_dbfs: float = nan
    noise_dbfs: float = nan
    started_s: float = 0.0
    ended_s: float = 0.0
    source: Source = "voice"
    clipped: bool = False  # the microphone was driven to full scale
    sound: "Sound | None" = field(default=None, compare=False, repr=False)  # what was heard, 16 kHz


@dataclass(frozen=True)
class Silence:
    """Nobody spoke for this long."""

    waited_s: float
    level_dbfs: float = nan  # of the loudest 10 ms; -120 for digital silence


@dataclass(frozen=True)
class Rejected:
    """Somebody spoke, but nothing that belongs to this kind of listening."""

    words: str
    confidence: float
    level_dbfs: float = nan
    noise_dbfs: float = nan
    clipped: bool = False
    sound: "Sound | None" = field(default=None, compare=False, repr=False)  # as in Heard


@dataclass(frozen=True)
class DeviceLost:
    """The microphone or loudspeaker is gone; what was said or heard so far still stands."""

    device: str
    reason: str


@dataclass(frozen=True)
class Said:
    """The last sample has been played."""

    duration_s: float


Listened = Heard | Silence | Rejected | DeviceLost


class Ears(Protocol):
    """Something that hears a person."""

    def listen(self, kind: ListeningKind, *, timeout_s: float) -> Listened:
        """Next utterance of this kind; each way of hearing nothing is a result of its own."""

    def close(self) -> None:
        """Let go of devices and threads; listening again is an error."""


class Voice(Protocol):
    """Something that speaks to a person."""

    def say(self, text: str) -> Said | DeviceLost:
        """Speak, and return when the last sample has been played."""

    def set_rate(self, wpm: int) -> None:
        """Words a minute from the next sentence on."""

    def set_volume(self, volume: float) -> None:
        """Loudness from the next sentence on, 0 to 1."""

    def close(self) -> None:
        """Let go of devices, threads and child processes."""


@runtime_checkable
class Sounding(Protocol):
    """A voice that also has small tones, and can make sentences before they are wanted."""

    def sound(self, earcon: str) -> Said | DeviceLost:
        """Play one of the tones of speech.earcons."""

    def prepare(self, texts: Iterable[str]) -> None:
        """Make these in the background, instead of what was to be prepared before."""
