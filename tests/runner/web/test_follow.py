"""The page for followers: what it shows of a run, that nothing on it reaches the run, and that the feed never waits."""

import html
import json
import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import httpx
import numpy as np
import pytest
from starlette.types import ASGIApp

from flows.site import Site
from runner.jobs import load_job, opening
from runner.web.app import make_app
from runner.web.follow import Run, section
from runner.web.follow_feed import Feed
from runner.web.follow_fold import Followed
from runner.web.serving import Place, ServingError
from speech.sound import Sound, read_wav_bytes

RED, BLACK = "coolant_plug.coolant-signal", "coolant_plug.coolant-ground"
Serve = Callable[[ASGIApp], httpx.Client]


class Beeper:
    """A voice whose sound tells how long the text was."""

    def __init__(self) -> None:
        self.said: list[str] = []

    def synthesise(self, text: str) -> Sound:
        self.said.append(text)
        return Sound(np.ones(len(text) * 10, dtype=np.int16), 8000)


@pytest.fixture(scope="module")
def events() -> list[dict[str, Any]]:
    """A short run on the coolant temperature circuit, up to its end."""
    job = load_job("coolant-temperature", machine="th2", meter="bench", site=Site())
    step = next(step for step in job.flow.steps.values() if step.measure and step.measure.red == RED and step.why)
    assert step.measure is not None
    place = {"red": RED, "black": BLACK}
    reading = {"value": 3.1, "high": None, "unit": "V", "decimals": 2, "over_range": False, "step": step.name}
    told: list[dict[str, Any]] = [
        {"type": "opened", **opening(job, session="s", machine="th2", meter="bench")},
        {"type": "said", "text": "Caution. It's hot. Say affirm."},
        {"type": "caution", "name": "hot", "text": "Hot.", "acknowledged": True},
        asked(step.name, step.say, **place),
        {"type": "said", "text": step.say},
        {"type": "bench", "bench": {**place, "state": {}}},
        {"type": "unheard", "why": "not of this kind", "words": ""},
        {"type": "heard", "words": "three point one volts"},
        {"type": "read_back", "text": "Three point one volts. Low."},
        {"type": "measured", **reading},
        {"type": "judged", "outcome": "low", "low": 3.2, "high": 3.9, "unit": "V", "guard": 0.01, "because": "Warm."},
        {"type": "suspects", "odds": {"thermistor-short": 0.6, "none": 0.2}, "left": 2, "contradicted_by": None},
        {"type": "branched", "outcome": "low", "to": "x"},
        {"type": "found", "finding": "x", "say": "The sensor is shorted.", "do": "Fit another.", "status": "found"},
        {"type": "closed", "status": "found, not proved"},
    ]
    return [{**event, "sequence": number} for number, event in enumerate(told, 1)]


def after(*events: dict[str, Any]) -> Followed:
    state = Followed()
    for event in events:
        state = state.after(event)
    return state


def asked(step: str, text: str, want: str = "reading", **place: Any) -> dict[str, Any]:
    return {"type": "asked", "step": step, "text": text, "want": want, "red": None, "black": None, **place}


# -- what it shows ------------------------------------------------------------------------------------------------


def test_the_step_stands_in_words_with_where_the_probes_go_and_what_is_waited_for() -> None:
    now = after(
        asked("one", "Sensor supply. Red to left. Call the volts.", red="plug.supply", black="plug.ground"),
        {"type": "said", "text": "Sensor supply. Red to left. Call the volts.", "sequence": 7},
    )
    assert now.heading == "Sensor supply"
    assert now.sentence.endswith("Call the volts.") and now.number == 7
    assert (now.red, now.black) == ("plug.supply", "plug.ground")
    assert now.listening == "the reading, with its unit"


def test_a_reading_is_shown_before_it_is_judged_and_goes_with_the_next_step() -> None:
    reading = {"type": "measured", "step": "one", "value": 4.97, "high": None, "unit": "V", "decimals": 2}
    now = after(asked("one", "One."), {**reading, "over_range": False})
    assert now.value == "4.97\u202fV" and now.outcome == "" and now.gauge is not None
    now = now.after({"type": "judged", "step": "one", "outcome": "low", "low": 4.9, "high": 5.1, "unit": "V"})
    assert now.outcome == "too low" or "low" in now.outcome
    assert now.after(asked("two", "Two.")).value == ""


def test_a_suspect_is_struck_out_only_once_it_is_sure_to_be_out() -> None:
    first = {"type": "suspects", "odds": {"signal-open": 0.4, "supply-open": 0.3, "none": 0.1}, "left": 9}
    vague = {"type": "suspects", "odds": {"signal-open": 0.6, "none": 0.2}, "left": 4}
    sure = {"type": "suspects", "odds": {"signal-open": 0.97, "none": 0.03}, "left": 2}
    assert [each.out for each in after(first).suspects] == [False, False, False]
    now = after(first, vague)
    assert "Supply open" not in [each.words for each in now.suspects] and now.more == 2
    now = after(first, vague, sure)
    assert [(each.words, each.odds) for each in now.suspects if not each.out] == [
        ("Signal open", "nearly sure"),
        ("A sound engine", "unlikely"),
    ]
    assert [each.words for each in now.suspects if each.out] == ["Supply open"]
    assert (now.possible, now.most) == (2, 9)


def test_a_reading_that_fits_nothing_strikes_nothing_out() -> None:
    first = {"type": "suspects", "odds": {"signal-open": 0.9}, "left": 1}
    now = after(first, {"type": "suspects", "odds": {}, "left": 0, "contradicted_by": "one"})
    assert now.contradicted and not any(each.out for each in now.suspects)


def test_any_event_of_a_run_and_any_odd_one_is_taken(events: list[dict[str, Any]]) -> None:
    run = Run()
    for event in [*events, {"type": "never-heard-of"}, {}]:
        run.take(event)
        run.message()
    assert run.state.status and run.state.found and run.schematic is not None


# -- the page ------------------------------------------------------------------------------------------------------


@pytest.fixture
def followed(serve: Serve, events: list[dict[str, Any]]) -> Iterator[tuple[Run, httpx.Client]]:
    run = Run(Beeper())
    for event in events[:9]:
        run.take(event)
    yield run, serve(make_app([section(run)]))
    run.end()


def test_the_page_shows_the_run_without_script(followed: tuple[Run, httpx.Client]) -> None:
    run, client = followed
    text = client.get("/follow").text
    assert run.state.sentence in text and run.why and run.why in html.unescape(text)
    assert 'id="point-coolant_plug.coolant-signal"' in text
    assert "<script>" not in text and "style=" not in text and "onclick" not in text


def test_the_stream_tells_where_it_stands_then_every_change(followed: tuple[Run, httpx.Client]) -> None:
    run, client = followed
    with client.stream("GET", "/follow/events", timeout=5) as answer:
        assert answer.headers["content-type"].startswith("text/event-stream")
        messages = (json.loads(line[6:]) for line in answer.iter_lines() if line.startswith("data: "))
        assert next(messages)["number"] == run.state.number
        run.take(asked("x", "<b>Now</b>.", red=RED, black=BLACK))
        run.take({"type": "said", "text": "<b>Now</b>.", "sequence": 9001})
        now = next(each for each in messages if each["number"] == 9001)
        assert (now["red"], now["black"]) == (RED, BLACK)
        assert "&lt;b&gt;Now" in now["regions"]["now"] and "<b>" not in now["regions"]["now"]
        run.end()
        assert [each["over"] for each in messages][-1:] in ([], [True])


def test_nothing_can_be_sent_to_the_run(followed: tuple[Run, httpx.Client]) -> None:
    run, client = followed
    before = run.state
    for path in ("/", "/follow", "/follow/events", "/follow/sentences/3.wav", "/static/follow.js"):
        for method in ("POST", "PUT", "DELETE", "PATCH"):
            assert client.request(method, path, data={"words": "stop test"}).status_code in (403, 404, 405), path
    assert run.state is before


def test_only_a_sentence_of_this_run_can_be_heard(followed: tuple[Run, httpx.Client]) -> None:
    run, client = followed
    number, text = list(run.state.sentences.items())[1]
    answer = client.get(f"/follow/sentences/{number}.wav")
    assert answer.headers["content-type"] == "audio/wav"
    assert len(read_wav_bytes(answer.content).samples) == len(text) * 10
    assert client.get("/follow/sentences/999999.wav").status_code == 404
    assert client.get("/follow/sentences/..%2f..%2fetc%2fpasswd.wav").status_code == 404
    assert isinstance(run._speaker, Beeper) and run._speaker.said == [text]


# -- the feed -------------------------------------------------------------------------------------------------------


def test_events_reach_the_server_in_its_own_process_and_the_end_is_told(free_port: int) -> None:
    with Feed(Place(port=free_port)) as feed:
        for number in range(500):
            feed.watch({"type": "said", "text": f"Sentence {number}.", "sequence": number})
        url = f"http://127.0.0.1:{free_port}/follow"
        until = time.monotonic() + 10
        while "Sentence 499." not in httpx.get(url).text and time.monotonic() < until:
            time.sleep(0.05)
        assert "Sentence 499." in httpx.get(url).text
    with pytest.raises(httpx.ConnectError):
        httpx.get(url)


def test_a_server_that_dies_leaves_the_run_alone(free_port: int) -> None:
    feed = Feed(Place(port=free_port))
    feed._process.kill()
    for number in range(200):
        feed.watch({"type": "said", "text": "x" * 2000, "sequence": number})
    feed.close()


def test_a_port_that_is_taken_is_said_at_the_start(free_port: int) -> None:
    with Feed(Place(port=free_port)), pytest.raises(ServingError, match=str(free_port)):
        Feed(Place(port=free_port))


def test_a_network_address_needs_encryption(free_port: int) -> None:
    with pytest.raises(ServingError, match="--tls-cert"):
        Feed(Place(host="0.0.0.0", port=free_port))


# -- in a browser ---------------------------------------------------------------------------------------------------


def test_a_trainee_sees_the_probe_points_lit_and_hears_the_sentences(
    browser: Any, serve: Serve, events: list[dict[str, Any]]
) -> None:
    run = Run(Beeper())
    run.take(events[0])
    client = serve(make_app([section(run)]))
    problems: list[str] = []
    page = browser.new_page()
    page.on("console", lambda message: problems.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: problems.append(str(error)))
    page.goto(str(client.base_url.join("/follow")))
    page.get_by_role("button", name="Listen here").click()
    run.take(asked("one", "Signal. Call the volts.", red=RED, black=BLACK))
    page.wait_for_selector("[id='point-coolant_plug.coolant-signal'][data-red] .probe.red", state="visible")
    with page.expect_response(lambda answer: "sentences/42.wav" in answer.url) as sound:
        run.take({"type": "said", "text": "Signal. Call the volts.", "sequence": 42})
    assert sound.value.status in (200, 206)
    assert page.locator("[id='point-coolant_plug.coolant-ground'][data-black] .probe.black").is_visible()
    assert page.locator(".probe:visible").count() == 2
    assert "Signal. Call the volts." in page.locator(".sentence").inner_text()
    reading = {"value": 4.97, "high": None, "unit": "V", "decimals": 2, "over_range": False}
    run.take({"type": "measured", "step": "one", **reading})
    run.take({"type": "judged", "step": "one", "outcome": "in", "low": 4.9, "high": 5.1, "guard": 0.01, "unit": "V"})
    page.wait_for_selector("#part-reading .gauge .mark")
    run.end()
    page.wait_for_selector("text=The run has ended")
    page.close()
    assert not problems


@pytest.mark.slow
def test_run_follow_serves_the_page_while_the_run_lasts(free_port: int, tmp_path: Path) -> None:
    command = [sys.executable, "-m", "runner", "run", "coolant-temperature", "--typed", "--follow"]
    environment = {**os.environ, "LEADSMAN_HOME": str(tmp_path)}
    process = subprocess.Popen(
        [*command, "--follow-port", str(free_port)], env=environment, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL
    )
    assert process.stdin is not None
    url, until = f"http://127.0.0.1:{free_port}/follow", time.monotonic() + 25
    text = ""
    while "Initials, please." not in text and time.monotonic() < until:
        time.sleep(0.2)
        with suppress(httpx.HTTPError):
            text = httpx.get(url).text
    assert "Initials, please." in text
    process.communicate(b"stop test\n", timeout=25)
    with pytest.raises(httpx.ConnectError):
        httpx.get(url)
