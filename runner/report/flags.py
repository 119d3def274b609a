"""What a reviewer should look at first, each with the check it belongs to. Pure."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from runner.report.figures import percent
from runner.report.story import Story, Visit

POORLY_HEARD = 0.6  # a confidence below this is worth a second look; it never decides anything
MANY_CALLS = 2


@dataclass(frozen=True)
class Flag:
    """One thing to look at; anchor "" when it belongs to no check."""

    text: str
    anchor: str = ""
    title: str = ""


def flags(story: Story) -> list[Flag]:
    """The gravest first: what is not put right, what was overridden, doubts, how readings came about, then trouble."""
    found: list[Flag] = []
    closed = story.closed or {}
    found.extend(Flag(f"Not put right: {item}") for item in closed.get("put_right", ()))
    doubts = [str(event.get("why", "")) for event in story.doubts]
    doubts += [str(each) for each in closed.get("doubtful", ()) if each not in doubts]
    against = {f"{event.get('step')}: {event.get('why', 'no reason given')}" for event in story.overridden}
    found.extend(_told_of(story, each, word="Overridden") for each in sorted(against))
    found.extend(_told_of(story, doubt, word="Doubtful") for doubt in doubts if doubt not in against)
    if story.stopped is not None:
        found.append(Flag(f"Stopped: {story.stopped.get('why', 'no reason given')}"))
    for visit in story.visits:
        if texts := list(_of_visit(visit)):
            found.append(Flag("; ".join(texts), visit.anchor, visit.title))
    found.extend(Flag(_repeated(event)) for event in story.repeating)
    found.extend(Flag(words) for event, words in story.troubles if event.get("type") == "device_lost" or _clock(words))
    return found


def _told_of(story: Story, what: str, *, word: str) -> Flag:
    """What opens with a step's name leads to that step; only an override says there which of the two it is."""
    step, colon, rest = what.partition(": ")
    visit = story.of_step(step, "proof") or story.of_step(step, "job") if colon else None
    if visit is None:
        return Flag(f"{word}: {what}")
    return Flag(f"{word}: {rest}" if word == "Overridden" else rest, visit.anchor, visit.title)


def _repeated(event: Mapping[str, Any]) -> str:
    who = event.get("fitted_to")
    ears = f"the ears fitted to {who}, left out from there on" if who else "ears fitted to nobody"
    return f"Heard badly: {event.get('call_outs')} call-outs for {event.get('readings')} readings, {ears}"


def _clock(words: str) -> bool:
    return "clock" in words


def _of_visit(visit: Visit) -> Iterator[str]:
    measured, judged = visit.measured or {}, visit.judged or {}
    if visit.undone:
        yield "gone back on, so its reading was not used"
    if judged.get("outcome") == "doubtful":
        yield "inside this meter's guard band: not decided by this reading"
    elif judged.get("near_limit"):
        yield "near a limit"
    if measured.get("confirmed") == "none":
        yield "the calls did not agree"
    if visit.corrected:
        yield "corrected by the technician"
    attempts = measured.get("attempts")
    if isinstance(attempts, int) and attempts > MANY_CALLS:
        yield f"called {attempts} times"
    accepted = [event for event in visit.heard if event.get("words") == measured.get("words")]
    confidence = accepted[-1].get("confidence") if accepted else None
    if isinstance(confidence, int | float) and confidence < POORLY_HEARD:
        yield f"heard poorly ({percent(confidence)})"
