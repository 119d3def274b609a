"""A session as its reviewer reads it: the report's checks, with branches, suspects, sound and comments beside them. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from flows.trial.suspects import HEALTHY, POSSIBLE, in_words
from runner.report.story import OUTCOME_WORDS, Event, Story, Visit, title_of
from runner.web.reviews import Reviewed
from runner.web.walk_graph import Table


@dataclass(frozen=True)
class Branch:
    """One way a step could go on."""

    outcomes: str
    to: str
    taken: bool


@dataclass(frozen=True)
class Suspect:
    """A fault, with its odds in words; struck: no longer possible, and possible after the reading before."""

    name: str
    odds: str
    struck: bool


@dataclass(frozen=True)
class CallOut:
    """Something heard. sound: the hash of its sound, "" when there is none."""

    sequence: int
    reading: bool  # listened for as a reading, not as a word of command
    words: str
    confidence: float | None
    others: tuple[tuple[str, float | None], ...]
    source: str
    at_utc: str
    sound: str
    lost: str  # why its sound could not be stored
    noise_db: float | None  # how far the voice stood above the noise


@dataclass(frozen=True)
class Row:
    """One check of the timeline: what the report says of it, and what only a reviewer wants."""

    check: Mapping[str, Any]
    phase: str
    call_outs: tuple[CallOut, ...]
    branches: tuple[Branch, ...]
    suspects: tuple[Suspect, ...]
    suspects_note: str
    comments: tuple[Event, ...]
    about: int  # number of the event that a comment on this check is about
    sequences: tuple[int, ...]


def timeline(story: Story, review: Reviewed, table: Table, *, told: Mapping[str, Any]) -> list[Row]:
    """Rows in their order. told: the report's view of the same story."""
    checks = {check["number"]: check for section in told["sections"] for check in section["checks"]}
    rows: list[Row] = []
    possible: Sequence[str] = ()
    for visit in story.visits:
        suspects, note, possible = _suspects(visit.suspects, possible)
        own = [*visit.asked, *visit.heard, *visit.answered, *visit.read_back]
        own += [event for event in (visit.measured, visit.judged, visit.branched, *visit.earlier) if event]
        numbers = tuple(sorted({int(event.get("sequence", 0)) for event in own}))
        rows.append(
            Row(
                check=checks[visit.number],
                phase=visit.phase,
                call_outs=tuple(call_out(event) for event in visit.heard),
                branches=_branches(visit, story, table),
                suspects=suspects,
                suspects_note=note,
                comments=tuple(each for number in numbers for each in review.comments.get(number, ())),
                about=int((visit.measured or visit.branched or visit.started).get("sequence", 0)),
                sequences=numbers,
            )
        )
    return rows


def call_out(event: Event) -> CallOut:
    """A heard event as it is shown."""
    others = tuple((str(words), share) for words, share in map(_pair, event.get("alternatives") or ()) if words)
    sound = event.get("sound")
    level, noise = event.get("level_dbfs"), event.get("noise_dbfs")
    return CallOut(
        sequence=int(event.get("sequence", 0)),
        reading=event.get("listening") == "reading",
        words=str(event.get("words", "")),
        confidence=event.get("confidence"),
        others=tuple(each for each in others if each[0] != event.get("words")),
        source=str(event.get("source", "voice")),
        at_utc=str(event.get("at_utc", "")),
        sound=str(sound.get("sha256", "")) if isinstance(sound, Mapping) else "",
        lost=str(sound.get("lost", "")) if isinstance(sound, Mapping) else "",
        noise_db=level - noise if isinstance(level, int | float) and isinstance(noise, int | float) else None,
    )


def _pair(each: Any) -> tuple[str, float | None]:
    if isinstance(each, Mapping):
        return str(each.get("words", "")), each.get("confidence")
    return (str(each[0]), each[1]) if isinstance(each, Sequence) and len(each) == 2 else ("", None)


def _branches(visit: Visit, story: Story, table: Table) -> tuple[Branch, ...]:
    """Every way on from the step, the one taken first; ways that lead to one place are one."""
    if visit.branched is None:
        return ()
    outcome, to = str(visit.branched.get("outcome", "")), str(visit.branched.get("to", ""))
    ways: dict[str, list[str]] = {}
    for name, target in table.get(visit.step, {}).items():
        ways.setdefault(target, []).append(name)
    ways.setdefault(to, [outcome])
    found = [
        Branch(
            outcomes=_words([outcome]) if target == to else _words(names),
            to=story.title_of_step(target) if target == to else title_of(target),
            taken=target == to,
        )
        for target, names in ways.items()
    ]
    return tuple(sorted(found, key=lambda each: not each.taken))


def _words(outcomes: Sequence[str]) -> str:
    return ", ".join(OUTCOME_WORDS.get(each, each.replace("_", " ")) for each in outcomes)


def _suspects(event: Event | None, before: Sequence[str]) -> tuple[tuple[Suspect, ...], str, Sequence[str]]:
    """Who is still possible, who was struck out by this reading, and a sentence about the rest."""
    odds = (event or {}).get("odds")
    if event is None or not isinstance(odds, Mapping):
        return (), "", before
    if event.get("contradicted_by"):
        return (), "The readings fit no fault that is known, and no sound engine.", ()
    left = [str(name) for name, share in odds.items() if isinstance(share, int | float) and share >= POSSIBLE]
    struck = [name for name in before if name not in left]
    shown = [Suspect(_name(name), in_words(float(odds[name])), struck=False) for name in left]
    shown += [Suspect(_name(name), "struck out", struck=True) for name in struck]
    more = int(event.get("left") or 0) - len(left)
    return tuple(shown), f"and {more} more still possible" if more > 0 else "", left


def _name(fault: str) -> str:
    return "a sound engine" if fault == HEALTHY else title_of(fault).lower()
