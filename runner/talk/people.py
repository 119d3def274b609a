"""What is remembered of a person: how fast and loud the tool speaks to them, and how well a microphone heard them.

One JSON file in the bay's folder, by initials. What cannot be read or written is no reason to stop a test.
"""

import json
import os
import tempfile
from collections.abc import Callable
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from runner.record.session import Event
from runner.talk.fitted import FittedEars, initials_in

PEOPLE = "people.json"
SLOWEST_WPM, FASTEST_WPM = 90, 240
QUIETEST = 0.2
DEVICES = "headsets"  # beside the initials in the file; nobody has initials this long


@dataclass(frozen=True)
class Manner:
    """How the tool speaks: words a minute, volume (0.2 to 1), and whether it leaves out what a practised hand knows."""

    rate_wpm: int = 165
    volume: float = 1.0
    brief: bool = False

    def changed(self, *, rate_wpm: int = 0, volume: float = 0.0) -> "Manner":
        """Faster or slower by so many words a minute, louder or quieter by so much, within bounds."""
        rate = min(FASTEST_WPM, max(SLOWEST_WPM, self.rate_wpm + rate_wpm))
        return replace(self, rate_wpm=rate, volume=round(min(1.0, max(QUIETEST, self.volume + volume)), 2))


class People:
    """The file of what is remembered."""

    def __init__(self, file: Path) -> None:
        self._file = file

    def manner(self, who: str) -> Manner | None:
        """How this person wants to be spoken to, None when it is not known."""
        kept = self._read().get(who, {}).get("manner")
        if not isinstance(kept, dict):
            return None
        try:
            return Manner(int(kept["rate_wpm"]), float(kept["volume"]), bool(kept["brief"])).changed()
        except (KeyError, TypeError, ValueError):
            return None

    def keep_manner(self, who: str, manner: Manner) -> None:
        """Remember how this person wants to be spoken to."""
        self._put(who, "manner", asdict(manner))

    def microphone(self, who: str, device: str) -> dict[str, Any] | None:
        """What the last check of this person's microphone gave."""
        kept = self._read().get(who, {}).get("microphones")
        found = kept.get(device) if isinstance(kept, dict) else None
        return found if isinstance(found, dict) else None

    def keep_microphone(self, who: str, device: str, facts: dict[str, Any]) -> None:
        """Remember what a check of this person's microphone gave."""
        microphones = self._read().get(who, {}).get("microphones", {})
        self._put(who, "microphones", {**microphones, device: facts})

    def fits(self, who: str) -> dict[str, Any]:
        """Microphones at which the ears were fitted to this person, and what came of each."""
        found = self._read().get(who, {}).get("fits")
        return found if isinstance(found, dict) else {}

    def keep_fit(self, who: str, device: str, facts: dict[str, Any]) -> None:
        """Remember that the ears were fitted to this person at this microphone."""
        self._put(who, "fits", {**self.fits(who), device: facts})

    def forget_fits(self, who: str) -> None:
        """Nothing is fitted to this person any more."""
        self._put(who, "fits", {})

    def faintest_caller_dbfs(self, device: str) -> float | None:
        """Level of the faintest of those whose voice was checked at this microphone [dBFS], None when nobody's was."""
        checks = (self.microphone(who, device) for who in self._read())
        levels = [
            check["speech_dbfs"]
            for check in checks
            if check and check.get("heard") and isinstance(check.get("speech_dbfs"), int | float)
        ]
        return float(min(levels)) if levels else None

    def headset_dba(self, device: str) -> float | None:
        """Level at the ear that was measured of this device at full volume [dB(A)], None when nobody measured it."""
        found = self._read().get(DEVICES, {}).get(device)
        return float(found) if isinstance(found, int | float) else None

    def keep_headset_dba(self, device: str, full_dba: float) -> None:
        """Remember what a sound level meter showed at the earpiece at full volume [dB(A)]."""
        self._put(DEVICES, device, full_dba)

    def _read(self) -> dict[str, Any]:
        try:
            data = json.loads(self._file.read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return {}
        return {who: kept for who, kept in data.items() if isinstance(kept, dict)} if isinstance(data, dict) else {}

    def _put(self, who: str, name: str, value: Any) -> None:
        data = self._read()
        data[who] = {**data.get(who, {}), name: value}
        with suppress(OSError):
            self._file.parent.mkdir(parents=True, exist_ok=True)
            handle, fresh = tempfile.mkstemp(dir=self._file.parent, prefix=".people-")
            with os.fdopen(handle, "w", encoding="utf-8") as out:
                json.dump(data, out, indent=1, sort_keys=True)
            os.replace(fresh, self._file)


class Remembering:
    """Watches a session: when the technician says who is there, the tool speaks as that person likes it, and hears with the
    ears that were fitted to them."""

    def __init__(self, people: People, *, given: Manner | None = None, ears: FittedEars | None = None) -> None:
        """given: how to speak whoever it is; what was remembered gives way to it."""
        self._people, self._given, self.ears = people, given, ears
        self._who = ""
        self._apply: Callable[[Manner], None] | None = None
        self._manner: Manner | None = None

    def watch(self, event: Event) -> None:
        """Take in an event of the session's logbook."""
        if self.ears is not None:
            self.ears.watch(event)
        if who := initials_in(event):
            self._who = who
            self._manner = self._given or self._people.manner(self._who)
            self.speak_through(self._apply)

    def speak_through(self, apply: Callable[[Manner], None] | None) -> None:
        """apply: takes the manner to speak in from now on."""
        self._apply = apply
        if apply is not None and self._manner is not None:
            apply(self._manner)

    def changed(self, manner: Manner) -> None:
        """The technician asked for another manner."""
        self._manner = manner
        if self._who:
            self._people.keep_manner(self._who, manner)
