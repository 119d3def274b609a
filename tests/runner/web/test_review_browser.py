"""The supervisor's pages in a real browser: list, session, play, sign-off, keys, phone width, contrast."""

import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from starlette.types import ASGIApp

from runner.record.journal import Journal
from runner.record.sounds import SoundStore
from runner.web.app import make_app
from runner.web.records import BayRecords
from runner.web.review import section

SESSION = "2031-04-05-bbbb"
PATHS = (
    "/",
    f"/sessions/{SESSION}",
    "/compare?one=2031-04-05-aaaa&other=2031-04-05-bbbb",
    "/spread?flow=manifold-pressure&step=ground",
    "/re-asking",
)


@pytest.fixture
def url(journal: Path, serve: Callable[[ASGIApp], httpx.Client]) -> str:
    return str(serve(make_app([section(BayRecords(journal, SoundStore(journal.parent / "audio")))])).base_url)


@pytest.fixture
def new_page(browser: Any) -> Iterator[Callable[..., Any]]:
    """Pages in contexts of their own; whatever the console complains of fails the test."""
    contexts, complaints = [], []

    def make(**options: Any) -> Any:
        contexts.append(browser.new_context(**options))
        page = contexts[-1].new_page()
        page.on(
            "console", lambda message: complaints.append(message.text) if message.type in ("error", "warning") else None
        )
        page.on("pageerror", lambda error: complaints.append(str(error)))
        return page

    yield make
    for context in contexts:
        context.close()
    assert complaints == []


def test_from_which_jobs_need_me_to_signed_in_two_clicks_and_under_a_minute(
    url: str, journal: Path, new_page: Callable[..., Any]
) -> None:
    page = new_page()
    began = time.monotonic()
    page.goto(url)
    assert page.inner_text("h1") == "4 sessions to be signed"
    session = page.get_attribute(".jobs a", "href").rpartition("/")[2]
    page.click(".jobs a")  # the first click
    page.wait_for_selector("text=Hear and see these first")
    page.fill("#verdict input.initials", "RV")
    page.click("text=Sign off")  # the second
    page.wait_for_selector("[role=status]")
    assert f"{session} is signed" in page.inner_text("[role=status]")
    assert page.inner_text("h1") == "3 sessions to be signed"
    assert time.monotonic() - began < 60
    with Journal.read(journal) as found:
        assert [event["by"] for event in found.events(session) if event["type"] == "signed_off"] == ["RV"]
    page.click(".jobs a")
    page.wait_for_selector("#verdict")
    page.wait_for_load_state()  # the page's script has run
    assert page.input_value("#verdict input.initials") == "RV", "initials are typed once"


def test_play_plays_the_kept_sound_and_stops_by_itself(url: str, new_page: Callable[..., Any]) -> None:
    page = new_page()
    page.goto(f"{url}/sessions/{SESSION}")
    with page.expect_response(lambda answer: "/sound/" in answer.url) as fetched:
        page.click("a[data-play] >> nth=0")
    assert fetched.value.status in (200, 206)
    page.wait_for_selector("a[data-play][aria-pressed=true]", timeout=5000)
    page.wait_for_selector("a[data-play]:not([aria-pressed]) >> nth=0", timeout=15000)
    assert page.url.endswith(SESSION), "the page stayed"


def test_the_keys_step_search_and_go_to_the_verdict(url: str, new_page: Callable[..., Any]) -> None:
    page = new_page()
    page.goto(url)
    page.keyboard.press("j")
    page.keyboard.press("j")
    second = page.get_attribute(".jobs a >> nth=1", "href")
    assert page.evaluate("document.activeElement.getAttribute('href')") == second
    page.keyboard.press("/")
    assert page.evaluate("document.activeElement.id") == "search"
    page.keyboard.type("bbbb")
    page.keyboard.press("Enter")
    page.wait_for_selector("text=1 session found")
    page.wait_for_load_state()
    page.keyboard.press("j")
    page.keyboard.press("Enter")
    page.wait_for_selector("#verdict")
    page.wait_for_load_state()
    page.keyboard.press("j")
    page.keyboard.press("j")
    page.keyboard.press("k")
    assert page.evaluate("document.activeElement.id") == "check-1"
    page.keyboard.press("s")
    assert "initials" in page.evaluate("document.activeElement.className")


@pytest.mark.slow
def test_everything_can_be_done_without_script(url: str, journal: Path, new_page: Callable[..., Any]) -> None:
    page = new_page(java_script_enabled=False)
    page.goto(url)
    page.select_option("select[name=finding]", "signal-open")
    page.click("text=Show")
    page.click(".jobs a")
    page.click("#check-7 summary >> text=Comment")
    page.fill("#by-check-7", "RV")
    page.fill("#words-check-7", "Good.")
    page.click("#check-7 button:has-text('Put on record')")
    assert page.is_visible("#check-7 >> text=Good.")
    page.fill("#by-verdict", "RV")
    page.click("text=Sign off")
    with Journal.read(journal) as found:
        assert {"commented", "signed_off"} <= {event["type"] for event in found.events(SESSION)}


# Text against what lies behind it, by the formula of WCAG 2.2 (relative luminance); 4.5 to 1 is its AA for small text.
CONTRAST = """() => {
  const rgb = (text) => { const n = text.match(/[\\d.]+/g).map(Number); return n.length < 4 ? [...n, 1] : n; };
  const light = (c) => { const [r, g, b] = c.slice(0, 3).map((v) => { v /= 255; return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; }); return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
  const behind = (e) => { for (; e; e = e.parentElement) { const c = rgb(getComputedStyle(e).backgroundColor); if (c[3] > 0.99) return c; } return [255, 255, 255, 1]; };
  const bad = [];
  for (const e of document.querySelectorAll("main *, header *")) {
    const own = [...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim());
    if (!own || !e.getClientRects().length || e.closest("svg")) continue;
    const a = light(rgb(getComputedStyle(e).color)), b = light(behind(e));
    const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
    if (ratio < 4.5) bad.push(`${e.tagName}.${e.className} ${ratio.toFixed(2)} ${e.textContent.trim().slice(0, 30)}`);
  }
  return bad;
}"""
UNNAMED = """() => [...document.querySelectorAll("a, button, input:not([type=hidden]), select, textarea")].filter((e) =>
  !(e.getAttribute("aria-label") || e.textContent.trim() || e.labels?.length)).map((e) => e.outerHTML.slice(0, 80))"""
SMALL = """() => [...document.querySelectorAll("button, .play, select, textarea")].filter((e) => e.getClientRects().length &&
  e.getBoundingClientRect().height < 24).map((e) => e.outerHTML.slice(0, 80))"""


@pytest.mark.slow
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1280, 360])
def test_pages_fit_are_legible_and_every_control_has_a_name(
    url: str, new_page: Callable[..., Any], scheme: str, width: int
) -> None:
    page = new_page(viewport={"width": width, "height": 800}, color_scheme=scheme)
    for path in PATHS:
        page.goto(url + path)
        assert page.evaluate("document.documentElement.scrollWidth") <= width, f"{path} is wider than the screen"
        assert page.evaluate(CONTRAST) == [], path
        assert page.evaluate(UNNAMED) == [], path
        assert page.evaluate(SMALL) == [], path
        assert page.locator("main").count() == page.locator("h1").count() == 1, path
        assert page.locator("nav[aria-label]").count() >= 1, path


@pytest.mark.slow
def test_the_printed_session_has_no_controls(url: str, new_page: Callable[..., Any]) -> None:
    page = new_page()
    page.emulate_media(media="print")
    page.goto(f"{url}/sessions/{SESSION}")
    for control in ("#verdict button", ".top", "a[data-play] >> nth=0"):
        assert not page.is_visible(control), control
    assert page.is_visible(".reading >> nth=0")
