"""Templates to answers: what is always there for base.html is filled in."""

from typing import Any

from jinja2 import Template
from starlette.requests import Request
from starlette.responses import HTMLResponse

from runner.report.paper import environment


def template_of(name: str) -> Template:
    """A template of the web pages, which may use the report's shapes and gauges."""
    return environment("runner.web").get_template(name)


def page(request: Request, template: str, *, status: int = 200, **values: Any) -> HTMLResponse:
    """The template, filled; `visitor`, `menu` and `here` (the path) are always there, for base.html."""
    always = {"visitor": request.state.visitor, "menu": request.app.state.menu, "here": request.url.path}
    text = template_of(template).render(**always, **values)
    return HTMLResponse(text, status_code=status)
