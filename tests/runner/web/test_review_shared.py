"""The same pages over the database that bays share: everything to see, nothing to write."""

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import httpx
import pytest
from starlette.types import ASGIApp

from runner.record.sounds import SoundStore
from runner.web.app import make_app
from runner.web.records import SharedForLooking
from runner.web.review import section

SESSION = "2031-04-05-bbbb"


@pytest.fixture
def client(journal: Path, serve: Callable[[ASGIApp], httpx.Client]) -> Iterator[httpx.Client]:
    """Pages over a real PostgreSQL that the journal was shared to."""
    from runner.sharing.cluster import private_cluster, server_programs
    from runner.sharing.database import connect
    from runner.sharing.reading import SharedRecords
    from runner.sharing.sending import share

    if server_programs() is None:
        pytest.skip("there is no PostgreSQL server here; sudo apt-get install postgresql")
    with private_cluster() as url:
        engine = connect(url)
        try:
            share(journal, engine, bay="bay one", before=lambda events: None)
            yield serve(
                make_app([section(SharedForLooking(SharedRecords(engine), SoundStore(journal.parent / "audio")))])
            )
        finally:
            engine.dispose()


@pytest.mark.slow
def test_shared_sessions_are_listed_filtered_shown_heard_and_not_signed(client: httpx.Client) -> None:
    assert len(re.findall(r'href="/sessions/[^"]+"', client.get("/").text)) == 4
    assert re.findall(r'href="/sessions/([^"]+)"', client.get("/?finding=signal-open&mark=unsigned").text) == [SESSION]
    text = client.get(f"/sessions/{SESSION}").text
    assert "data-play" in text and "record whole" in text and "Sign in the session" in text and 'id="sign"' not in text
    assert "over 4 sessions" in client.get("/spread?flow=manifold-pressure&step=shown-pressure").text
    assert ">AT</h2>" in client.get("/re-asking").text
    assert client.get("/sessions/none-of-them").status_code == 404
    token = re.findall(r'name="token" value="([0-9a-f]+)"', text)
    form = {"token": token[0] if token else "", "verdict": "sign", "by": "RV", "upto": "1", "head": "0" * 64}
    refused = client.post(f"/sessions/{SESSION}/verdict", data=form)
    assert refused.status_code in (403, 409)
