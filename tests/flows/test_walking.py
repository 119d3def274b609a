"""Walking the table, and what is answered without asking."""

import pytest

from flows.model import Ask, Step
from flows.source import load_flow, load_sheet
from flows.walking import WalkError, automatic, denied_places, next_step, once_more, path

SHEET = load_sheet()
FLOW = load_flow("manifold-pressure", SHEET)


def test_an_outcome_leads_to_its_target_or_is_refused_with_what_there_is() -> None:
    assert next_step(FLOW, "supply", "in") == "air"
    with pytest.raises(WalkError, match="has no branch for 'maybe'; it has in, doubtful"):
        next_step(FLOW, "supply", "maybe")
    with pytest.raises(WalkError, match="is no step"):
        next_step(FLOW, "supplies", "in")


def test_cannot_at_the_control_unit_holds_for_the_session_and_nowhere_else() -> None:
    denied = denied_places(FLOW, [("unit-signal", "cannot"), ("still", "cannot")], SHEET)
    assert denied == {"unit"}
    assert automatic(FLOW.steps["temperature-drop"], denied) == "cannot"
    assert automatic(FLOW.steps["watch-unit"], denied) == "cannot"
    assert automatic(FLOW.steps["signal-ohms"], denied) == "cannot"
    assert automatic(FLOW.steps["still"], denied) is None
    assert automatic(FLOW.steps["unit-signal"], frozenset()) is None


def test_a_path_ends_in_a_finding_or_says_where_it_turned() -> None:
    first = path(FLOW, lambda step: "in" if "in" in step.outcomes else next(iter(step.outcomes)))
    assert first[-1] == ("nothing-found", "") or first[-1][0] in FLOW.findings
    with pytest.raises(WalkError, match="no finding after 3 steps"):
        path(FLOW, lambda step: next(iter(step.outcomes)), most=3)


def test_who_is_asked_to_start_once_more_says_yes_once() -> None:
    ask = Ask(reply="yes_no")
    again = Step(
        name="again",
        kind="ask",
        say="Start once more?",
        ask=ask,
        outcomes={"yes": "shown", "no": "end", "cannot": "end"},
    )
    assert once_more(again, ["who", "shown", "ground"]) == "yes"
    assert once_more(again, ["who", "shown", "again", "shown", "ground"]) == "no"
    assert once_more(again, ["who"]) is None  # leads on, not back: an ordinary question
