"""The sound of call-outs and notes, as FLAC named by the hash of its content, beside the journal and never inside it.

Kept only once the technician has said so. An event names its sound by hash and length; when the sound is removed, by
retention or on a wish, that is an event of its own, and the one that named it stays as it was.
"""

import hashlib
import io
import os
import re
import tempfile
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import chain
from pathlib import Path
from typing import Any

import numpy as np

from runner.jobs import home
from runner.record.journal import Journal
from speech.sound import Sound

Event = Mapping[str, Any]
_HASH = re.compile(r"[0-9a-f]{64}")


def is_hash(digest: str) -> bool:
    """Whether this may name a sound: no other name from outside opens a file."""
    return _HASH.fullmatch(digest) is not None


class SoundStore:
    """A folder of sounds: ab/ab12....flac."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def ready(self) -> None:
        """Load now what keeping needs, so that the first call-out is not kept waiting; loaded at start, the first word is."""
        import soundfile  # noqa: F401

    def keep(self, sound: Sound) -> dict[str, Any]:
        """Store a sound; what its event says of it: {"sha256", "seconds"}. The same sound twice is one file."""
        import soundfile

        out = io.BytesIO()
        soundfile.write(out, sound.samples, sound.rate_hz, format="FLAC", subtype="PCM_16")
        flac = out.getvalue()
        digest = hashlib.sha256(flac).hexdigest()
        path = self.path(digest)
        if not path.exists():
            path.parent.mkdir(parents=True, exist_ok=True)
            file, unfinished = tempfile.mkstemp(prefix=f"{path.name}.", dir=path.parent)
            with os.fdopen(file, "wb") as out_file:
                out_file.write(flac)
            os.replace(unfinished, path)
        return {"sha256": digest, "seconds": round(sound.duration_s, 2)}

    def path(self, digest: str) -> Path:
        """Where a sound lies. Raises ValueError for what is no hash."""
        if not is_hash(digest):
            raise ValueError(f"{digest[:80]!r} is no SHA-256 in small hexadecimal digits")
        return self.folder / digest[:2] / f"{digest}.flac"

    def read(self, digest: str) -> bytes | None:
        """The FLAC, or None when it is not here or no longer what it was."""
        try:
            flac = self.path(digest).read_bytes()
        except (OSError, ValueError):
            return None
        return flac if hashlib.sha256(flac).hexdigest() == digest else None

    def sound(self, digest: str) -> Sound | None:
        """The samples, or None when there are none to be had."""
        import soundfile

        flac = self.read(digest)
        if flac is None:
            return None
        try:
            samples, rate_hz = soundfile.read(io.BytesIO(flac), dtype="int16")
        except soundfile.LibsndfileError:
            return None
        return Sound(np.ascontiguousarray(samples), int(rate_hz))

    def remove(self, digest: str) -> None:
        """Take a sound away; one that is gone already is no trouble."""
        self.path(digest).unlink(missing_ok=True)


def sound_store() -> SoundStore:
    """The bay's own."""
    return SoundStore(home() / "audio")


def consent_of(events: Iterable[Event]) -> bool | None:
    """What was last answered when keeping the sound was asked for; None when it was not asked."""
    told = [bool(event.get("given")) for event in events if event.get("type") == "sound_consent"]
    return told[-1] if told else None


def agreed_days(events: Iterable[Event]) -> float | None:
    """For how many days the technician agreed to its being kept; the shortest, when several were asked."""
    told = [event.get("days") for event in events if event.get("type") == "sound_consent" and event.get("given")]
    return min((float(days) for days in told if isinstance(days, int | float)), default=None)


def sounds_in(events: Iterable[Event]) -> Iterator[tuple[str, str]]:
    """Hash and time of each sound that the events name, as far as they name it rightly."""
    for event in events:
        sound = event.get("sound")
        digest = sound.get("sha256") if isinstance(sound, Mapping) else None
        if isinstance(digest, str) and is_hash(digest):
            yield digest, str(event.get("at_utc", ""))


def removed_sounds(events: Iterable[Event]) -> dict[str, str]:
    """Hash of each sound that was removed, and when."""
    removed: dict[str, str] = {}
    for event in events:
        if event.get("type") == "sound_removed":
            removed.update((str(digest), str(event.get("at_utc", ""))) for digest in event.get("sounds", ()))
    return removed


@dataclass(frozen=True)
class Forgotten:
    """What a removal did: sessions that were told of it, and sounds taken away."""

    sessions: int
    sounds: int


def forget(
    journals: Iterable[Path], store: SoundStore, *, now: datetime, older_than_days: float | None = None
) -> Forgotten:
    """Remove every sound of these journals that is older, and say so in its session's chain.

    older_than_days: None for as long as was agreed to in each session; where nothing was agreed to it stays. The file
    goes first and the event follows, so that one cut short is finished by the next. A sound that a younger event names
    as well stays: give all journals that share the store.
    """
    due: dict[tuple[Path, str], list[str]] = {}
    young: set[str] = set()
    kinds = ("heard", "unheard", "memo", "sound_consent", "sound_removed")
    for journal in journals:
        with Journal.read(journal) as found:
            for session, events in found.told(*kinds, with_sound=True):
                removed = removed_sounds(events)
                days = agreed_days(events) if older_than_days is None else older_than_days
                before = (now - timedelta(days=days)).isoformat() if days is not None else ""
                for digest, at_utc in sounds_in(events):
                    if at_utc >= before:
                        young.add(digest)
                    elif digest not in removed:
                        due.setdefault((journal, session), []).append(digest)
    taken = [each for each in sorted(set(chain.from_iterable(due.values())) - young) if store.path(each).exists()]
    for digest in taken:
        store.remove(digest)
    for (journal, session), digests in due.items():
        with Journal.open(journal, session) as writing:
            facts = {"sounds": sorted(set(digests)), "count": len(digests), "older_than_days": older_than_days}
            writing.append({"type": "sound_removed", "why": "retention", **facts})
    return Forgotten(len(due), len(taken))
