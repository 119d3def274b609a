"""The application: sections of pages behind one guard."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import Response

from runner.errors import RunError
from runner.web import signin, statics
from runner.web.access import Access
from runner.web.guard import Bounded, Fenced, Hosts
from runner.web.paper import page
from runner.web.sections import Section
from runner.web.users import Users
from runner.web.visitors import Visitors

LOOPBACK = ("127.0.0.1", "localhost", "[::1]")


@dataclass(frozen=True)
class Setting:
    """How the pages are served. users: None when nobody has to sign in, which only loopback may."""

    hosts: tuple[str, ...] = LOOPBACK  # names the pages answer to
    users: Users | None = None
    encrypted: bool = False


def make_app(sections: Iterable[Section], *, setting: Setting | None = None) -> Starlette:
    """All pages of the sections, with headers, host check, bounded bodies, visitors and roles before them."""
    setting, sections = setting or Setting(), tuple(sections)
    visitors = Visitors(setting.users)
    every = [*sections, Section(pages=(statics.PAGE,)), *_sign_in(setting, visitors)]
    app = Starlette(
        routes=[each.route() for section in every for each in section.pages],
        middleware=[
            Middleware(Fenced, encrypted=setting.encrypted),
            Middleware(Hosts, names=setting.hosts),
            Middleware(Bounded),
            Middleware(Access, visitors=visitors, encrypted=setting.encrypted),
        ],
        exception_handlers={HTTPException: _refused, RunError: _troubled},
    )
    app.state.menu = [line for section in every for line in section.menu]
    app.state.signs_in = setting.users is not None
    for section in every:
        for name, value in section.state.items():
            setattr(app.state, name, value)
    return app


def _sign_in(setting: Setting, visitors: Visitors) -> Sequence[Section]:
    if setting.users is None:
        return ()
    return (signin.section(setting.users, visitors, encrypted=setting.encrypted),)


def _refused(request: Request, error: Exception) -> Response:
    """A page that is not there or not for this visitor."""
    assert isinstance(error, HTTPException)
    words = "There is no such page." if error.status_code == 404 else error.detail
    answer = page(request, "trouble.html", status=error.status_code, words=words)
    answer.headers.update(error.headers or {})
    return answer


def _troubled(request: Request, error: Exception) -> Response:
    """One of our own errors is a sentence for a person."""
    return page(request, "trouble.html", status=409, words=str(error))
