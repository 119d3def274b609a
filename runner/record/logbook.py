"""The logbook of one running session: an event is on disk first, then folded into the state, then shown to who watches."""

from collections.abc import Callable, Iterable
from typing import Any, Protocol

from runner.record.session import Event, State, apply, fold

Watcher = Callable[[Event], None]


class EventStore(Protocol):
    """What keeps events; `runner.record.journal.Journal` is the one on disk."""

    def append(self, event: dict[str, Any]) -> Event:
        """Store one event durably and return it as stored."""


class ListStore:
    """Events in memory, for trials and tests of dialogue logic."""

    def __init__(self) -> None:
        self.events: list[Event] = []

    def append(self, event: dict[str, Any]) -> Event:
        """Keep the event; numbered from 1 like the journal's."""
        stored = {**event, "sequence": len(self.events) + 1}
        self.events.append(stored)
        return stored


class Logbook:
    """Writes events and holds the state they add up to."""

    def __init__(self, store: EventStore, *, events: Iterable[Event] = (), watchers: Iterable[Watcher] = ()) -> None:
        self._store = store
        self._watchers = tuple(watchers)
        self.state: State = fold(events)

    def write(self, kind: str, /, **facts: Any) -> Event:
        """Put one event on disk and fold it; returns it as stored. Errors of the store pass through: nothing is swallowed."""
        stored = self._store.append({"type": kind, **facts})
        self.state = apply(self.state, stored)
        for watcher in self._watchers:
            watcher(stored)
        return stored
