"""What was tested, where, with what and by whom, and what of it was simulated. Pure."""

from collections.abc import Mapping, Sequence
from typing import Any

from runner.report import figures
from runner.report.story import Event, Story, title_of


def _named(thing: Any) -> str:
    if isinstance(thing, Mapping):
        return str(thing.get("title") or thing.get("name") or "")
    return str(thing or "")


def _joined(things: Any) -> str:
    return ", ".join(map(str, things)) if isinstance(things, Sequence) and not isinstance(things, str) else str(things)


def facts(story: Story) -> list[tuple[str, str]]:
    opened = story.opened
    all_facts = [
        ("Machine", _named(opened.get("machine"))),
        ("Meter", _named(opened.get("meter"))),
        ("Place", _place(opened.get("site"))),
        ("Outside pressure", _outside(opened.get("outside"))),
        *((title_of(step), answer) for step, answer in _answers(story)),
        ("Ears fitted to", ", ".join(story.fitted_to)),
        ("Opened", figures.day(story.first.get("at_utc"))),
        _took(story),
        ("Time split", _split(story)),
    ]
    return [(name, text) for name, text in all_facts if text]


def _answers(story: Story) -> list[tuple[str, str]]:
    """What the technician told about the job; answers that are only fine, set or done stay with their step."""
    told: dict[str, str] = {}
    for visit in story.visits:
        for event in visit.answered:
            answer = str(event.get("answer", ""))
            if event.get("store") and visit.phase == "job" and not visit.undone:
                told[str(event["store"])] = answer.replace("_", " ")
    return list(told.items())


def _took(story: Story) -> tuple[str, str]:
    """Time at work; a rehearsal does not wait for hands and loudspeakers, so its seconds are a computer's."""
    if story.opened.get("simulated"):
        return "Ran in", f"{figures.lasting(max(1.0, story.worked_s))}, without waiting for hands or loudspeaker"
    return "Took", figures.lasting(story.worked_s) if story.worked_s else ""


def _place(site: Any) -> str:
    if not isinstance(site, Mapping):
        return str(site or "")
    parts = []
    if site.get("altitude_m") is not None:
        parts.append(f"{figures.number(site['altitude_m'], 0)} m above the sea")
    if site.get("outdoor_c") is not None:
        parts.append(f"{figures.number(site['outdoor_c'], 0)} °C outdoors")
    if site.get("qnh_hpa") is not None:
        parts.append(f"weather report {figures.number(site['qnh_hpa'], 0)} hPa")
    return ", ".join(parts)


def _outside(outside: Any) -> str:
    if not isinstance(outside, Mapping) or outside.get("low") is None or outside.get("high") is None:
        return ""
    text = f"{figures.number(outside['low'], 1)} to {figures.number(outside['high'], 1)} kPa"
    return f"{text}. {outside['because']}" if outside.get("because") else text


def simulated(opened: Event) -> list[str]:
    """Sentences about what was not real, for a rehearsal; the recogniser's training voices for any session."""
    told = []
    made = opened.get("simulated") or opened.get("technician")
    if made:
        told.append("Rehearsal: simulated technician and engine. No real engine was measured.")
        if isinstance(made, Mapping):
            if made.get("fault"):
                hidden = str(made["fault"])
                told.append(
                    "No fault was hidden." if hidden == "none" else f"The hidden fault: {title_of(hidden).lower()}."
                )
            if made.get("voice"):
                noise = made.get("noise_db")
                around = {"talk": "beside people talking", "radio": "beside a radio"}.get(
                    str(made.get("beside")), "in engine noise"
                )
                heard = f" {around} {figures.number(noise, 0)} dB below it" if noise is not None else ""
                told.append(
                    f"The call-outs were spoken by the synthetic voice {made['voice']}{heard}, and heard as sound."
                )
    if opened.get("training_voices"):
        told.append(f"The recogniser was trained on these voices: {_joined(opened['training_voices']).rstrip('.')}.")
    return told


def _split(story: Story) -> str:
    """Who the time went to, where the record tells."""
    time = story.time
    if time.total_s < 1:
        return ""
    parts = (("the tool talking", time.talking_s), ("the person working", time.working_s), ("waiting", time.waiting_s))
    return ", ".join(f"{figures.lasting(seconds)} {words}" for words, seconds in parts)
