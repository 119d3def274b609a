"""Sessions in a list, what needs a reviewer first, with a search and filters that are all in the address."""

from collections.abc import Sequence
from dataclasses import replace
from typing import get_args
from urllib.parse import urlencode

from starlette.requests import Request
from starlette.responses import Response

from runner.record.listing import MARKS, Listing, Mark, Order, Wanted
from runner.web.paper import page
from runner.web.records import Records
from runner.web.sections import Page

PER_PAGE = 50
LONGEST = 100  # characters of a filter
MARK_WORDS: dict[Mark, str] = {
    "unsigned": "to be signed",
    "doubtful": "doubtful",
    "corrected": "corrected",
    "overridden": "overridden",
    "sent_back": "sent back",
    "unfinished": "not finished",
}


def wanted_of(request: Request) -> Wanted:
    """What the address asks for; anything it holds that is not understood is left out."""
    given = request.query_params
    number = given.get("page", "1")
    at = min(int(number), 1_000_000) if number.isascii() and number.isdecimal() and len(number) < 8 else 1
    return Wanted(
        **{name: given.get(name, "")[:LONGEST].strip() for name in ("text", "flow", "finding", "machine", "person")},
        marks=frozenset(mark for mark in MARKS if mark in given.getlist("mark")),
        order=next((each for each in get_args(Order) if each == given.get("order")), "needs"),
        offset=(max(at, 1) - 1) * PER_PAGE,
        limit=PER_PAGE,
    )


def address_of(wanted: Wanted, *, number: int) -> str:
    """The address of a page of the same list."""
    names = ("text", "flow", "finding", "machine", "person")
    fields = [(name, getattr(wanted, name)) for name in names if getattr(wanted, name)]
    fields += [("mark", mark) for mark in MARKS if mark in wanted.marks]
    fields += [("order", wanted.order)] if wanted.order != "needs" else []
    fields += [("page", str(number))] if number > 1 else []
    return f"/?{urlencode(fields)}" if fields else "/"


def tags_of(row: Listing) -> list[str]:
    """What is remarkable about a session, in words."""
    counted = (
        (row.doubtful, "doubtful", "doubts"),
        (row.corrected, "corrected", "corrections"),
        (row.overridden, "overridden", "overrides"),
        (row.low_confidence, "heard poorly", "heard poorly"),
        (row.near_limit, "near a limit", "near a limit"),
        (row.retakes, "retaken", "retakes"),
    )
    return [one if count == 1 else f"{count} {many}" for count, one, many in counted if count]


def show(request: Request) -> Response:
    """The list."""
    records: Records = request.app.state.records
    wanted = wanted_of(request)
    found = records.listed(wanted)
    at = wanted.offset // PER_PAGE + 1
    filtered = address_of(replace(wanted, order="needs"), number=1) != "/"
    return page(
        request,
        "sessions.html",
        wanted=wanted,
        found=found,
        tags={row.session: tags_of(row) for row in found.rows},
        mark_words=MARK_WORDS,
        count_needs=0 if filtered else records.listed(Wanted(marks=frozenset({"unsigned"}), limit=1)).total,
        earlier=address_of(wanted, number=at - 1) if at > 1 else "",
        later=address_of(wanted, number=at + 1) if at * PER_PAGE < found.total else "",
        first=wanted.offset + 1,
        filtered=filtered,
        done=_done(request, found.rows),
    )


def _done(request: Request, rows: Sequence[Listing]) -> str:
    """A word about the session that was signed or sent back just now."""
    for name, words in (("signed", "is signed"), ("back", "went back")):
        if session := request.query_params.get(name, "")[:LONGEST]:
            return f"{session} {words}."
    return ""


PAGES = (Page("/", show),)
