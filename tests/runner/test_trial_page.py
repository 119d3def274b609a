"""The drawn graph: boxes that do not touch, lines that lead down, everything that was taken, nothing fetched."""

import re
from collections import Counter
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runner.trial.drawing import branches_of, draw_flow, never_taken, shade
from runner.trial.layout import GAP, draw
from runner.trial.page import render_trials
from runner.trial.tables import missed, percent
from runner.trial.trialling import Lot, Trial, run_trial


@pytest.fixture(scope="module")
def trial() -> Trial:
    (made,) = run_trial([Lot("manifold-pressure", draws=3, seed=3, slips=0.05, best_s=0)], workers=1)
    return made


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9)), max_size=25), st.integers(0, 9))
def test_boxes_never_touch_and_lines_lead_down(pairs: list[tuple[int, int]], start: int) -> None:
    edges = list(dict.fromkeys((f"n{a}", f"n{b}") for a, b in pairs))
    widths = {f"n{i}": 20.0 + 7 * i for i in range(10)}
    drawing = draw(f"n{start}", edges, widths)
    assert drawing.rank[f"n{start}"] == 0
    for one in drawing.rank:
        for two in drawing.rank:
            if one < two and drawing.rank[one] == drawing.rank[two]:
                apart = abs(drawing.x[one] - drawing.x[two]) - (widths[one] + widths[two]) / 2
                assert apart >= GAP - 1e-6
    for (source, target), points in drawing.lines.items():
        assert points[0] == pytest.approx((drawing.x[source], drawing.rank[source]))
        assert points[-1] == pytest.approx((drawing.x[target], drawing.rank[target]))
        assert abs(points[0][1] - points[-1][1]) == len(points) - 1
        if (source, target) not in drawing.backwards:
            assert drawing.rank[target] > drawing.rank[source]
    assert all(0 <= x <= drawing.width for x in drawing.x.values())
    assert drawing.x[f"n{start}"] <= drawing.width / 2 + 1e-6


def test_every_branch_that_was_taken_is_drawn_with_its_counts(trial: Trial) -> None:
    tree = ElementTree.fromstring(f"<div>{draw_flow(trial)}</div>")
    titles = [t.text or "" for t in tree.iter("title")]
    taken = [b for b in branches_of(trial) if b.taken]
    inside = Counter(title.partition(":")[0] for title in titles)
    drawn = {title for title in inside if " to " in title}
    within_box = [b for b in taken if f"{b.source} to {b.target}" not in " ".join(drawn)]
    # only steps of one shared part that always follow each other share a box
    assert all(b.source.rpartition("/")[0] == b.target.rpartition("/")[0] != "" for b in within_box)
    visited = {b.source for b in taken} | {b.target for b in taken}
    told = " ".join(titles)
    assert all(name in told for name in visited)


def test_branches_never_taken_are_listed(trial: Trial) -> None:
    rows = list(never_taken(trial))
    assert rows
    for step, outcomes, target in rows:
        for outcome in outcomes.split(", "):
            assert trial.made.branches.get((step, outcome), 0) == 0
            assert trial.course.flow.steps[step].outcomes[outcome] == target


def test_the_page_stands_alone(trial: Trial) -> None:
    page = render_trials([trial])
    assert page.startswith("<!doctype html>")
    assert not re.search(r"(src|href)=[\"']?(https?:)?//", page)
    assert "<script" not in page
    assert "prefers-color-scheme: dark" in page
    for fault in trial.course.circuit.faults():
        assert fault in page
    assert page.count("<main>") == page.count("</main>") and page.count("<table>") == page.count("</table>")


def test_darker_the_more_often() -> None:
    shades = [shade(times, 10_000) for times in (0, 1, 20, 60, 300, 2000, 10_000)]
    assert shades == sorted(shades)
    assert shades[0] == 0 and shades[1] == 1 and shades[-1] == 5


def test_what_falls_short_is_said_with_numbers(trial: Trial) -> None:
    sentences = missed(trial)
    wrong = trial.made.rate("wrong")
    assert any(percent(wrong) in s for s in sentences) == (wrong > 0.003)
    assert all(re.search(r"\d", s) or "without an end" in s for s in sentences)
