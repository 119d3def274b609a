"""A technician who goes on against what the tool said: in the journal, in the list, and first on the supervisor's page."""

from collections.abc import Callable
from typing import Any

from flows.judging import Reading
from flows.trial.suspects import Standing
from runner.record.chain import Audit
from runner.record.listing import line_of
from runner.report.flags import flags
from runner.report.telling import tell
from runner.web.concerns import concerns
from runner.web.review_list import tags_of

MINUS = "minus five point zero zero three volts"
GOOD = "five point zero zero three volts"
REST = ("set", GOOD, "", GOOD, "", "set", GOOD, GOOD, "", "set")


class Nothing:
    """Advice for which no reading of one step fits any fault."""

    def __init__(self, step: str) -> None:
        self._step = step

    def look_ahead(self, step: str) -> None: ...

    def rest(self) -> None: ...

    def explains(self, step: str, reading: Reading) -> bool:
        return step != self._step

    def standing(self) -> Any:
        return Standing({"none": 1.0}, None)


def overridden(done: Any) -> list[tuple[str, str]]:
    return [(event["step"], event["why"]) for event in done.of("overridden")]


def test_a_reading_that_is_stood_by_is_overridden_and_listed_first(run_session: Callable[..., Any]) -> None:
    done = run_session("affirm", "set", GOOD, GOOD, "", *REST, advisor=Nothing("supply"))
    assert overridden(done) == [("supply", "no fault left explains the reading")]
    assert done.state.doubts == ("supply: no fault left explains the reading",)
    row = line_of("test", done.events)
    assert row.overridden == 1 and "overridden" in tags_of(row)
    story = tell(done.events)
    (flag,) = [flag for flag in flags(story) if "explains" in flag.text]
    assert flag.text == "Overridden: no fault left explains the reading" and flag.title == "Sensor supply at the plug"
    first = concerns(story, Audit("test", len(done.events)))[0]
    assert first.words == flag.text and first.visit is not None and first.visit.step == "supply"


def test_minus_after_the_leads_were_swapped_is_overridden(run_session: Callable[..., Any]) -> None:
    done = run_session("affirm", "set", MINUS, MINUS, "", "set", MINUS, MINUS, "", "set")
    assert overridden(done) == [("supply", "minus, where minus cannot be, after the leads were to be swapped")]
    assert "Still minus. Recorded as you call it." in done.said


def test_minus_that_is_gone_once_the_leads_are_swapped_is_not(run_session: Callable[..., Any]) -> None:
    done = run_session("affirm", "set", MINUS, MINUS, "", "set", GOOD, "", *REST)
    assert overridden(done) == []
