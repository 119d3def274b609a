"""A kept call-out, heard once more by the recogniser of today; put beside what was recorded, never in its place."""

import threading
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from runner.web.records import Records
from runner.web.review_session import events_of
from runner.web.sections import Page
from speech.ports import KINDS, Heard

_ONE = threading.Lock()  # a decoding takes a core


class Hearing:
    """The recogniser, loaded when it is first needed."""

    def __init__(self) -> None:
        self._recogniser: Any = None

    def again(self, sound: Any, kind: str) -> tuple[str, float]:
        """Words and confidence; no words when nothing of that kind was understood."""
        with _ONE:
            if self._recogniser is None:
                from speech.recogniser import Recogniser

                self._recogniser = Recogniser()
            result = self._recogniser.decode(sound, kind)
        if isinstance(result, Heard):
            return result.words, result.confidence
        return "", 0.0


def hear(request: Request) -> Response:
    """Hear one call-out again and record what came of it."""
    session, given = request.path_params["session"], request.state.form.get("about", "")
    records: Records = request.app.state.records
    events = events_of(request, session)
    number = int(given) if given.isascii() and given.isdecimal() and len(given) < 9 else 0
    event = next((each for each in events if each.get("sequence") == number), {})
    digest, kind = (event.get("sound") or {}).get("sha256", ""), str(event.get("listening", "reading"))
    sound = records.samples(str(digest)) if digest else None
    if sound is None:
        raise HTTPException(404, "The sound of this call-out is not kept, so it cannot be heard again.")
    words, confidence = request.app.state.hearing.again(sound, kind if kind in KINDS else "reading")
    by = request.state.visitor.name or "page"
    records.heard_again(session, by=by, about=number, words=words or "(nothing)", confidence=confidence)
    at = next((f"#{name}" for name in [request.state.form.get("anchor", "")] if name.startswith("check-")), "")
    return RedirectResponse(f"/sessions/{session}{at}", status_code=303)


PAGES = (Page("/sessions/{session}/hear-again", hear, method="POST"),)
