"""`python -m runner.web.review_speed`: server time of the list of 100,000 sessions, with all that stands before it."""

import asyncio
import sys
import time
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from typing import Any

from starlette.types import ASGIApp, Message, Scope

from runner.record.listing_speed import filled
from runner.record.sounds import SoundStore
from runner.web.app import make_app
from runner.web.records import BayRecords
from runner.web.review import section

WANTED_MS = 100.0
ADDRESSES = {
    "what needs you first": "",
    "newest first": "order=newest",
    "page 1,500": "page=1500",
    "unsigned and corrected": "mark=unsigned&mark=corrected",
    "doubtful ones of a person": "person=PERSON7&mark=doubtful",
    "a flow and a machine": "flow=flow-3&machine=Machine+2",
    "words found in few": "text=person17+machine+4",
    "words found in all": "text=flow",
    "words found in none": "text=no+such+words",
    "a finding, with words": "finding=finding-7&text=person1",
}


async def asked(app: ASGIApp, path: str, query: bytes = b"") -> int:
    """The status of one request, made as a server would make it."""
    scope: Scope = {
        "type": "http",
        "asgi": {"version": "3.0"},
        "http_version": "1.1",
        "method": "GET",
        "scheme": "http",
        "path": path,
        "raw_path": path.encode(),
        "query_string": query,
        "headers": [(b"host", b"localhost")],
        "client": ("127.0.0.1", 1),
        "server": ("127.0.0.1", 1),
    }
    status = 0

    async def receive() -> Message:
        return {"type": "http.request", "body": b"", "more_body": False}

    async def send(message: Message) -> None:
        nonlocal status
        status = message.get("status", status)

    await app(scope, receive, send)
    return status


async def times_ms(app: ASGIApp, *, rounds: int = 9) -> dict[str, Any]:
    """Median and longest time of each address [ms]; once before they count, so that templates are read."""
    measured = {}
    for name, query in ADDRESSES.items():
        took = []
        for _round in range(rounds + 1):
            started = time.perf_counter()
            status = await asked(app, "/", query.encode())
            took.append(1e3 * (time.perf_counter() - started))
            assert status == 200, f"{name} was answered {status}"
        measured[name] = (median(took[1:]), max(took[1:]))
    return measured


def main() -> None:
    """Print a line for each question, then the slowest of them beside what is wanted."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    with TemporaryDirectory() as folder:
        path = filled(Path(folder), count)
        app = make_app([section(BayRecords(path, SoundStore(Path(folder) / "audio")))])
        measured = asyncio.run(times_ms(app))
    for name, (middle_ms, longest_ms) in measured.items():
        print(f"{name}: median {middle_ms:.1f} ms, longest {longest_ms:.1f} ms")
    slowest_ms = max(middle_ms for middle_ms, _longest in measured.values())
    print(f"{count:,} sessions: slowest median {slowest_ms:.1f} ms, wanted below {WANTED_MS:.0f} ms")


if __name__ == "__main__":
    main()
