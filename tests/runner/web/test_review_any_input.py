"""Whatever an address or a form holds, it is answered in words and never by a failure of the program."""

import asyncio
from collections.abc import Callable
from pathlib import Path
from urllib.parse import urlencode

import httpx
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from starlette.types import ASGIApp

from runner.record.journal import Journal
from runner.record.sounds import SoundStore
from runner.web.app import make_app
from runner.web.records import BayRecords
from runner.web.review import section
from runner.web.review_speed import asked

SESSION = "2031-04-05-bbbb"
UNDERSTOOD = {200, 303, 400, 403, 404, 409, 422}
TEXT = st.text(st.characters(exclude_categories=("Cs",)), max_size=60)
ADDRESSES = st.one_of(
    st.sampled_from(["/", "/compare", "/spread", "/re-asking", f"/sessions/{SESSION}", f"/sessions/{SESSION}/report"]),
    TEXT.map(lambda text: f"/sessions/{text}"),
    TEXT.map(lambda text: f"/sound/{text}"),
    TEXT.map(lambda text: f"/{text}"),
)
NAMES = st.sampled_from(
    ["text", "flow", "step", "finding", "machine", "person", "mark", "order", "page", "one", "other", "signed", "back"]
)
VALUES = st.one_of(
    TEXT, st.sampled_from(["manifold-pressure", "ground", SESSION, "unsigned", "newest", "2", "-1", "٣"])
)
EASY = settings(
    max_examples=60, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture]
)


@pytest.fixture
def app(journal: Path) -> ASGIApp:
    return make_app([section(BayRecords(journal, SoundStore(journal.parent / "audio")))])


@EASY
@given(path=ADDRESSES, query=st.lists(st.tuples(NAMES, VALUES), max_size=4))
@example(path="/", query=[("page", "٣")])
@example(path="/spread", query=[("flow", "../../etc/passwd"), ("step", "x")])
def test_any_address_is_answered(app: ASGIApp, path: str, query: list[tuple[str, str]]) -> None:
    assert asyncio.run(asked(app, path, urlencode(query).encode())) in UNDERSTOOD


@EASY
@given(query=st.binary(max_size=80))
@example(query=b"\x80")
def test_any_bytes_after_the_question_mark_are_answered(app: ASGIApp, query: bytes) -> None:
    assert asyncio.run(asked(app, "/", query)) in UNDERSTOOD


FIELDS = st.dictionaries(
    st.sampled_from(["by", "words", "about", "anchor", "upto", "head", "verdict", "token"]),
    st.one_of(TEXT, st.sampled_from(["sign", "back", "1", "0", "-1", "²", "f" * 64, "check-1", "9" * 30])),
    max_size=7,
)


def test_any_form_is_answered_and_signs_nothing_it_should_not(
    journal: Path, serve: Callable[[ASGIApp], httpx.Client], app: ASGIApp
) -> None:
    client = serve(app)
    text = client.get("/sessions/2031-04-05-bbbb").text
    token = text[text.index('name="token" value="') + 20 :][:64]

    @EASY
    @given(where=st.sampled_from(["comment", "verdict", "hear-again"]), fields=FIELDS, ours=st.booleans())
    def send(where: str, fields: dict[str, str], ours: bool) -> None:
        sent = {**fields, "token": token} if ours else fields
        answer = client.post(
            f"/sessions/{SESSION}/{where}", data=sent, headers={"content-type": "application/x-www-form-urlencoded"}
        )
        assert answer.status_code in UNDERSTOOD, answer.text

    send()
    with Journal.read(journal) as found:
        assert not [event for event in found.events(SESSION) if event["type"] == "signed_off"]
        assert found.audit(SESSION).intact
