"""Templates to pages: one environment, everything escaped, nothing undefined passed over."""

from functools import cache
from typing import Any

from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import HTMLResponse

from runner.report import figures
from runner.report.story import title_of


@cache
def environment() -> Environment:
    """The templates of the web pages, and the shapes and gauges they share with the report."""
    made = Environment(
        loader=ChoiceLoader([PackageLoader("runner.web", "templates"), PackageLoader("runner", "templates")]),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    made.filters |= {
        "clock": figures.clock,
        "day": figures.day,
        "lasting": figures.lasting,
        "percent": figures.percent,
        "figure": figures.figure,
        "title": title_of,
        "list_pair": lambda value: (value, value),
    }
    return made


def page(request: Request, template: str, *, status: int = 200, **values: Any) -> HTMLResponse:
    """The template, filled; `visitor`, `menu` and `here` (the path) are always there, for base.html."""
    text = (
        environment()
        .get_template(template)
        .render(visitor=request.state.visitor, menu=request.app.state.menu, here=request.url.path, **values)
    )
    return HTMLResponse(text, status_code=status)
