"""One session for its reviewer: the timeline, the report, and what they write into the record."""

import base64
import hashlib
import re
from collections.abc import Mapping
from typing import Any
from urllib.parse import quote

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from runner.record.sessions import UnknownSession
from runner.record.sounds import removed_sounds
from runner.record.times import in_all, step_times
from runner.report import render
from runner.report.page import view
from runner.report.story import Event, Story
from runner.report.telling import tell
from runner.web.concerns import Concern, concerns
from runner.web.paper import page
from runner.web.records import Records, Seen
from runner.web.reviews import reviewed
from runner.web.sections import Page, Role
from runner.web.shipped import flow_walked, harmless
from runner.web.sounds import waves_of
from runner.web.timeline import call_out, timeline
from runner.web.walk_graph import graph_of

INITIALS = re.compile(r"[\w.-]{1,12}")
REPORT_POLICY = "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
MOST_WORDS = 2000  # characters of a comment


def events_of(request: Request, session: str) -> list[Event]:
    """A session's events; a page that is not there when there are none."""
    records: Records = request.app.state.records
    try:
        events = harmless(records.events(session))
    except UnknownSession:
        events = []
    if not events:
        raise HTTPException(404)
    return events


def show(request: Request) -> Response:
    """The timeline."""
    session = request.path_params["session"]
    events = events_of(request, session)
    records: Records = request.app.state.records
    story, review, audit = tell(events), reviewed(events), records.audit(session)
    walked = flow_walked(story.opened)
    told = view(story)
    rows = timeline(story, review, walked.table, told=told)
    first = [_first(each) for each in concerns(story, audit)]
    sounds = [each.sound for row in rows for each in row.call_outs] + [
        memo.sound for memo in map(call_out, story.memos)
    ]
    times = step_times(events)
    return page(
        request,
        "session.html",
        session=session,
        story=story,
        ended=story.closed is not None,
        told=told,
        review=review,
        audit=audit,
        rows=rows,
        first=first,
        walked=walked,
        graph=graph_of(story, walked.table, walked.findings),
        waves=waves_of(records, sounds),
        removed=removed_sounds(events),
        memos=[call_out(memo) for memo in story.memos],
        times={each.step: each for each in times},
        whole=in_all(times) if times else None,
        seen=Seen(int(events[-1].get("sequence", 0)), str(events[-1].get("hash", ""))),
        person=person_of(story),
        writes=records.writes,
        supervisor=Role.SUPERVISOR,
    )


def person_of(story: Story) -> str:
    """Initials of who did the job; "" when they were not given."""
    for visit in story.visits:
        for event in visit.answered:
            if event.get("store") == "who":
                return str(event.get("answer", ""))
    return ""


def _first(concern: Concern) -> dict[str, Any]:
    """A concern with what can be heard of it."""
    visit = concern.visit
    heard = [call_out(event) for event in visit.heard if event.get("listening") == "reading"] if visit else []
    return {"concern": concern, "call_outs": heard}


def report(request: Request) -> Response:
    """The report as it is sent out; its one style is let through by its hash."""
    session = request.path_params["session"]
    link = (
        f'<p class="eyebrow"><a href="/sessions/{quote(session)}">To the timeline, the sound and your verdict</a></p>'
    )
    text = render(events_of(request, session)).replace("<main>", f"<main>\n{link}", 1)
    styles = re.findall(r"<style>(.*?)</style>", text, flags=re.DOTALL)
    hashes = " ".join(f"'sha256-{base64.b64encode(hashlib.sha256(s.encode()).digest()).decode()}'" for s in styles)
    policy = f"default-src 'none'; style-src {hashes}; img-src data:; {REPORT_POLICY}"
    return HTMLResponse(text, headers={"content-security-policy": policy})


# --- writing ----------------------------------------------------------------------------------------------------------


def _by(request: Request) -> str:
    """Who writes: the name they signed in with, or, where nobody signs in, the initials they give."""
    if request.state.visitor.name:
        return str(request.state.visitor.name)
    given = request.state.form.get("by", "").strip()
    if not INITIALS.fullmatch(given):
        raise HTTPException(422, "Give your initials, 1 to 12 letters, so that the record says who wrote it.")
    return given


def _words(form: Mapping[str, str]) -> str:
    words = form.get("words", "").strip()
    if len(words) > MOST_WORDS:
        raise HTTPException(422, f"That is {len(words)} characters; a comment takes {MOST_WORDS}. Shorten it.")
    return words


def _seen(form: Mapping[str, str]) -> Seen:
    upto, head = form.get("upto", ""), form.get("head", "")
    if not (upto.isascii() and upto.isdecimal() and len(upto) < 10 and re.fullmatch(r"[0-9a-f]{64}", head)):
        raise HTTPException(422, "The form does not say what was seen. Load the session again.")
    return Seen(int(upto), head)


def _number(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 10 else None


def comment(request: Request) -> Response:
    """A comment on a reading, or on the session."""
    session, form = request.path_params["session"], request.state.form
    events = events_of(request, session)
    words, about = _words(form), _number(form.get("about", ""))
    if not words:
        raise HTTPException(422, "The comment is empty. Write what you saw or heard.")
    if about is not None and not 1 <= about <= len(events):
        raise HTTPException(422, f"There is no event {about} in this session.")
    request.app.state.records.comment(session, by=_by(request), words=words, about=about)
    anchor = form.get("anchor", "")
    at = f"#{anchor}" if re.fullmatch(r"check-\d{1,5}", anchor) else "#comments"
    return RedirectResponse(f"/sessions/{session}{at}", status_code=303)


def sign(request: Request) -> Response:
    """The signature, or the sending back, by which button was pressed."""
    session, form = request.path_params["session"], request.state.form
    events_of(request, session)
    records: Records = request.app.state.records
    words, by, seen = _words(form), _by(request), _seen(form)
    if form.get("verdict") == "sign":
        records.sign_off(session, by=by, words=words, seen=seen)
        return RedirectResponse(f"/?signed={session}", status_code=303)
    if form.get("verdict") == "back":
        if not words:
            raise HTTPException(422, "Say in a few words why it goes back, so that it can be put right.")
        records.send_back(session, by=by, words=words, seen=seen)
        return RedirectResponse(f"/?back={session}", status_code=303)
    raise HTTPException(422, "Press sign off or send back.")


PAGES = (
    Page("/sessions/{session}", show),
    Page("/sessions/{session}/report", report),
    Page("/sessions/{session}/comment", comment, method="POST"),
    Page("/sessions/{session}/verdict", sign, least=Role.SUPERVISOR, method="POST"),
)
