"""What stands before every page: the host asked for, the size of what is sent, and the headers of what goes back."""

from collections.abc import Iterable

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

MOST_BODY_BYTES = 64 * 1024  # a comment is the longest thing anybody sends
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; media-src 'self'; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
    "cache-control": "no-store",
}


class TooLarge(Exception):  # noqa: N818  what it is
    """More was sent than is taken."""


class Hosts:
    """Refuses a request for a name that is not ours, since a page elsewhere may point its own name at this machine, and
    an address that is none."""

    def __init__(self, app: ASGIApp, *, names: Iterable[str]) -> None:
        self._app, self._names = app, frozenset(name.lower() for name in names)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] == "http" and _host_name(Headers(scope=scope).get("host", "")) not in self._names:
            answer = PlainTextResponse("This is not the name of this page. Use the address that was printed.", 421)
            await answer(scope, receive, send)
            return
        if scope["type"] == "http" and not scope["query_string"].isascii():
            await PlainTextResponse("This is no address: it holds bytes that are no letters.", 400)(
                scope, receive, send
            )
            return
        await self._app(scope, receive, send)


def _host_name(host: str) -> str:
    """The name without its port.

    >>> _host_name("localhost:8765"), _host_name("[::1]:8765"), _host_name("evil@localhost")
    ('localhost', '[::1]', 'evil@localhost')
    """
    host = host.strip().lower()
    if host.startswith("["):
        return host.partition("]")[0] + "]"
    return host.partition(":")[0]


class Bounded:
    """Refuses a body beyond a size, whether its length is told or not."""

    def __init__(self, app: ASGIApp, *, most_bytes: int = MOST_BODY_BYTES) -> None:
        self._app, self._most = app, most_bytes

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        told = Headers(scope=scope).get("content-length", "0")
        seen, begun = 0, False

        async def counted() -> Message:
            nonlocal seen
            message = await receive()
            seen += len(message.get("body", b""))
            if seen > self._most:
                raise TooLarge
            return message

        async def sending(message: Message) -> None:
            nonlocal begun
            begun = True
            await send(message)

        try:
            if not told.isdecimal() or int(told) > self._most:
                raise TooLarge
            await self._app(scope, counted, sending)
        except TooLarge:
            if not begun:
                refused = PlainTextResponse(f"More was sent than the {self._most} bytes taken here. Send less.", 413)
                await refused(scope, receive, send)


class Fenced:
    """Puts the headers on every answer; one that brings a policy of its own (the report) keeps it."""

    def __init__(self, app: ASGIApp, *, encrypted: bool) -> None:
        self._app = app
        self._headers = HEADERS | ({"strict-transport-security": "max-age=31536000"} if encrypted else {})

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""

        async def fenced(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in self._headers.items():
                    headers.setdefault(name, value)
            await send(message)

        await self._app(scope, receive, fenced)
