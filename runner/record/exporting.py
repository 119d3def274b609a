"""A session written for others: JSON Lines that can be audited, readings as CSV, the page as HTML or PDF."""

import csv
import io
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import fields
from pathlib import Path

from runner.errors import RunError
from runner.record.across import Row, rows_of
from runner.record.copies import write_copy
from runner.record.journal import Journal
from runner.report import render

_TEMPLATES = Path(__file__).parents[1] / "templates"
# A spreadsheet takes a cell that begins so for a formula.
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


class CannotExport(RunError):  # noqa: N818  what became of it
    """A form that is not known, or whose package is not installed."""


def export(journal: Journal, session: str, file: Path) -> str:
    """Write a session in the form that the file's name ends in; a few words on what was written."""
    write = FORMS.get(file.suffix.lower())
    if write is None:
        raise CannotExport(f"{file.name} has no form that is known. Let it end in {', '.join(FORMS)}.")
    return write(journal, session, file)


def readings_csv(journal: Journal, session: str) -> str:
    """The session's readings as comma-separated values, RFC 4180, base units."""
    text = io.StringIO(newline="")
    table = csv.writer(text)
    names = [each.name for each in fields(Row)]
    table.writerow(names)
    for row in rows_of(session, journal.events(session)):
        table.writerow([_cell(getattr(row, name)) for name in names])
    return text.getvalue()


def _cell(value: object) -> object:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str) and value.startswith(_FORMULA):
        return f"'{value}"
    return value


def _jsonl(journal: Journal, session: str, file: Path) -> str:
    return f"{write_copy(journal, session, file)} events"


def _csv(journal: Journal, session: str, file: Path) -> str:
    text = readings_csv(journal, session)
    file.write_text(text, encoding="utf-8", newline="")
    return f"{text.count(chr(10)) - 1} readings"


def _html(journal: Journal, session: str, file: Path) -> str:
    file.write_text(render(journal.events(session)), encoding="utf-8")
    return "one page"


def _pdf(journal: Journal, session: str, file: Path) -> str:
    try:
        import weasyprint
    except ImportError:
        raise CannotExport(
            "A PDF needs WeasyPrint: pip install 'leadsman[pdf]'. Or export .html and print it."
        ) from None
    except OSError as error:  # its libraries are the system's
        raise CannotExport(
            f"WeasyPrint lacks a library of the system ({error}). "
            "On Debian: apt install libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0."
        ) from error
    page = for_paper(render(journal.events(session)))
    try:
        document = weasyprint.HTML(string=page, url_fetcher=_nothing_from_outside).render()
    except (
        AssertionError,
        LookupError,
        TypeError,
        ValueError,
    ) as error:  # a layout it cannot do is an error of its own
        raise CannotExport(
            f"WeasyPrint cannot lay this report out ({type(error).__name__}). Export .html, and print it from a browser."
        ) from error
    document.write_pdf(file)
    return f"{len(document.pages)} pages"


def for_paper(page: str) -> str:
    """The page with what WeasyPrint needs: a layout without grids, and in each drawing, which it keeps apart, its colours."""
    style = (_TEMPLATES / "report_pdf.css").read_text(encoding="utf-8")
    rules = f"<style>{''.join(_rules_for_drawings(page))}</style>"
    shared = re.search(r"<defs>.*?</defs>", page, flags=re.S)  # what several drawings on the page refer to
    defs = shared[0] if shared else ""

    def alone(found: re.Match[str]) -> str:
        opening, body = found.groups()
        refers = 'href="#' in body or "url(#" in body
        return f"{opening}{rules}{defs if refers and '<defs>' not in body else ''}{body}"

    page = re.sub(r"(<svg\b[^>]*>)(.*?</svg>)", alone, page, flags=re.S)
    return page.replace("</style>", f"{style}</style>", 1)


def _rules_for_drawings(page: str) -> Iterator[str]:
    """The page's own rules of shapes, with its print colours in place of their names."""
    colours = dict(re.findall(r"(--\w+): (#\w+);", page.partition("@media print")[2].partition("}")[0]))
    for rule in re.findall(
        r"^[^\n@{}]*\{[^{}]*(?:fill|stroke)[^{}]*\}$", page.partition("@media print")[0], flags=re.M
    ):
        known = re.sub(r"var\((--\w+)\)", lambda found: colours.get(found[1], "#000"), rule)
        yield known.replace("currentColor", "#000")


def _nothing_from_outside(url: str, *_more: object, **_named: object) -> dict[str, object]:
    """The page needs nothing else; a picture's address that got into it is not followed."""
    raise ValueError(f"{url[:80]} is not fetched")


FORMS: Mapping[str, Callable[[Journal, str, Path], str]] = {
    ".jsonl": _jsonl,
    ".csv": _csv,
    ".html": _html,
    ".pdf": _pdf,
}
