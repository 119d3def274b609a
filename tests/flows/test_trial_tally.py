"""What counts as right, wrong and undecided, and the bounds, against numbers worked out by hand."""

from collections import Counter

import pytest

from flows.model import Act, Finding, Flow, Step
from flows.trial.tally import FaultTally, merged, upper_bound, verdict

CLASSES = {"a": frozenset({"a"}), "b": frozenset({"b", "c"}), "c": frozenset({"b", "c"})}


def finding(name: str, *blames: str, status: str = "found") -> Finding:
    return Finding(name=name, say=name, do=name, blames=blames, status=status)  # type: ignore[arg-type]


FLOW = Flow(
    name="f",
    title="f",
    circuit="c",
    start="s",
    steps={"s": Step(name="s", kind="act", say="Do it.", act=Act(), outcomes={"done": "x", "cannot": "x"})},
    findings={
        f.name: f
        for f in (
            finding("just-a", "a"),
            finding("b-or-c", "b", "c"),
            finding("a-or-b", "a", "b", status="cannot_decide"),
            finding("nothing", status="not_found"),
        )
    },
)


@pytest.mark.parametrize(
    ("finding_name", "fault", "said"),
    [
        ("just-a", "a", "right"),
        ("just-a", "b", "wrong"),
        ("b-or-c", "b", "right"),  # one class: nothing separates them
        ("b-or-c", "a", "wrong"),
        ("a-or-b", "a", "undecided"),  # blamed, but not alone
        ("a-or-b", "c", "wrong"),  # blames, and not the fault
        ("nothing", "a", "undecided"),
        ("nothing", "none", "right"),
        ("just-a", "none", "wrong"),  # a healthy engine condemned
        ("", "a", "undecided"),  # a walk without an end
        ("", "none", "undecided"),
    ],
)
def test_verdicts(finding_name: str, fault: str, said: str) -> None:
    assert verdict(FLOW, finding_name, fault, CLASSES) == said


def test_bounds_by_hand() -> None:
    assert upper_bound(0, 1000) == pytest.approx(1 - 0.05 ** (1 / 1000), rel=1e-6)  # (1 - p)^n = 0.05
    assert upper_bound(0, 100) == pytest.approx(0.02951, abs=1e-5)  # the rule of three, exactly
    assert upper_bound(1, 10) == pytest.approx(0.39416, abs=1e-5)  # tables of Clopper and Pearson
    assert upper_bound(10, 10) == upper_bound(0, 0) == 1.0


def test_rates_leave_the_healthy_engine_out() -> None:
    rows = [
        (FaultTally("none", verdicts=Counter(right=9, wrong=1), checks=100), {}),
        (FaultTally("a", verdicts=Counter(right=6, wrong=3, undecided=1), checks=40), {("s", "done"): 10}),
        (FaultTally("a", verdicts=Counter(right=10), checks=60), {("s", "done"): 10}),
    ]
    made = merged("f", rows)
    assert made.rate("right") == 0.8 and made.rate("wrong") == 0.15 and made.rate("undecided") == 0.05
    assert made.mean("checks") == 5.0
    assert made.branches == {("s", "done"): 20}
    assert made.healthy.share("wrong") == 0.1
    worst = made.worst()
    assert worst is not None and worst.fault == "a"
