"""Where the times on the record come from."""

import time
from datetime import UTC, datetime
from typing import Protocol


class Clock(Protocol):
    """Where times come from."""

    def utc(self) -> datetime:
        """The time of day, which a person or a time server may set back."""

    def mono_s(self) -> float:
        """Seconds that never run backwards, from an arbitrary start."""


class SystemClock:
    """This computer's clock."""

    def utc(self) -> datetime:
        """Now."""
        return datetime.now(UTC)

    def mono_s(self) -> float:
        """Seconds since this computer started."""
        return time.monotonic()


def utc_text(moment: datetime) -> str:
    """ISO 8601 in UTC, to the millisecond."""
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
