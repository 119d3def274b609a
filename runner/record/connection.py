"""The little of an SQLite database that the record's modules need; only journal.py knows which package it comes from."""

from collections.abc import Sequence
from typing import Any, Protocol


class Connection(Protocol):
    """A database that is open."""

    def execute(self, sql: str, parameters: Sequence[Any] = (), /) -> Any:
        """Run one statement."""

    def executemany(self, sql: str, parameters: Any, /) -> Any:
        """Run one statement for each of many rows."""
