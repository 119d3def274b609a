"""Names of sessions: a new one, and finding one again by part of it. Pure."""

import secrets
from collections.abc import Sequence
from datetime import datetime

from runner.errors import RunError


class UnknownSession(RunError):  # noqa: N818  what it is, not that it went wrong
    """No session, or more than one, goes by that name."""


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
