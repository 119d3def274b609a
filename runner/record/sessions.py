"""Sessions in a list: how each stands, and finding one again by part of its name. Pure."""

import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from runner.errors import RunError


class UnknownSession(RunError):  # noqa: N818  what it is, not that it went wrong
    """No session, or more than one, goes by that name."""


@dataclass(frozen=True)
class SessionLine:
    """One session in a list of them."""

    session: str
    opened_utc: str
    last_utc: str
    events: int
    flow: str
    title: str
    machine: str
    status: str  # the closing words, or "open"
    finding: str | None

    def after(self, kind: str, event: Mapping[str, Any]) -> "SessionLine":
        """The same line once this event has been taken into account."""
        changed: dict[str, Any] = {"last_utc": event.get("at_utc", self.last_utc)}
        if kind == "opened":
            machine = event.get("machine")
            name = machine.get("name", "") if isinstance(machine, dict) else machine
            changed |= {
                "flow": str(event.get("flow", "")),
                "title": str(event.get("title", "")),
                "machine": str(name or ""),
            }
        elif kind == "found":
            changed["finding"] = event.get("finding")
        elif kind == "resumed":
            changed["status"] = "open"
        elif kind == "closed":
            changed["status"] = str(event.get("status", "closed"))
        return SessionLine(**{**self.__dict__, **changed})


def new_session_name(now: datetime) -> str:
    """A name that sorts by day and is short enough to be read aloud."""
    return f"{now:%Y-%m-%d}-{''.join(secrets.choice('23456789abcdefghjkmnpqrstuvwxyz') for _ in range(4))}"


def fitting_name(name: str, names: Sequence[str], *, where: str) -> str:
    """The one of these names, the newest last, that begins or ends so; "last" is the newest.

    >>> fitting_name("k3f7", ["2031-04-05-k3f7", "2031-04-06-aaaa"], where="the journal")
    '2031-04-05-k3f7'
    """
    if name in names:
        return name
    if name == "last" and names:
        return names[-1]
    fitting = [each for each in names if each.startswith(name) or each.endswith(name)]
    if len(fitting) == 1:
        return fitting[0]
    if fitting:
        raise UnknownSession(
            f"{name!r} fits {len(fitting)} sessions: {', '.join(fitting[-5:])}. Give more of the name."
        )
    newest = f"The newest are {', '.join(names[-3:])}." if names else "It holds none yet."
    raise UnknownSession(f"There is no session {name!r} in {where}. {newest}")
