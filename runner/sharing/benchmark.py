"""`python -m runner.sharing.benchmark`: many bays sharing at once, then a sensor's spread out of a million readings.

Everything is made up, and lies in a PostgreSQL of its own that is gone afterwards. `--readings` adds readings beside
those of the sessions, so that the second question has a million to look through.
"""

import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from typing import Any

import click
from sqlalchemy import Engine, func, select, text

from runner.record.chain import GENESIS, Link, canonical, digest
from runner.record.journal import Journal
from runner.record.listing_speed import ASKED
from runner.sharing.cluster import private_cluster
from runner.sharing.database import connect
from runner.sharing.reading import SharedRecords, Spread
from runner.sharing.schema import events, readings, sessions
from runner.sharing.sending import Sent, share

STEPS = 40
_TAKEN = {"quantity": "dc_voltage", "over_range": False, "unit": "V", "confirmed": "implicit", "attempts": 1}


@dataclass(frozen=True)
class Size:
    """How much is shared."""

    bays: int = 50
    sessions: int = 200
    checks: int = 12  # of a session; each is four events, and three more open and close it


def made_up(session: str, seed: int, checks: int) -> list[Link]:
    """The events of one session, chained as a journal would."""
    opened = {
        "type": "opened",
        "flow": f"flow-{seed % 8}",
        "title": "A flow",
        "machine": "TH-2",
        "meter": f"no. {seed}",
    }
    told: list[dict[str, Any]] = [opened]
    for check in range(checks):
        step, value = f"step-{(seed + check) % STEPS}", round(5 + 0.001 * ((seed * 37 + check * 101) % 200 - 100), 3)
        told += [
            {"type": "asked", "step": step, "want": "reading", "text": "Sensor supply at the plug. Call the volts."},
            {"type": "heard", "listening": "reading", "words": f"{value} volts", "confidence": 0.97},
            {"type": "measured", "step": step, "value": value, "words": f"{value} volts", **_TAKEN},
            {"type": "judged", "step": step, "outcome": "in", "low": 4.75, "high": 5.25, "near_limit": False},
        ]
    told += [{"type": "found", "finding": "supply-low"}, {"type": "closed", "status": "found, not proved"}]
    previous, links = GENESIS, []
    for number, event in enumerate(told, start=1):
        own = {"session": session, "sequence": number, "previous": previous, "at_mono_s": float(number)}
        body = canonical({**event, **own, "at_utc": f"2031-{1 + seed % 12:02d}-{1 + seed % 28:02d}T06:07:08.123Z"})
        previous = digest(body)
        links.append(Link(number, body, previous))
    return links


def make_bays(folder: Path, size: Size) -> list[Path]:
    """A journal for each bay. Sessions of different bays share their names, as those drawn by chance may."""
    paths = []
    for bay in range(size.bays):
        path = folder / f"bay-{bay:02d}.sqlite"
        with Journal.open(path, "none") as journal:
            journal._db.execute("PRAGMA synchronous = OFF")  # only here: these sessions may be lost
            for number in range(size.sessions):
                name = f"made-up-{number:04d}"
                journal.take_in(name, made_up(name, bay * size.sessions + number, size.checks), now_utc="")
            journal._db.execute("UPDATE sessions SET imported_utc = NULL")  # as if written in this bay
        paths.append(path)
    return paths


def share_at_once(paths: Sequence[Path], url: str) -> tuple[list[Sent], float]:
    """All bays at the same time, each with a connection of its own; what each did, and how long all took [s]."""

    def one(path: Path) -> Sent:
        engine = connect(url)
        try:
            return share(path, engine, bay=path.stem)
        finally:
            engine.dispose()

    started = time.perf_counter()
    with ThreadPoolExecutor(len(paths)) as many:
        sent = list(many.map(one, paths))
    return sent, time.perf_counter() - started


@dataclass(frozen=True)
class Counted:
    """What is there."""

    sessions: int
    events: int
    readings: int
    broken: int  # of the sessions looked at, those that are not as they were written


def counted(engine: Engine, *, audited: int) -> Counted:
    """Count all, and audit so many."""
    shared = SharedRecords(engine)
    with engine.connect() as connection:
        found = [
            connection.scalar(select(func.count()).select_from(each)) or 0 for each in (sessions, events, readings)
        ]
        names = list(connection.execute(select(sessions.c.session).order_by(sessions.c.id).limit(audited)).scalars())
    return Counted(found[0], found[1], found[2], sum(not shared.audit(name).intact for name in names))


def more_readings(engine: Engine, count: int) -> None:
    """That many readings more, all of one sensor, which is the most there can be to look through."""
    with engine.begin() as connection:
        connection.execute(
            text("""
            INSERT INTO sessions SELECT lpad(to_hex(n), 64, 'x'), 'more-' || n, 'more-' || n, 'bay', repeat('0', 64),
                now(), now(), 'flow-0', '', '', '', 'proved', '', 1, 0, 0, 0, 0, 0, 0, '', false, 0, 0, '', 0, 0, NULL, now()
            FROM generate_series(0, (:count - 1) / 1000) n"""),
            {"count": count},
        )
        connection.execute(
            text("""
            INSERT INTO readings SELECT lpad(to_hex(n / 1000), 64, 'x'), n % 1000 + 1, 'flow-0',
                'one-sensor', 'job', now(), 'dc_voltage', 'V', 5 + 0.1 * (random() - 0.5), NULL, false,
                4.75, 5.25, 'in', false, 'implicit', 1
            FROM generate_series(0, :count - 1) n"""),
            {"count": count},
        )
    with engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        connection.execute(text("VACUUM ANALYZE readings"))


def more_sessions(engine: Engine, count: int) -> None:
    """That many lines of sessions more, like those that `runner.record.listing_speed` makes up."""
    with engine.begin() as connection:
        connection.execute(
            text("""
            INSERT INTO sessions SELECT lpad(to_hex(n), 64, 'y'), session, session, 'bay', repeat('0', 64), at, at, flow,
                title, machine, person, 'found, not proved', finding, 6, doubtful, corrected, 0, 0, 0, 0, signed, false, 0,
                CASE signed WHEN '' THEN 1 + doubtful + corrected ELSE 0 END,
                lower(concat_ws(' ', session, title, flow, machine, finding, person)), 0, 0, NULL, now()
            FROM (SELECT n, 'line-' || n AS session, timestamptz '2031-01-01' + n * interval '1 minute' AS at,
                'flow-' || n % 12 AS flow, 'Flow ' || n % 12 AS title, 'Machine ' || n % 6 AS machine,
                'PERSON' || n * 7 % 40 AS person, 'finding-' || n * 11 % 50 AS finding,
                (random() < 0.1)::int AS doubtful, (random() < 0.1)::int AS corrected,
                CASE WHEN random() < 0.7 THEN 'signed' ELSE '' END AS signed
                FROM generate_series(1, :count) n) line"""),
            {"count": count},
        )
    with engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        connection.execute(text("VACUUM ANALYZE sessions"))


def listed_ms(engine: Engine, *, rounds: int = 9) -> dict[str, tuple[int, float, float]]:
    """For each question of the list: how many fit, the median and the longest time [ms]."""
    shared, measured = SharedRecords(engine), {}
    for name, wanted in ASKED.items():
        took, total = [], 0
        for _round in range(rounds):
            started = time.perf_counter()
            total = shared.listed(wanted).total
            took.append(1e3 * (time.perf_counter() - started))
        measured[name] = (total, median(took), max(took))
    return measured


def spread_s(engine: Engine, flow: str, step: str, *, rounds: int = 5) -> tuple[Spread, float, float]:
    """One check's spread, the first time and the median of some more [s]."""
    shared, took = SharedRecords(engine), []
    for _round in range(rounds + 1):
        started = time.perf_counter()
        spread = shared.spread(flow, step)
        took.append(time.perf_counter() - started)
    return spread, took[0], median(took[1:])


@click.command()
@click.option("--bays", default=Size.bays, show_default=True)
@click.option("--sessions", "each", default=Size.sessions, show_default=True, help="Of each bay.")
@click.option("--checks", default=Size.checks, show_default=True, help="Of each session; four events each.")
@click.option("--readings", "count", default=1_000_000, show_default=True)
@click.option("--listed", default=100_000, show_default=True, help="Sessions that are listed and filtered.")
def main(bays: int, each: int, checks: int, count: int, listed: int) -> None:
    """Measure sharing and asking in a PostgreSQL of its own."""
    size = Size(bays, each, checks)
    with private_cluster() as url, TemporaryDirectory() as folder:
        paths = make_bays(Path(folder), size)
        sent, took_s = share_at_once(paths, url)
        again, again_s = share_at_once(paths, url)
        engine = connect(url)
        there = counted(engine, audited=500)
        wanted = bays * each
        print(f"{bays} bays x {each} sessions at once: {took_s:.1f} s, {sum(s.events for s in sent):,} events sent")
        print(
            f"there: {there.sessions:,} sessions of {wanted:,}, {there.events:,} events of {wanted * (3 + 4 * checks):,}"
        )
        print(f"refused as differing: {sum(len(s.differing) for s in sent)}")
        print(f"audited 500 of them there: {there.broken} broken")
        print(f"the same once more: {again_s:.1f} s, {sum(s.events for s in again)} events sent")
        more_readings(engine, max(0, count - there.readings))
        total = counted(engine, audited=0).readings
        for flow, step in (("flow-3", "step-5"), ("flow-0", "one-sensor")):
            spread, first_s, middle_s = spread_s(engine, flow, step)
            took = f"{1e3 * first_s:.0f} ms, then {1e3 * middle_s:.0f} ms"
            print(f"spread of {flow} {step}, {spread.count:,} of {total:,} readings: {took}")
        more_sessions(engine, listed)
        for name, (fit, middle_ms, longest_ms) in listed_ms(engine).items():
            print(f"{listed:,} more listed, {name}: {fit} fit, median {middle_ms:.1f} ms, longest {longest_ms:.1f} ms")
        engine.dispose()


if __name__ == "__main__":
    main()
