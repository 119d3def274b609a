"""Folds a session's events into its story, one after the other. Pure."""

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from runner.record.listing import AFTERWARDS
from runner.record.times import in_all, step_times
from runner.report.figures import moment
from runner.report.story import OBJECTIONS, Event, Story, Visit


def tell(events: Iterable[Event]) -> Story:
    """The story of these events, in their order; an event this version does not know is counted and left alone."""
    story, events = Story(), tuple(events)
    story.time = in_all(step_times(events))
    for event in events:
        story.first = story.first or event
        # a pause counts as work; a session laid aside does not, nor what a reviewer does with it days later
        if event.get("type") != "resumed" and event.get("type") not in AFTERWARDS:
            story.worked_s += _seconds_between(story.last, event)
        if event.get("clock_back_s"):
            story.troubles.append((event, f"This computer's clock was set back by {event['clock_back_s']} s."))
        take = _TAKES.get(str(event.get("type")))
        if take is not None:
            take(story, event)
        story.last, story.count = event, story.count + 1  # so that a taker still sees the one before
    return story


def _seconds_between(one: Event, other: Event) -> float:
    start, end = moment(one.get("at_utc")), moment(other.get("at_utc"))
    return max(0.0, (end - start).total_seconds()) if start and end else 0.0


def _opened(story: Story, event: Event) -> None:
    story.opened = event


def _ears(story: Story, event: Event) -> None:
    who = str(event.get("fitted_to", ""))
    if who and who not in story.fitted_to:
        story.fitted_to.append(who)


def _repeating(story: Story, event: Event) -> None:
    story.repeating.append(event)


def _asked(story: Story, event: Event) -> None:
    step = event.get("step")
    visit = story.open_visit
    if visit is not None and visit.step != step:
        visit.left, visit, story.open_visit = True, None, None
    if not step:
        story.restored.append(event)
        return
    if visit is None or visit.branched is not None:
        visit = Visit(
            number=len(story.visits) + 1,
            step=str(step),
            phase=story.phase,
            started=event,
        )
        story.visits.append(visit)
        story.open_visit = visit
    visit.asked.append(event)
    visit.last = event


def _in_visit(attribute: str) -> Callable[[Story, Event], None]:
    def put(story: Story, event: Event) -> None:
        if story.open_visit is not None:
            getattr(story.open_visit, attribute).append(event)
            story.open_visit.last = event

    return put


def _heard(story: Story, event: Event) -> None:
    words = str(event.get("words", ""))
    who = {"keyboard": "typed", "button": "button"}.get(str(event.get("source")), "technician")
    story.talk.append((event, who, words))
    _in_visit("heard")(story, event)
    if story.open_visit is not None and words.split()[:1] and words.split()[0] in OBJECTIONS:
        story.open_visit.corrected = True


def _unheard(story: Story, event: Event) -> None:
    if event.get("why") == "silence" and story.last.get("type") == "read_back":
        return  # the moment left to object in, and nobody did
    story.talk.append((event, "technician", f"({event.get('why', 'nothing')})"))
    _in_visit("unheard")(story, event)


def _read_back(story: Story, event: Event) -> None:
    story.talk.append((event, "tool", str(event.get("text", ""))))
    _in_visit("read_back")(story, event)


def _said(story: Story, event: Event) -> None:
    story.talk.append((event, "tool", str(event.get("text", ""))))


def _visit_for(story: Story, step: Any) -> Visit | None:
    name = str(step)
    for visit in reversed(story.visits):
        if visit.step == name or name.startswith(f"{visit.step}: "):
            return visit
    return None


def _measured(story: Story, event: Event) -> None:
    if visit := _visit_for(story, event.get("step")):
        if visit.measured is not None:
            visit.earlier.append(visit.measured)
        visit.measured = visit.last = event


def _judged(story: Story, event: Event) -> None:
    if visit := _visit_for(story, event.get("step")):
        visit.judged = visit.last = event


def _suspects(story: Story, event: Event) -> None:
    if visit := _visit_for(story, event.get("step")):
        visit.suspects = event


def _unjudged(story: Story, event: Event) -> None:
    if visit := _visit_for(story, event.get("step")):
        visit.notes.append((event, f"Could not be judged: {event.get('why', 'no reason given')}"))


def _checked_at_end(story: Story, event: Event) -> None:
    if visit := _visit_for(story, event.get("step")):
        visit.ended = visit.last = event


def _proof_begun(story: Story, event: Event) -> None:
    story.phase, story.open_visit = "proof", None


def _answered(story: Story, event: Event) -> None:
    if visit := _visit_for(story, event.get("step")):
        visit.answered.append(event)
        visit.last = event


def _branched(story: Story, event: Event) -> None:
    visit = story.open_visit
    if visit is None or visit.step != event.get("step") or visit.branched is not None:
        visit = Visit(len(story.visits) + 1, str(event.get("step")), story.phase, event)
        story.visits.append(visit)  # went on without asking: what it needs was out of reach before
    visit.branched = visit.last = event
    story.open_visit = None


def _corrected(story: Story, event: Event) -> None:
    if visit := _visit_for(story, event.get("step")):
        visit.corrected = True


def _went_back(story: Story, event: Event) -> None:
    seen = False
    for visit in reversed(story.visits):
        visit.undone = True
        if visit.step == event.get("to"):
            seen = True
            break
    if not seen and story.visits:
        story.visits[-1].undone = True
    story.open_visit = None


def _caution(story: Story, event: Event) -> None:
    story.cautions.append(event)


def _doubt(story: Story, event: Event) -> None:
    story.doubts.append(event)


def _overridden(story: Story, event: Event) -> None:
    story.overridden.append(event)
    if visit := _visit_for(story, event.get("step")):
        visit.notes.append((event, f"Overridden: {event.get('why', 'no reason given')}"))


def _memo(story: Story, event: Event) -> None:
    story.memos.append(event)


def _unreachable(story: Story, event: Event) -> None:
    story.unreachable.append(event)


def _found(story: Story, event: Event) -> None:
    story.found, story.open_visit, story.phase = event, None, "closing"


def _proof_run(story: Story, event: Event) -> None:
    story.proof = event


def _stopped(story: Story, event: Event) -> None:
    story.stopped = event


def _closed(story: Story, event: Event) -> None:
    if story.open_visit is not None:
        story.open_visit.left = story.stopped is None
    story.closed, story.open_visit = event, None


def _resumed(story: Story, event: Event) -> None:
    if story.found is not None and story.closed is not None:
        story.phase = "proof"
    story.closed = story.stopped = None
    story.troubles.append((event, "Went on."))


def _trouble(words: Callable[[Event], str]) -> Callable[[Story, Event], None]:
    def put(story: Story, event: Event) -> None:
        story.troubles.append((event, words(event)))
        if story.open_visit is not None:
            story.open_visit.notes.append((event, words(event)))

    return put


_TAKES: Mapping[str, Callable[[Story, Event], None]] = {
    "opened": _opened,
    "ears": _ears,
    "repeating": _repeating,
    "asked": _asked,
    "heard": _heard,
    "unheard": _unheard,
    "read_back": _read_back,
    "said": _said,
    "measured": _measured,
    "judged": _judged,
    "answered": _answered,
    "branched": _branched,
    "suspects": _suspects,
    "unjudged": _unjudged,
    "checked_at_end": _checked_at_end,
    "proof_begun": _proof_begun,
    "corrected": _corrected,
    "went_back": _went_back,
    "caution": _caution,
    "doubt": _doubt,
    "overridden": _overridden,
    "memo": _memo,
    "unreachable": _unreachable,
    "found": _found,
    "proof_run": _proof_run,
    "stopped": _stopped,
    "closed": _closed,
    "resumed": _resumed,
    "paused": _trouble(lambda event: "Paused."),
    "device_lost": _trouble(
        lambda event: f"Lost the {event.get('device', 'device')}: {event.get('reason', 'no reason given')}."
    ),
    "device_back": _trouble(lambda event: f"The {event.get('device', 'device')} is back."),
}
