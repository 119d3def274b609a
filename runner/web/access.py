"""Who a request is from, and whether what it sends is a form of ours: checked once, before any page runs."""

from urllib.parse import parse_qsl, urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from runner.web.visitors import LASTS_S, Visitors, is_token

SAFE = ("GET", "HEAD")
TOKEN = "token"
MOST_FIELDS = 40


class Access:
    """Puts `visitor` and, for a POST, `form` into the request's state; refuses forms that are not ours."""

    def __init__(self, app: ASGIApp, *, visitors: Visitors, encrypted: bool) -> None:
        self._app, self._visitors, self._encrypted = app, visitors, encrypted

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        request = Request(scope, receive)
        given = request.cookies.get(cookie_name(encrypted=self._encrypted), "")
        visitor, fresh = self._visitors.known(given), ""
        if visitor is None:
            visitor, fresh = self._visitors.new()
        scope.setdefault("state", {})
        scope["state"]["visitor"], scope["state"]["form"] = visitor, {}
        if request.method not in SAFE:
            refused = self._foreign(request)
            form = {} if refused else await _fields(request)
            if not refused and not is_token(visitor, form.pop(TOKEN, "")):
                refused = PlainTextResponse("This form is out of date. Load the page again, then send it.", 403)
            if refused:
                await refused(scope, receive, send)
                return
            scope["state"]["form"] = form

        async def remembered(message: Message) -> None:
            if message["type"] == "http.response.start" and fresh and "set-cookie" not in Headers(scope=message):
                headers = MutableHeaders(scope=message)
                headers.append("set-cookie", cookie_line(fresh, encrypted=self._encrypted))
            await send(message)

        await self._app(scope, receive, remembered)

    def _foreign(self, request: Request) -> Response | None:
        """An answer to a request that was sent by a page of somebody else's, or in a form not used here."""
        origin = request.headers.get("origin")
        if request.headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none") or (
            origin is not None and urlsplit(origin).netloc != request.headers.get("host")
        ):
            return PlainTextResponse("This was sent by another page. Send it from the page itself.", 403)
        kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
        if kind != "application/x-www-form-urlencoded":
            return PlainTextResponse("Only plain forms are taken here, no files.", 415)
        return None


async def _fields(request: Request) -> dict[str, str]:
    """Fields of a plain form, the last of each name; none when it is not one."""
    try:
        text = (await request.body()).decode("utf-8")
        pairs = parse_qsl(text, keep_blank_values=True, max_num_fields=MOST_FIELDS, errors="strict")
    except ValueError:
        return {}
    return {name: value.replace("\r\n", "\n") for name, value in pairs}


def cookie_name(*, encrypted: bool) -> str:
    """The prefix makes the browser refuse one that another host or an unencrypted page set."""
    return "__Host-leadsman" if encrypted else "leadsman"


def cookie_line(value: str, *, encrypted: bool) -> str:
    """The header that gives a cookie out: for this host only, unseen by script, sent from our own pages only."""
    secure = "; Secure" if encrypted else ""
    name = cookie_name(encrypted=encrypted)
    return f"{name}={value}; Path=/; Max-Age={LASTS_S:.0f}; HttpOnly; SameSite=Strict{secure}"
