"""The little of an SQLite database that the record's modules need; only database.py knows which package it comes from."""

from collections.abc import Sequence
from typing import Any, Protocol


class Connection(Protocol):
    """A database that is open."""

    @property
    def in_transaction(self) -> bool:
        """Whether something was begun and not ended."""

    def execute(self, sql: str, parameters: Sequence[Any] = (), /) -> Any:
        """Run one statement."""

    def executemany(self, sql: str, parameters: Any, /) -> Any:
        """Run one statement for each of many rows."""

    def close(self) -> None:
        """Let go of it."""
