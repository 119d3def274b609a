"""Where every page is written: templates, everything escaped, nothing undefined passed over."""

from functools import cache

from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined

from runner.report import figures
from runner.report.story import title_of


@cache
def environment(*packages: str) -> Environment:
    """The report's templates and filters; packages: others whose folder `templates` is looked in first."""
    made = Environment(
        loader=ChoiceLoader([PackageLoader(package, "templates") for package in (*packages, "runner")]),
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
        "pair": lambda value: (value, value),
    }
    return made
