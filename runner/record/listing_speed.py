"""`python -m runner.record.listing_speed`: how long a list of 100,000 sessions takes to filter, in a journal of its own.

The sessions are made up, each of three events; the list does not look at more than its line.
"""

import random
import sys
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory

from runner.record.chain import GENESIS, Link, canonical, digest
from runner.record.journal import Journal
from runner.record.listing import Wanted

ASKED = {
    "all, those first that need somebody": Wanted(),
    "the newest": Wanted(order="newest"),
    "page 1,500": Wanted(offset=75_000),
    "unsigned and corrected": Wanted(marks=frozenset({"unsigned", "corrected"})),
    "one person's, doubtful": Wanted(person="PERSON7", marks=frozenset({"doubtful"})),
    "one flow, one machine": Wanted(flow="flow-3", machine="Machine 2"),
    "text in few": Wanted(text="person17 machine 4"),
    "text in all": Wanted(text="flow"),
    "text and a mark": Wanted(text="no such words", marks=frozenset({"unsigned"})),
    "text in none": Wanted(text="no such words"),
}


def made_up(number: int, chance: random.Random) -> Iterator[dict[str, object]]:
    """Events of one session, without what the journal puts on."""
    flow = chance.randrange(12)
    yield {
        "type": "opened",
        "flow": f"flow-{flow}",
        "title": f"Flow {flow}",
        "machine": f"Machine {chance.randrange(6)}",
    }
    yield {"type": "answered", "store": "who", "answer": f"PERSON{chance.randrange(40)}", "outcome": "answered"}
    if chance.random() < 0.1:
        yield {"type": "doubt", "why": "near a limit"}
    if chance.random() < 0.1:
        yield {"type": "corrected", "step": "supply"}
    yield {"type": "found", "finding": f"finding-{chance.randrange(50)}"}
    yield {"type": "closed", "status": "found, not proved"}
    if chance.random() < 0.7:
        yield {"type": "signed_off", "by": "SUPERVISOR"}


def fill(journal: Journal, count: int) -> None:
    """That many sessions, chained as the journal would."""
    chance, start = random.Random(11), datetime(2031, 1, 1, tzinfo=UTC)
    for number in range(count):
        session, previous, links = f"made-up-{number:06d}", GENESIS, []
        for sequence, event in enumerate(made_up(number, chance), start=1):
            at = (start + timedelta(minutes=number, seconds=sequence)).isoformat().replace("+00:00", "Z")
            whole = {**event, "session": session, "sequence": sequence, "previous": previous, "at_utc": at}
            body = canonical({**whole, "at_mono_s": float(sequence)})
            previous = digest(body)
            links.append(Link(sequence, body, previous))
        journal.take_in(session, links, now_utc="2031-01-01T00:00:00Z")


def filled(folder: Path, count: int) -> Path:
    """A journal of that many made-up sessions."""
    path = folder / "journal.sqlite"
    with Journal.open(path, "none") as journal:
        journal._db.execute("PRAGMA synchronous = OFF")  # only here: these sessions may be lost
        fill(journal, count)
    return path


def times_ms(path: Path, *, rounds: int = 9) -> dict[str, tuple[int, float, float]]:
    """For each question: how many fit, the median and the longest time [ms]."""
    measured = {}
    for name, wanted in ASKED.items():
        took, total = [], 0
        for _round in range(rounds):
            started = time.perf_counter()
            with Journal.read(path) as journal:  # as a page does it: opened for each request
                total = journal.listed(wanted).total
            took.append(1e3 * (time.perf_counter() - started))
        measured[name] = (total, median(took), max(took))
    return measured


def main() -> None:
    """Print a line for each question."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    with TemporaryDirectory() as folder:
        path = filled(Path(folder), count)
        for name, (total, middle_ms, longest_ms) in times_ms(path).items():
            print(f"{name}: {total} fit, median {middle_ms:.1f} ms, longest {longest_ms:.1f} ms")


if __name__ == "__main__":
    main()
