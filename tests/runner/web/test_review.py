"""The supervisor's pages over HTTP: the list, a session, what is written, two side by side, spread, re-asking."""

import json
import re
from collections.abc import Callable
from pathlib import Path

import httpx
import pytest
from starlette.types import ASGIApp

from runner.record.across import Asking, Taken
from runner.record.chain import Audit, Break
from runner.record.journal import Journal
from runner.record.sounds import SoundStore
from runner.report.telling import tell
from runner.web.app import make_app
from runner.web.concerns import concerns
from runner.web.over_sessions import by_noise, drawn, summary
from runner.web.records import BayRecords
from runner.web.review import section
from runner.web.reviews import reviewed
from runner.web.walk_graph import graph_of

Start = Callable[[ASGIApp], httpx.Client]
SESSION = "2031-04-05-bbbb"


@pytest.fixture
def client(journal: Path, serve: Start) -> httpx.Client:
    return serve(make_app([section(BayRecords(journal, SoundStore(journal.parent / "audio")))]))


def form_of(client: httpx.Client, session: str = SESSION) -> dict[str, str]:
    text = client.get(f"/sessions/{session}").text
    return {**dict(re.findall(r'name="(upto|head|token)" value="([^"]+)"', text)), "by": "RV"}


def events(journal: Path, session: str = SESSION) -> list[dict]:
    with Journal.read(journal) as found:
        return found.events(session)


def order_in(text: str) -> list[str]:
    return re.findall(r'href="/sessions/([^"]+)"', text)


# --- the list -------------------------------------------------------------------------------------------------------------


def test_what_needs_a_reviewer_stands_first_and_a_signed_session_last(client: httpx.Client) -> None:
    first = order_in(client.get("/").text)
    assert len(first) == 4
    client.post(f"/sessions/{first[0]}/verdict", data={**form_of(client, first[0]), "verdict": "sign"})
    assert order_in(client.get("/").text) == [*first[1:], first[0]]


def test_filters_hold_together_and_stay_in_the_form(client: httpx.Client) -> None:
    found = client.get("/", params={"finding": "signal-open", "mark": "unsigned"}).text
    assert order_in(found) == [SESSION]
    assert '<option value="signal-open" selected>' in found and 'value="unsigned" data-send checked' in found
    assert order_in(client.get("/", params={"text": "bbbb manifold"}).text) == [SESSION]
    assert order_in(client.get("/", params={"finding": "signal-open", "mark": "sent_back"}).text) == []


def test_a_list_of_nothing_says_what_to_do(client: httpx.Client, tmp_path: Path, serve: Start) -> None:
    assert "No session fits" in client.get("/?text=zzzz").text


# --- a session -------------------------------------------------------------------------------------------------------------


def test_the_session_tells_all_that_was_asked_heard_and_decided(client: httpx.Client, journal: Path) -> None:
    text = client.get(f"/sessions/{SESSION}").text
    for event in events(journal):
        if event["type"] == "measured":
            assert f'<q class="words">{event["words"]}</q>' in text
        if event["type"] == "judged":
            assert event["because"].replace("'", "&#39;") in text
    assert text.count('class="gauge"') == sum(e["type"] == "measured" for e in events(journal)) - _unjudged(journal)
    assert 'class="taken"' in text and 'class="untaken"' in text


def _unjudged(journal: Path) -> int:
    """Readings taken again within one visit show the last; none here."""
    steps = [e["step"] for e in events(journal) if e["type"] == "measured"]
    return len(steps) - len(set(steps))


def test_a_session_that_is_not_there_is_said_so(client: httpx.Client) -> None:
    answer = client.get("/sessions/2031-04-05-zzzz")
    assert answer.status_code == 404 and "There is no such page" in answer.text


def test_the_report_is_one_click_away_and_shown_with_its_style(client: httpx.Client) -> None:
    answer = client.get(f"/sessions/{SESSION}/report")
    assert f'href="/sessions/{SESSION}/report"' in client.get(f"/sessions/{SESSION}").text
    assert f'href="/sessions/{SESSION}"' in answer.text, "and back again"
    assert "style-src 'sha256-" in answer.headers["content-security-policy"]


def test_kept_sound_is_served_and_sound_that_is_gone_said_so(client: httpx.Client, journal: Path) -> None:
    digest = next(e["sound"]["sha256"] for e in events(journal) if "sound" in e)
    answer = client.get(f"/sound/{digest}")
    assert answer.headers["content-type"] == "audio/flac" and answer.content[:4] == b"fLaC"
    assert f'href="/sound/{digest}" data-play' in client.get(f"/sessions/{SESSION}").text
    SoundStore(journal.parent / "audio").remove(digest)
    assert client.get(f"/sound/{digest}").status_code == 404
    text = client.get(f"/sessions/{SESSION}").text
    assert "data-play" not in text and "sound not in this place" in text


def test_what_is_first_to_hear_is_at_the_top(client: httpx.Client) -> None:
    text = client.get(f"/sessions/{SESSION}").text
    top = text[text.index("Hear and see these first") : text.index('id="verdict"')]
    assert "orrected by the technician" in top and "heard poorly" in top and "data-play" in top


# --- writing ----------------------------------------------------------------------------------------------------------------


def test_a_comment_stands_beside_its_reading_and_in_the_chain(client: httpx.Client, journal: Path) -> None:
    number = next(e["sequence"] for e in events(journal) if e["type"] == "measured")
    data = {**form_of(client), "words": "Too neat to be true.", "about": str(number), "anchor": "check-7"}
    answer = client.post(f"/sessions/{SESSION}/comment", data=data)
    assert answer.headers["location"] == f"/sessions/{SESSION}#check-7"
    written = next(e for e in events(journal) if e["type"] == "commented")
    assert (written["by"], written["words"], written["about"]) == ("RV", "Too neat to be true.", number)
    text = client.get(f"/sessions/{SESSION}").text
    assert text.index("Timeline") < text.index("Too neat to be true.")
    with Journal.read(journal) as found:
        assert found.audit(SESSION).intact


def test_signing_needs_initials_and_sending_back_needs_words(client: httpx.Client, journal: Path) -> None:
    where = f"/sessions/{SESSION}/verdict"
    for more, told in (
        ({"verdict": "sign", "by": ""}, "initials"),
        ({"verdict": "back"}, "why it goes back"),
        ({"verdict": "maybe"}, "sign off or send back"),
    ):
        answer = client.post(where, data={**form_of(client), **more})
        assert answer.status_code == 422 and told in answer.text
    assert not [e for e in events(journal) if e["type"] in ("signed_off", "sent_back")]
    client.post(where, data={**form_of(client), "verdict": "back", "words": "Measure the ground again."})
    assert [e["words"] for e in events(journal) if e["type"] == "sent_back"] == ["Measure the ground again."]
    assert "sent back" in client.get(f"/sessions/{SESSION}").text


def test_a_session_signed_and_gone_on_with_is_no_longer_signed() -> None:
    signed = [
        {"type": "closed"},
        {"type": "signed_off", "by": "RV"},
        {"type": "commented", "about": None},
        {"type": "sealed"},
    ]
    assert reviewed(signed).signed
    gone_on = reviewed([*signed, {"type": "resumed"}])
    assert not gone_on.signed and gone_on.word == "signed, then gone on"
    assert reviewed([{"type": "closed"}]).word == "not signed"


@pytest.mark.slow
def test_a_call_out_is_heard_again_beside_what_was_recorded(client: httpx.Client, journal: Path) -> None:
    """The sound of every reading here is the recording "four point nine six volts"; the record says otherwise."""
    heard = next(e for e in events(journal) if e["type"] == "heard" and e["listening"] == "reading" and "sound" in e)
    client.post(
        f"/sessions/{SESSION}/hear-again", data={**form_of(client), "about": str(heard["sequence"])}, timeout=120
    )
    again = next(e for e in events(journal) if e["type"] == "heard_again")
    assert (again["words"], again["about"]) == ("four point nine six volts", heard["sequence"])
    text = client.get(f"/sessions/{SESSION}").text
    assert "Heard again" in text and "not the same; what was recorded stands" in text


# --- what comes first ------------------------------------------------------------------------------------------------------


def caution(asked_at: str, answered_at: str, *, times: int = 1) -> list[dict]:
    text = "The engine may be hot."
    asked = [
        {
            "type": "asked",
            "step": "warmth",
            "text": f"Caution. {text} Say affirm.",
            "want": "acknowledge",
            "at_utc": asked_at,
        }
    ] * times
    return [*asked, {"type": "caution", "name": "hot", "text": text, "acknowledged": True, "at_utc": answered_at}]


@pytest.mark.parametrize(
    ("told", "words"),
    [
        (caution("2031-04-05T08:00:00Z", "2031-04-05T08:00:45Z"), "after 45 s"),
        (caution("2031-04-05T08:00:00Z", "2031-04-05T08:00:05Z", times=3), "asked 3 times"),
        (caution("2031-04-05T08:00:00Z", "2031-04-05T08:00:05Z"), ""),
    ],
)
def test_a_caution_acknowledged_late_is_told(told: list[dict], words: str) -> None:
    found = [each.words for each in concerns(tell(told), Audit("s", 2))]
    assert [words in each for each in found] == ([True] if words else [])


def test_a_broken_chain_comes_before_all_else() -> None:
    broken = Audit("s", 2, (Break(2, "event 2 was changed"),))
    first = concerns(tell(caution("2031-04-05T08:00:00Z", "2031-04-05T08:01:00Z")), broken)[0]
    assert first.grave and "event 2 was changed" in first.words


# --- the graph --------------------------------------------------------------------------------------------------------------


def test_the_graph_shows_the_branch_taken_and_those_that_were_not() -> None:
    table = {"a": {"in": "b", "low": "wire", "high": "b"}, "b": {"fine": "end", "bad": "plug"}}
    story = tell(
        [
            {"type": "branched", "step": "a", "outcome": "in", "to": "b"},
            {"type": "branched", "step": "b", "outcome": "fine", "to": "end"},
        ]
    )
    graph = graph_of(story, table, {"end": "All is well.", "wire": "The wire.", "plug": "The plug."})
    assert graph is not None
    assert sorted((way.words, way.taken) for way in graph.ways) == [
        ("bad", False),
        ("fine", True),
        ("in limits", True),
        ("low", False),
    ]
    assert sorted((box.lines[-1], box.walked) for box in graph.boxes) == [
        ("a", True),
        ("b", True),
        ("end", True),
        ("plug", False),
        ("wire", False),
    ]
    assert graph_of(tell([]), table, {}) is None


# --- over sessions ----------------------------------------------------------------------------------------------------------


def reading(value: float, *, outcome: str = "in", low: float | None = 4.0, high: float | None = 6.0) -> Taken:
    return Taken("s", "2031-04-05T08:00:00Z", value, "V", low, high, outcome)


def test_the_spread_in_figures_is_that_of_the_readings() -> None:
    told = summary([reading(n / 10) for n in range(40, 61)] + [reading(9.0, outcome="high")])
    assert (told.count, told.outside) == (22, 1)
    assert told.middle.startswith("5.05") and told.least.startswith("4") and told.most.startswith("9")


def test_the_spread_is_drawn_upwards_within_its_frame_and_limits_are_a_band() -> None:
    drawing = drawn([reading(4.5), reading(5.5), reading(3.0, outcome="low"), reading(5.0, low=None)])
    low, high = drawing.dots[0], drawing.dots[1]
    assert high.y < low.y and drawing.dots[2].out and not low.out
    assert all(20 <= dot.y <= 280 and 60 <= dot.x <= 880 for dot in drawing.dots)
    assert len(drawing.bands) == 4 and drawing.unit == "V"


def test_readings_that_are_all_alike_or_without_limits_are_drawn_too() -> None:
    for taken in ([reading(0.0, low=None, high=None)], [reading(5.0, low=None, high=None)] * 3):
        assert len(drawn(taken).dots) == len(taken)


def test_calls_a_reading_are_counted_by_noise() -> None:
    told = by_noise([Asking("AB", "1", 10, 12, 22.0), Asking("AB", "2", 10, 20, 3.0), Asking("AB", "3", 5, 5, None)])
    assert [(rate.name, rate.per_reading) for rate in told] == [
        ("0 to 5 dB", 2.0),
        ("20 to 30 dB", 1.2),
        ("not known", 1.0),
        ("all", 37 / 25),
    ]


def test_spread_re_asking_and_two_side_by_side_show_what_is_recorded(client: httpx.Client) -> None:
    assert "over 4 sessions" in client.get("/spread?flow=manifold-pressure&step=shown-pressure").text
    assert ">AT</h2>" in client.get("/re-asking").text
    text = client.get("/compare?one=2031-04-05-aaaa&other=2031-04-05-bbbb").text
    assert "P0108" in text and "differs" in text
    assert "There is no session nothing here" in client.get("/compare?one=nothing&other=2031-04-05-bbbb").text


def test_events_of_the_review_are_json_in_the_export(client: httpx.Client, journal: Path) -> None:
    client.post(f"/sessions/{SESSION}/verdict", data={**form_of(client), "verdict": "sign", "words": "Grüße"})
    with Journal.read(journal) as found:
        kinds = [json.loads(line)["type"] for line in found.export_lines(SESSION)]
    assert "signed_off" in kinds
