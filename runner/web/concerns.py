"""What a reviewer should see and hear first, the gravest at the top. Pure."""

from collections.abc import Iterator
from dataclasses import dataclass

from runner.record.chain import Audit
from runner.report.figures import moment, percent
from runner.report.flags import POORLY_HEARD, flags
from runner.report.story import Event, Story, Visit

LATE_S = 20.0  # a caution that waited longer for its answer; common practice, no source


@dataclass(frozen=True)
class Concern:
    """One thing to look at. visit: the check it belongs to, whose call-outs can be heard."""

    words: str
    visit: Visit | None = None
    grave: bool = False


def concerns(story: Story, audit: Audit) -> list[Concern]:
    """A record that is not as written first, then what the report flags, then cautions answered late."""
    by_anchor = {visit.anchor: visit for visit in story.visits}
    found = [Concern(f"The record is not as it was written: {each.what}.", grave=True) for each in audit.breaks]
    found += [Concern(_sentence(flag.text), by_anchor.get(flag.anchor)) for flag in flags(story)]
    found += _late_cautions(story)
    found += _poorly_heard(story, told={id(each.visit) for each in found if each.visit})
    return found


def _sentence(words: str) -> str:
    return words[:1].upper() + words[1:]


def _late_cautions(story: Story) -> Iterator[Concern]:
    """A danger that was spoken, and acknowledged long after or only when asked again."""
    for caution in story.cautions:
        text = str(caution.get("text", ""))
        for visit in story.visits:
            asked = [e for e in visit.asked if e.get("want") in ("acknowledge", "again") and text in str(e.get("text"))]
            if not asked or not text:
                continue
            waited_s = _between_s(asked[0], caution)
            if len(asked) > 1:
                yield Concern(f"Caution acknowledged only when asked {len(asked)} times: {text}", visit)
            elif waited_s > LATE_S:
                yield Concern(f"Caution acknowledged after {waited_s:.0f} s: {text}", visit)
            break
        if not caution.get("acknowledged"):
            yield Concern(f"Caution not acknowledged: {text}", grave=True)


def _poorly_heard(story: Story, *, told: set[int]) -> Iterator[Concern]:
    """Checks where a call-out was hardly understood, even if another was taken in its place."""
    for visit in story.visits:
        shares = [event.get("confidence") for event in visit.heard if event.get("listening") == "reading"]
        poor = [share for share in shares if isinstance(share, int | float) and share < POORLY_HEARD]
        if poor and id(visit) not in told:
            yield Concern(f"{len(poor)} of {len(shares)} call-outs heard poorly, the least {percent(min(poor))}", visit)


def _between_s(one: Event, other: Event) -> float:
    start, end = moment(one.get("at_utc")), moment(other.get("at_utc"))
    return (end - start).total_seconds() if start and end else 0.0
