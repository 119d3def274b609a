"""Readings of a session as rows, and the same over many sessions: for tables, for a sensor's spread, for who asks again."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

Event = Mapping[str, Any]


@dataclass(frozen=True)
class Row:
    """A reading and what it was judged by. value, upto, low, high: in `unit`, the quantity's base unit."""

    session: str
    sequence: int
    at_utc: str
    step: str
    quantity: str
    value: float | None
    upto: float | None  # the other end of a value that moved
    over_range: bool
    unit: str
    low: float | None
    high: float | None
    outcome: str
    near_limit: bool
    confirmed: str
    attempts: int
    words: str
    phase: str  # "job", or "proof" once the repair is made


@dataclass(frozen=True)
class Taken:
    """One check's reading in one session, for its spread. value, low, high: in the quantity's base unit."""

    session: str
    at_utc: str
    value: float
    unit: str
    low: float | None
    high: float | None
    outcome: str


@dataclass(frozen=True)
class Asking:
    """How often one person had to call their readings in one session, and how far their voice stood above the noise."""

    person: str
    session: str
    readings: int
    calls: int
    above_noise_db: float | None


def rows_of(session: str, events: Iterable[Event]) -> list[Row]:
    """Every reading of a session, in its order."""
    rows: list[Row] = []
    phase = "job"
    for event in events:
        if event.get("type") == "proof_begun":
            phase = "proof"
        elif event.get("type") == "measured":
            rows.append(_row(session, event, phase))
        elif event.get("type") == "judged" and rows and rows[-1].step == event.get("step"):
            rows[-1] = _judged(rows[-1], event)
    return rows


def _row(session: str, event: Event, phase: str) -> Row:
    return Row(
        session=session,
        sequence=int(event.get("sequence", 0)),
        at_utc=str(event.get("at_utc", "")),
        step=str(event["step"]),
        quantity=str(event["quantity"]),
        value=event["value"],
        upto=event.get("high"),
        over_range=bool(event["over_range"]),
        unit=str(event["unit"]),
        low=None,
        high=None,
        outcome="",
        near_limit=False,
        confirmed=str(event["confirmed"]),
        attempts=int(event["attempts"]),
        words=str(event.get("words", "")),
        phase=phase,
    )


def _judged(row: Row, event: Event) -> Row:
    told = {"low": event["low"], "high": event["high"], "outcome": str(event["outcome"])}
    return Row(**{**row.__dict__, **told, "near_limit": bool(event.get("near_limit"))})


def latest(rows: Iterable[Row], step: str) -> Taken | None:
    """The job's last usable reading of a step: what its spread over sessions is made of."""
    fitting = [row for row in rows if row.step == step and row.phase == "job" and row.value is not None]
    if not fitting:
        return None
    last = fitting[-1]
    assert last.value is not None
    return Taken(last.session, last.at_utc, last.value, last.unit, last.low, last.high, last.outcome)


def asking_of(session: str, person: str, events: Iterable[Event]) -> Asking:
    """How often readings were called in a session, by whom, and in what noise."""
    readings = calls = 0
    above: list[float] = []
    for event in events:
        if event.get("type") == "measured":
            readings, calls = readings + 1, calls + int(event["attempts"])
        elif event.get("type") == "heard" and event.get("listening") == "reading":
            level, noise = event.get("level_dbfs"), event.get("noise_dbfs")
            if isinstance(level, int | float) and isinstance(noise, int | float):
                above.append(level - noise)
    return Asking(person, session, readings, calls, sum(above) / len(above) if above else None)


def each_reading(sessions: Iterable[tuple[str, Iterable[Event]]], step: str) -> Iterator[Taken]:
    """The latest reading of a step in each session that has one."""
    for session, events in sessions:
        if (taken := latest(rows_of(session, events), step)) is not None:
            yield taken
