"""Turns the story into the page: everything the template needs, as plain values."""

from collections.abc import Iterable, Mapping
from typing import Any

from flows.trial.suspects import HEALTHY, POSSIBLE, STANDS_OUT, in_words
from runner.report.circuit import Circuit, Picture, circuit_of, decided
from runner.report.facts import facts, simulated
from runner.report.flags import flags
from runner.report.paper import environment
from runner.report.readings import allowed, gauge_of, guard, value_of
from runner.report.story import OBJECTIONS, OUTCOME_WORDS, Event, Story, Visit, first_sentence, title_of
from runner.report.telling import tell

CONFIRMED = {
    "implicit": "read back, no objection",
    "called_twice": "called twice, both calls agree",
    "yes": "read back, answered yes",
    "typed": "typed",
    "none": "not confirmed: the calls did not agree",
}
SECTIONS = (
    ("job", "Checks", ""),
    ("closing", "Before closing", "The meter once more, so that what it showed can be relied on."),
    ("proof", "Proof of the repair", "Checks run again after the repair."),
)
ASIDE = ("acknowledge", "again")
# One shape a status, as on the gauges: a ring is open, a disc is settled, a diamond is undecided, a square ends early.
STATUS_SHAPES = {
    "found, not proved": "ring",
    "proved": "disc",
    "not found today": "diamond",
    "cannot decide": "diamond",
    "stopped": "square",
    "not finished": "square",
}
STATUS_MEANS = {
    "found, not proved": "The fault is named. The repair is not proved until the checks below have been run again and pass.",
    "proved": "The repair was made and the checks that prove it were run again and passed.",
    "not found today": "No fault showed while it was tested. What was proved good is below, and what was not.",
    "cannot decide": "The readings lie where this meter cannot tell good from bad.",
    "stopped": "The session was stopped before it came to an end.",
    "not finished": "The session has no end yet. Resume it to go on where it stands.",
}


def render(events: Iterable[Event]) -> str:
    """One session's events as one self-contained page."""
    story = tell(events)
    return environment().get_template("report.html").render(view(story))


def view(story: Story) -> dict[str, Any]:
    """All values of the page."""
    status = story.status
    circuit = circuit_of(story.opened)
    sections = [_section(title, note, story, phase, circuit) for phase, title, note in SECTIONS]
    return {
        "title": str(story.opened.get("title") or title_of(str(story.opened.get("flow", "session")))),
        "session": str(story.opened.get("session") or story.first.get("session", "")),
        "status": status,
        "status_shape": STATUS_SHAPES.get(status, "square"),
        "status_means": STATUS_MEANS.get(status, ""),
        "simulated": simulated(story.opened),
        "found": story.found,
        "circuit": circuit.drawing if circuit else "",
        "found_picture": _found_picture(story, circuit),
        "proof_steps": _proof_steps(story),
        "flags": flags(story),
        "facts": facts(story),
        "readings": [check for section in sections for check in section["checks"] if check["is_reading"]],
        "sections": sections,
        "pairs": _pairs(story),
        "cautions": story.cautions,
        "restored": [event for event in story.restored if event.get("text")],
        "unreachable": story.unreachable,
        "memos": story.memos,
        "troubles": [(event, words) for event, words in story.troubles],
        "talk": story.talk,
        "seal": {"events": story.count, "hash": str(story.last.get("hash", ""))},
        "code_version": str(story.opened.get("code_version", "")),
    }


def _found_picture(story: Story, circuit: Circuit | None) -> Picture | None:
    """The circuit with the probes of the last check that turned the flow."""
    if circuit is None or story.found is None:
        return None
    turned = [visit for visit in story.visits if visit.phase == "job" and decided(visit, story.found)]
    return circuit.picture(turned[-1].measured or {}) if turned else None


def _section(title: str, note: str, story: Story, phase: str, circuit: Circuit | None) -> dict[str, Any]:
    return {
        "title": title,
        "note": note,
        "checks": [_check(visit, story, circuit) for visit in story.visits if visit.phase == phase],
    }


def _check(visit: Visit, story: Story, circuit: Circuit | None = None) -> dict[str, Any]:
    measured, judged = visit.measured or {}, visit.judged or {}
    branched = visit.branched or {}
    outcome = str(judged.get("outcome") or visit.outcome)
    if measured and judged.get("low") is None and judged.get("high") is None and outcome in ("in", "answered"):
        outcome = "recorded"
    return {
        "anchor": visit.anchor,
        "number": visit.number,
        "title": visit.title,
        "step": visit.step,
        "when": {"closing": "at the end", "proof": "after the repair"}.get(visit.phase, ""),
        "is_reading": bool(measured),
        "at": visit.started.get("at_utc"),
        "took_s": visit.took_s,
        "asked": _asked(visit),
        "value": value_of(measured, judged),
        "outcome": outcome,
        "outcome_words": OUTCOME_WORDS.get(outcome, title_of(outcome).lower()) if outcome else "not finished",
        "allowed": allowed(judged),
        "guard": guard(judged),
        "because": str(judged.get("because") or ""),
        "gauge": gauge_of(measured, judged),
        "picture": circuit.picture(measured) if circuit and decided(visit, story.found) else None,
        "heard": [_heard(event) for event in visit.heard if _tells(event)],
        "missed": len(visit.unheard),
        "read_back": [str(event.get("text", "")) for event in visit.read_back],
        "answers": [str(event.get("answer", "")) for event in visit.answered],
        "confirmed": CONFIRMED.get(str(measured.get("confirmed")), str(measured.get("confirmed", ""))),
        "attempts": measured.get("attempts"),
        "places": [
            (colour, title_of(str(measured[key]).replace(".", ", ")))
            for colour, key in (("red", "place_red"), ("black", "place_black"))
            if measured.get(key)
        ],
        "to": _next(story, branched),
        "auto": bool(branched.get("auto")) or (bool(branched) and not visit.asked),
        "corrected": visit.corrected,
        "undone": visit.undone,
        "suspects": _suspects(visit.suspects or {}),
        "earlier": [value_of(each, {}) for each in visit.earlier],
        "notes": [words for _event, words in visit.notes],
    }


def _suspects(event: Event) -> str:
    """What is still possible after a reading, with odds in words: advice that was given, not what decided."""
    if event.get("contradicted_by"):
        return "Fits no fault that is known, and no sound engine."
    odds = event.get("odds")
    if not isinstance(odds, Mapping):
        return ""
    left = [name for name, share in odds.items() if share >= POSSIBLE]
    count = max(int(event.get("left") or 0), len(left))
    named = [f"{suspect_words(str(name))} ({in_words(odds[name])})" for name in left if odds[name] >= STANDS_OUT]
    if not named:
        return f"nothing stands out, {count} possible" if count else ""
    return ", ".join([*named, *([f"{count - len(named)} more"] if count > len(named) else [])])


def suspect_words(name: str) -> str:
    """A fault's name for a reader."""
    return "a sound engine" if name == HEALTHY else title_of(name).lower()


def _next(story: Story, branched: Event) -> str:
    """Where it went on, as a reader knows it: the finding, or how the next step was announced."""
    to = str(branched.get("to") or "")
    if story.found is not None and to and to == story.found.get("finding"):
        return f"Finding: {story.found.get('say') or title_of(to)}"
    return story.title_of_step(to) if to else ""


def _asked(visit: Visit) -> str:
    """How it was put, without the sentence that is its title already and without asking again."""
    texts = [str(event["text"]) for event in visit.asked if event.get("text") and event.get("want") not in ASIDE]
    if not texts:
        return ""
    first = first_sentence(texts[0])
    rest = texts[0].removeprefix(first) if first.rstrip(".:") == visit.title else texts[0]
    return " ".join(dict.fromkeys([rest.strip(), *texts[1:]])).strip()


def _tells(event: Event) -> bool:
    """Whether a word belongs beside a reading: "set" and "go ahead" are in the transcript."""
    return event.get("listening") not in ("commands", "yes_no") or str(event.get("words", "")).startswith(OBJECTIONS)


def _heard(event: Event) -> dict[str, Any]:
    others = []
    for each in event.get("alternatives") or ():
        words, confidence = (
            (each.get("words"), each.get("confidence")) if isinstance(each, Mapping) else (*each, None)[:2]
        )
        if words and words != event.get("words"):
            others.append((str(words), confidence))
    return {
        "at": event.get("at_utc"),
        "words": str(event.get("words", "")),
        "confidence": event.get("confidence"),
        "others": others,
        "level_dbfs": event.get("level_dbfs"),
        "source": str(event.get("source", "voice")),
    }


def _proof_steps(story: Story) -> list[dict[str, str]]:
    """The checks that prove the repair, and how each went when it was run."""
    ran: Mapping[str, Any] = dict((story.proof or {}).get("steps") or {}) if _is_map(story.proof) else {}
    lines = []
    for step in (story.found or {}).get("proof", ()):
        outcome = str(ran.get(step, ""))
        visit = story.of_step(str(step), "proof") or story.of_step(str(step), "job")
        words = f"run again: {OUTCOME_WORDS.get(outcome, outcome)}" if outcome else "not run yet"
        lines.append({"title": story.title_of_step(str(step)), "went": words, "anchor": visit.anchor if visit else ""})
    return lines


def _is_map(proof: Event | None) -> bool:
    return isinstance((proof or {}).get("steps"), Mapping)


def _pairs(story: Story) -> list[dict[str, str]]:
    """Readings before and after the repair, of each step that was done in both."""
    pairs = []
    for after in (visit for visit in story.visits if visit.phase == "proof" and visit.measured):
        before = story.of_step(after.step, "job")
        if before is None or before.measured is None:
            continue
        one, two = _check(before, story), _check(after, story)
        pairs.append(
            {
                "title": after.title,
                "before": one["value"],
                "before_outcome": one["outcome_words"],
                "after": two["value"],
                "after_outcome": two["outcome_words"],
                "allowed": two["allowed"],
            }
        )
    return pairs
