"""Two sessions side by side, check by check."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from runner.record.listing import Wanted
from runner.report.page import view
from runner.report.telling import tell
from runner.web.paper import page
from runner.web.records import Records
from runner.web.review_session import events_of
from runner.web.sections import Page

Check = Mapping[str, Any]


@dataclass(frozen=True)
class Pair:
    """A check as each session has it; None where it was not done."""

    title: str
    one: Check | None
    other: Check | None

    @property
    def differs(self) -> bool:
        """Whether it came out otherwise, or was done in one only."""
        return self.one is None or self.other is None or self.one["outcome"] != self.other["outcome"]


def pairs(one: Sequence[Check], other: Sequence[Check]) -> list[Pair]:
    """Checks of both in the order of the first, then those that only the second has."""
    here, there = _last(one), _last(other)
    steps = [*here, *(step for step in there if step not in here)]
    return [Pair((here.get(step) or there[step])["title"], here.get(step), there.get(step)) for step in steps]


def _last(checks: Sequence[Check]) -> dict[str, Check]:
    """The last time each step was done; a repair's proof stands for itself."""
    return {f"{each['step']} {each['when']}": each for each in checks if not each["undone"]}


def show(request: Request) -> Response:
    """Both, or the form that asks for them."""
    names = [request.query_params.get(key, "").strip()[:100] for key in ("one", "other")]
    views, missing = [], []
    for name in filter(None, names):
        try:
            views.append(view(tell(events_of(request, name))))
        except HTTPException:
            missing.append(name)
    both = len(views) == 2
    records: Records = request.app.state.records
    return page(
        request,
        "compare.html",
        one=names[0],
        other=names[1],
        missing=missing,
        views=views,
        pairs=pairs(*(_checks(each) for each in views)) if both else [],
        recent=records.listed(Wanted(order="newest", limit=100)).rows,
    )


def _checks(told: Mapping[str, Any]) -> list[Check]:
    return [check for section in told["sections"] for check in section["checks"]]


PAGES = (Page("/compare", show),)
