"""The page tells the whole session, in words, safely, from whatever events there are."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

from runner.record.journal import Journal
from runner.report import render
from runner.report.story import Story

Event = dict[str, Any]

SUPPLY = {"low": 4.9, "high": 5.1, "unit": "V", "because": "The control unit holds five volts within two percent."}
SIGNAL = {
    "low": 3.97,
    "high": 4.27,
    "unit": "V",
    "because": "At 98.3 to 104.3 kilopascals outside, with the 4.98 volts measured at the plug, the sensor's curve gives this.",
}
GROUND = {"low": None, "high": 0.05, "unit": "V", "because": "Sensor ground may drop fifty millivolts, the sheet says."}
OHMS = {"low": None, "high": 0.5, "unit": "ohm", "because": "Leads and jacks in order show half an ohm or less."}
ISOLATED = {"low": 1e5, "high": None, "unit": "ohm", "because": "With both ends off, a sound wire is open to ground."}


class Told:
    """Writes events as a session would, a few seconds apart."""

    def __init__(self) -> None:
        self.events: list[Event] = []
        self._at = datetime(2031, 4, 5, 6, 7, 8, tzinfo=UTC)

    def put(self, kind: str, **facts: Any) -> Told:
        self._at += timedelta(seconds=2.4)
        number = len(self.events) + 1
        self.events.append(
            {
                "type": kind,
                **facts,
                "session": "20310405-060708-demo",
                "sequence": number,
                "at_utc": self._at.isoformat().replace("+00:00", "Z"),
                "at_mono_s": 2.4 * number,
                "hash": f"{number:064x}",
            }
        )
        return self

    def hear(self, words: str, confidence: float = 0.97, *others: tuple[str, float], source: str = "voice") -> Told:
        return self.put(
            "heard",
            listening="commands" if words in ("set", "wrong") else "reading",
            words=words,
            confidence=confidence,
            alternatives=[[words, confidence], *map(list, others)],
            level_dbfs=-21.5,
            source=source,
        )

    def answer(self, step: str, text: str, answer: str, outcome: str = "answered", store: str | None = None) -> Told:
        self.put("asked", step=step, want="choice", text=text).hear(answer.replace("_", " "))
        self.put("answered", step=step, answer=answer, outcome=outcome, store=store)
        return self.put("branched", step=step, outcome=outcome, to="next", auto=False)

    def read(
        self, step: str, text: str, words: str, value: float | None, window: Event, outcome: str, **more: Any
    ) -> Told:
        """One check, from asking to branching."""
        others = more.pop("others", ())
        confidence = more.pop("confidence", 0.97)
        facts = {
            "quantity": "resistance" if window["unit"] == "ohm" else "dc_voltage",
            "unit": window["unit"],
            "high": None,
            "over_range": value is None,
            "words": words,
            "decimals": 2,
            "attempts": 1,
            "confirmed": "implicit",
            "place_red": "plug.signal",
            "place_black": "plug.ground",
            "state": {"key": "on"},
        } | {key: more.pop(key) for key in ("high", "attempts", "confirmed", "decimals", "over_range") if key in more}
        self.put("asked", step=step, want="set", text=text).hear("set")
        self.put("asked", step=step, want="reading", text="Call the volts.")
        self.hear(words, confidence, *others)
        self.put("read_back", text=f"{words}. {outcome}")
        self.put("measured", step=step, value=value, **facts)
        judged = {"guard": 0.032 if window["unit"] == "V" else 0.1, "near_limit": False, "sentence": ""} | more
        self.put("judged", step=step, outcome=outcome, value=value, quantity=facts["quantity"], **window, **judged)
        return self.put("branched", step=step, outcome=outcome, to="signal-at-unit", auto=False)


def session(*, simulated: bool = True, proved: bool = False) -> list[Event]:
    """An invented session with one of everything."""
    told = Told()
    told.put(
        "opened",
        flow="manifold-pressure",
        title="Manifold pressure and intake temperature sensor",
        machine="TH-2 twin",
        meter="Bench meter, 6 V and 60 V",
        site={"altitude_m": 240.0, "outdoor_c": 14.0, "qnh_hpa": None, "thermometer_c": None},
        outside={"low": 95.5, "nominal": 98.5, "high": 101.5, "because": "240 metres up, give or take the weather."},
        code_version="0.1.0",
        **({"simulated": {"fault": "signal-open", "seed": 1, "noise_db": 20, "voice": "en-gb"}} if simulated else {}),
        **(
            {"training_voices": "espeak-ng voices in eight variants, two speakers of public recordings"}
            if simulated
            else {}
        ),
    )
    told.answer("job/complaint", "The complaint: light, no start, rough, or other?", "light", store="complaint")
    told.answer("job/codes", "Which codes are stored?", "P0107", store="codes")
    told.answer("job/who", "Your initials?", "K R", store="who")
    told.put(
        "caution",
        name="hot",
        text="The engine may be hot. Let it cool, and follow the maker's manual.",
        acknowledged=True,
    )
    told.put(
        "caution", name="no_piercing", text="Never pierce insulation. Follow the maker's manual.", acknowledged=True
    )
    told.read("meter/leads-shorted", "Ohms. Touch the probes together.", "point two ohms", 0.2, OHMS, "in", decimals=1)
    told.answer("look/latch", "Look at the latch. Fine, bad, or can't see?", "fine", "fine")
    told.answer("look/hose", "Look at the hose. Fine, bad, or can't see?", "cant_see", "cannot")
    told.read(
        "supply-at-plug",
        "Sensor supply. Red to pin 1, orange, far left. Black to pin 4, brown. Say set.",
        "four point nine eight volts",
        4.98,
        SUPPLY,
        "in",
        near_limit=True,
        others=(("five point nine eight volts", 0.02),),
    )
    told.read("ground-to-battery", "Sensor ground against the battery. Red to pin 4. Say set.", "four eight millivolts", 0.048, GROUND, "doubtful",
              guard=0.0043, decimals=3)  # fmt: skip
    told.put("doubt", why="ground-to-battery: the meter could not decide")
    told.put("asked", step="still-signal", want="reading", text="Pressure signal, engine still. Call the volts.")
    told.hear("four point one two volts", 0.41, ("four point one volts", 0.3))
    told.put("read_back", text="Four point one two volts. In limits.").hear("wrong")
    told.read("still-signal", "", "four point nine two volts", 4.92, SIGNAL, "high", confirmed="called_twice",
              attempts=3, confidence=0.52)  # fmt: skip
    told.read(
        "signal-at-unit", "Red to the control unit, pin 7.", "minus point oh two", -0.02, SIGNAL, "low", decimals=2
    )
    told.read("wire-wiggle", "Move the loom.", "bouncing", 3.9, SIGNAL, "unsteady", high=4.4)
    told.read("isolation", "Ohms, both ends off.", "oh el", None, ISOLATED, "in", over_range=True, guard=0.0)
    told.read("wire-ohms", "Ohms from end to end.", "oh el", None, OHMS, "open_line", over_range=True)
    told.put("device_lost", device="microphone", reason="unplugged").put("device_back", device="microphone")
    told.put("paused").put("resumed").put("memo", words="rub mark under the clip", step="wire-ohms")
    told.put("unreachable", place="control-unit-plug")
    told.put(
        "found",
        finding="signal-open",
        say="The pressure signal wire is open between plug and control unit.",
        do="Look along the loom for the break, repair it with a sealed splice, then run the proof.",
        blames=["signal-open", "signal-pin-pushed-back"],
        status="found",
        proof=["still-signal", "supply-at-plug"],
    )
    told.put("asked", step="meter-again/jack", want="set", text="Red lead in the volts jack. Say set.").hear("set")
    told.read("meter-again/leads", "The leads.", "point three ohms", 0.3, OHMS, "in", decimals=1)
    told.put("asked", step=None, want="set", text="Sensor plug back in. Say set.").hear("set")
    told.put(
        "closed", status="found, not proved", doubtful=["ground-to-battery: the meter could not decide"], put_right=[]
    )
    if proved:
        told.put("resumed")
        told.read("still-signal", "Pressure signal, engine still.", "four point one one volts", 4.11, SIGNAL, "in")
        told.read("supply-at-plug", "Sensor supply.", "four point nine nine volts", 4.99, SUPPLY, "in")
        told.put("proof_run", steps={"still-signal": "in", "supply-at-plug": "in"}, passed=True)
        told.put("closed", status="proved", doubtful=[], put_right=["cap of the injector plug"])
    return told.events


# --- reading the page -----------------------------------------------------------------------------------------------


class Page(HTMLParser):
    """What a reader, a screen reader and a security reviewer see of a page."""

    VOID = frozenset({"meta", "link", "br", "circle", "path", "rect"})

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.words: list[str] = []
        self.feed(text)
        assert self.open == [], f"left open: {self.open}"

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open[-1:] != ["style"]:
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split()).replace("\u202f", " ")

    def having(self, tag: str, **attributes: str) -> list[dict[str, str | None]]:
        return [a for name, a in self.tags if name == tag and all(a.get(k) == v for k, v in attributes.items())]


@pytest.fixture(scope="module")
def page() -> Page:
    return Page(render(session()))


def test_status_is_in_words(page: Page) -> None:
    assert "Found, not proved The fault is named. The repair is not proved until" in page.text
    assert "Manifold pressure and intake temperature sensor: found, not proved" in page.text  # the browser's title


def test_finding_says_what_to_do_and_how_it_is_proved(page: Page) -> None:
    assert "The pressure signal wire is open between plug and control unit." in page.text
    assert "What to do. Look along the loom" in page.text
    assert "Signal open, or signal pin pushed back These checks cannot tell them apart." in page.text
    assert "Pressure signal, engine still not run yet Sensor supply not run yet" in page.text


def test_what_to_look_at_first_is_named_once_a_check(page: Page) -> None:
    start = page.text.index("Look at these first")
    top = page.text[start : page.text.index("Rehearsal:")]
    assert "Sensor ground against the battery : the meter could not decide" in top
    assert top.count("could not decide") == 1
    assert "Sensor supply : near a limit" in top
    assert "Pressure signal, engine still : corrected by the technician; called 3 times; heard poorly (52 %)" in top
    assert "Lost the microphone: unplugged." in top


def test_rehearsal_says_what_is_simulated_and_who_trained_it(page: Page) -> None:
    assert "simulated technician and engine. No real engine was measured." in page.text
    assert "The hidden fault: signal open." in page.text
    assert "synthetic voice en-gb in engine noise 20 dB below it" in page.text
    assert "trained on these voices: espeak-ng voices in eight variants" in page.text
    assert "imulated" not in Page(render(session(simulated=False))).text


def test_job_facts_stand_together(page: Page) -> None:
    for fact in (
        "Machine TH-2 twin",
        "Meter Bench meter, 6 V and 60 V",
        "Place 240 m above the sea, 14 °C outdoors",
        "Outside pressure 95.5 to 101.5 kPa. 240 metres up",
        "Complaint light",
        "Codes P0107",
        "Who K R",
        "Opened 5 April 2031, 06:07 UTC",
    ):
        assert fact in page.text


def test_check_shows_asked_heard_measured_allowed_and_why(page: Page) -> None:
    start = page.text.index("Sensor supply supply-at-plug")
    card = page.text[start : page.text.index("Sensor ground against the battery", start)]
    for words in (
        "Red to pin 1, orange, far left. Black to pin 4, brown. Say set. Call the volts.",
        "4.98 V",
        "in limits",
        "The control unit holds five volts within two percent.",
        "Allowed 4.9 to 5.1 V , doubtful within 32 mV of a limit",
        "“four point nine eight volts” 97 %; or “five point nine eight volts” 2 %",
        "Confirmed read back, no objection",
        "Probes red on plug, signal; black on plug, ground",
        "Then Red to the control unit, pin 7",
    ):
        assert words in card, words


def test_moment_left_to_object_in_is_no_miss() -> None:
    told = Told().put("opened", title="T").put("asked", step="one", want="reading", text="One.")
    told.put("unheard", why="not of this kind", words="<unk>", listening="reading").hear("five volts")
    told.put("read_back", text="Five volts.").put("unheard", why="silence", words="", listening="commands")
    told.put(
        "measured",
        step="one",
        value=5.0,
        unit="V",
        quantity="dc_voltage",
        over_range=False,
        confirmed="implicit",
        attempts=1,
    )
    text = Page(render(told.events)).text
    assert "1 not understood or silent" in text and "(silence)" not in text and "3 utterances" in text


def test_reading_without_limits_is_recorded_not_passed() -> None:
    told = Told().put("opened", title="T")
    told.read(
        "air",
        "Thermometer.",
        "one five degrees",
        15.0,
        {"low": None, "high": None, "unit": "degC", "because": "Recorded, not judged."},
        "in",
    )
    text = Page(render(told.events)).text
    assert "15.00 °C recorded" in text and "in limits" not in text and "doubtful within" not in text


def test_repair_of_a_misheard_call_is_told(page: Page) -> None:
    card = page.text[page.text.index("Pressure signal, engine still still-signal") :]
    card = card[: card.index("signal-at-unit")]
    assert card.index("“four point one two volts”") < card.index("“wrong”") < card.index("“four point nine two volts”")
    assert "called twice, both calls agree (3 calls)" in card and "Corrected by the technician" in card


def test_every_reading_has_a_gauge_with_words(page: Page) -> None:
    gauges = [str(a["aria-label"]).replace("\u202f", " ") for a in page.having("svg", role="img")]
    assert "4.98 V; allowed from 4.9 V to 5.1 V" in gauges
    assert "Over range; allowed from 100 kΩ" in gauges
    assert "Between 3.9 V and 4.4 V; allowed from 3.97 V to 4.27 V" in gauges
    assert len(gauges) == 9


def test_looks_cautions_restoring_notes_and_reach_are_listed(page: Page) -> None:
    assert "Look at the latch fine look/latch" in page.text and "Look at the hose could not be done" in page.text
    assert "Never pierce insulation. Follow the maker's manual. acknowledged" in page.text
    assert "Put right" in page.text and "Sensor plug back in. Say set." in page.text
    assert "“rub mark under the clip”" in page.text
    assert "Out of reach" in page.text and "Control unit plug" in page.text


def test_readings_before_and_after_stand_side_by_side_once_proved() -> None:
    page = Page(render(session(proved=True)))
    assert "Proved The repair was made" in page.text
    start = page.text.index("Before and after")
    assert "Pressure signal, engine still 4.92 V high 4.11 V in limits 3.97 to 4.27 V" in page.text[start : start + 250]
    assert "Pressure signal, engine still run again: in limits" in page.text
    assert "Not put right: cap of the injector plug" in page.text


def test_every_link_leads_to_a_place_on_the_page(page: Page) -> None:
    ids = {a["id"] for _tag, a in page.tags if a.get("id")}
    targets = [str(a["href"]) for a in page.having("a")]
    assert targets and all(target[0] == "#" and target[1:] in ids for target in targets)
    assert len(ids) == len([a for _tag, a in page.tags if a.get("id")])


def test_meter_checked_at_the_end_is_no_proof_of_the_repair(page: Page) -> None:
    assert "Proof of the repair" not in page.text
    assert "Before closing The meter once more" in page.text
    assert "Red lead in the volts jack done meter-again/jack" in page.text
    assert "The leads 0.3 Ω at most 0.5 Ω in limits, at the end" in page.text
    proved = Page(render(session(proved=True))).text
    assert proved.index("Before closing") < proved.index("Proof of the repair Checks run again after the repair.")


def test_suspects_are_told_with_odds_in_words() -> None:
    told = Told().put("opened", title="T").put("asked", step="one", want="reading", text="One.").hear("five volts")
    reading = {"step": "one", "unit": "V", "quantity": "dc_voltage", "over_range": False, "attempts": 1}
    told.put("measured", value=9.0, confirmed="implicit", **reading)
    told.put("suspects", step="one", odds={}, left=0, contradicted_by="one")
    assert "Suspects Fits no fault that is known, and no sound engine." in Page(render(told.events)).text
    told.put("measured", value=5.0, confirmed="implicit", **reading)
    odds = {"signal-open": 0.5, "none": 0.2, "a": 0.1, "b": 0.05, "c": 0.002}
    told.put("suspects", step="one", odds=odds, left=9, contradicted_by=None)
    text = Page(render(told.events)).text
    assert "Suspects signal open (one in two), a sound engine (one in five), 7 more" in text
    assert "Read before 9 V, then taken again" in text


def test_many_equal_suspects_are_counted_not_listed() -> None:
    told = Told().put("opened", title="T").put("asked", step="one", text="One.")
    told.put("measured", step="one", value=5.0, unit="V")
    told.put("suspects", step="one", odds={"a": 0.1, "b": 0.1}, left=10, contradicted_by=None)
    assert "Suspects nothing stands out, 10 possible" in Page(render(told.events)).text


def test_check_of_the_closing_and_one_that_could_not_be_judged_are_told() -> None:
    told = Told().put("opened", title="T").put("asked", step="supply", text="Supply.")
    told.put("unjudged", step="supply", why="the reading of rest is missing")
    told.put("branched", step="supply", outcome="cannot", to="x")
    told.put("found", finding="x", say="X.", status="found").put("asked", step="meter/jack", text="Jack.")
    told.put("checked_at_end", step="meter/jack", outcome="done")
    text = Page(render(told.events)).text
    assert "Could not be judged: the reading of rest is missing" in text
    assert "Before closing" in text and "Jack done" in text
    told.put("closed", status="found, not proved").put("resumed").put("proof_begun").put(
        "asked", step="supply", text="Supply."
    )
    assert "Proof of the repair" in Page(render(told.events)).text


# --- safety ---------------------------------------------------------------------------------------------------------


def test_page_is_self_contained_and_runs_nothing(page: Page) -> None:
    text = render(session())
    assert not page.having("script") and not page.having("img") and not page.having("iframe")
    assert not re.search(r"https?://|@import|url\((?!#hatch)", text)
    assert not [a for _tag, a in page.tags for key in a if key.startswith("on")]
    assert "default-src 'none'" in str(page.having("meta")[2]["content"])
    assert len(text) < 120_000


HOSTILE = "</style><script>alert(1)</script><img src=x onerror=alert(2)>{{ 7 * 7 }}\"' &amp;"


def poison(value: Any, key: str = "") -> Any:
    if key in ("type", "at_utc", "listening", "step", "to", "outcome", "unit", "quantity", "source"):
        return f"{value}{HOSTILE}" if key in ("step", "to") and value else value
    if isinstance(value, str):
        return value + HOSTILE
    if isinstance(value, dict):
        return {name: poison(each, name) for name, each in value.items()}
    return [poison(each) for each in value] if isinstance(value, list) else value


def test_nothing_from_the_record_becomes_markup() -> None:
    text = render([poison(event, "event") for event in session(proved=True)])
    page = Page(text)
    assert not page.having("script") and not page.having("img")
    assert text.count("<style>") == 1 and "{{ 7 * 7 }}" in page.text
    assert html.escape("<script>alert(1)") in text


# --- whatever there is ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("proved", [False, True])
def test_page_can_be_made_at_any_instant(proved: bool) -> None:
    events = session(proved=proved)
    for count in range(len(events)):
        Page(render(events[:count]))
    assert "Not finished" in Page(render(events[:20])).text


def test_events_with_least_facts_still_render() -> None:
    types = sorted({event["type"] for event in session(proved=True)} | {"unknown_later_kind", "unheard", "corrected"})
    for kind in types:
        Page(render([{"type": kind}]))
    Page(render([{"type": kind} for kind in types]))
    Page(render([{"type": "asked", "step": "a", "text": "A."}, *({"type": kind, "step": "a"} for kind in types)]))


def test_going_back_marks_what_was_taken_up_again() -> None:
    told = Told().put("opened", title="T")
    told.read("one", "One.", "five", 5.0, SUPPLY, "in").read("two", "Two.", "four", 4.0, SUPPLY, "low")
    told.put("went_back", to="one")
    told.read("one", "One.", "four point nine five", 4.95, SUPPLY, "in")
    page = Page(render(told.events))
    assert [a.get("class") for a in page.having("li") if a.get("id")] == ["undone", "undone", None]
    assert "One : gone back on, so its reading was not used" in page.text


def test_step_passed_over_because_it_is_out_of_reach_is_told() -> None:
    told = Told().put("opened", title="T").put("branched", step="signal-at-unit", outcome="cannot", to="x", auto=True)
    text = Page(render(told.events)).text
    assert "Signal at unit could not be done" in text
    assert "Not asked: what it needs was out of reach." in text


def test_typed_and_clock_are_told() -> None:
    told = Told().put("opened", title="T", clock_back_s=3600.0)
    told.put("asked", step="one", text="One.").hear("five volts", 1.0, source="keyboard")
    told.put(
        "measured",
        step="one",
        value=5.0,
        unit="V",
        quantity="dc_voltage",
        over_range=False,
        confirmed="typed",
        attempts=1,
    )
    text = Page(render(told.events)).text
    assert "“five volts” keyboard" in text and "Confirmed typed" in text
    assert "clock was set back by 3600.0 s" in text


def test_stop_is_told_with_its_reason() -> None:
    told = Told().put("opened", title="T").put("stopped", why="stop test was said")
    told.put("closed", status="stopped", doubtful=[], put_right=["sensor plug", "jumper"])
    text = Page(render(told.events)).text
    assert "Stopped The session was stopped before it came to an end." in text
    assert "Not put right: sensor plug" in text and "Stopped: stop test was said" in text


def test_page_is_made_from_a_journal(tmp_path: Path) -> None:
    own = {"sequence", "at_utc", "at_mono_s", "hash"}
    with Journal.open(tmp_path / "leadsman.db", "20310405-060708-demo") as journal:
        for event in session():
            journal.append({key: value for key, value in event.items() if key not in own})
        events = journal.events()
    page = Page(render(events))
    assert f"Record of {len(events)} events" in page.text and events[-1]["hash"] in page.text


@pytest.fixture(scope="module")
def many() -> Iterator[list[Event]]:
    told = Told().put("opened", title="T")
    for number in range(200):
        told.read(f"check-{number}", "Call the volts.", "five volts", 5.0, SUPPLY, "in")
    yield told.events


def test_long_session_is_one_page_in_good_time(many: list[Event]) -> None:
    started = datetime.now(UTC)
    text = render(many)
    assert (datetime.now(UTC) - started).total_seconds() < 3
    assert len(text) < 2_000_000


@pytest.mark.parametrize(
    ("about", "title"),
    [
        ({"repair/away": "The codes after that. Key on. Do they stay away?"}, "The codes after that"),
        ({"repair/away": ""}, "Repair, away"),
        (["of a record from elsewhere"], "Repair, away"),
        (None, "Repair, away"),
    ],
)
def test_a_check_that_is_still_to_come_is_named_by_what_it_will_say(about: object, title: str) -> None:
    assert Story(found={"type": "found", "proof_about": about}).title_of_step("repair/away") == title
