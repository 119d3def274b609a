"""What an application is put together from: pages that belong together, and who may see them."""

import inspect
from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass, field
from enum import IntEnum
from typing import Any, cast

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

Handler = Callable[[Request], Response] | Callable[[Request], Awaitable[Response]]


class Role(IntEnum):
    """What somebody may do; each may do all that those before it may."""

    ANYBODY = 0  # not signed in: the page to sign in, style and script
    TRAINEE = 1  # follow a run, practise
    TECHNICIAN = 2  # look at sessions, comment
    SUPERVISOR = 3  # sign off, send back, see how people fare

    @property
    def word(self) -> str:
        """As it is written."""
        return self.name.lower()


@dataclass(frozen=True)
class Page:
    """One address. A handler that is no coroutine runs in a thread, so that it may read a database.

    A POST has been checked when its handler runs: `request.state.form` holds its fields.
    """

    path: str  # as Starlette has it: "/sessions/{session}"
    handler: Handler
    least: Role = Role.TECHNICIAN
    method: str = "GET"

    def route(self) -> Route:
        """The route, which lets in only who may."""

        async def guarded(request: Request) -> Response:
            visitor = request.state.visitor
            if not visitor.may(self.least):
                if visitor.role is Role.ANYBODY and self.method == "GET":
                    return RedirectResponse("/sign-in", status_code=303)
                raise HTTPException(403, f"This is for a {self.least.word}. Sign in as one.")
            if inspect.iscoroutinefunction(self.handler):
                return cast(Response, await self.handler(request))
            return cast(Response, await run_in_threadpool(self.handler, request))

        return Route(self.path, guarded, methods=[self.method])


@dataclass(frozen=True)
class Section:
    """Pages that belong together. menu: words and address of their line in the menu, and who sees it."""

    pages: tuple[Page, ...]
    menu: tuple[tuple[str, str, Role], ...] = ()
    state: Mapping[str, Any] = field(default_factory=dict)  # what its handlers find in request.app.state
