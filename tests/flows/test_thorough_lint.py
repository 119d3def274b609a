"""Lint that walks a flow on every fault: what no suspect turns, what no fault comes to, what no meter can tell."""

import re
from pathlib import Path

from flows.rules import lint
from flows.rules.subject import Subject
from flows.rules.thorough import DRAWS, walked
from flows.source import load_sheet, read_flow

HERE = Path(__file__).parents[1]
WALKED = HERE / "flows_bad" / "thorough" / "walked.yaml"
WANTS = re.compile(r"(\d+):(\d+) (\S+?),?(?=\s)")
SHEET = load_sheet()


def test_each_mistake_is_found_at_its_line_and_column() -> None:
    wanted = {
        (int(line), int(column), rule) for line, column, rule in WANTS.findall(WALKED.read_text().split("\n")[0] + "\n")
    }
    found = {(p.line, p.column, p.rule) for p in lint(WALKED, SHEET, thoroughly=True)}
    assert len(wanted) == 3
    assert found == wanted


def test_walking_is_left_out_unless_it_is_asked_for() -> None:
    assert lint(WALKED, SHEET) == []


def test_every_fault_walks_on_every_build_with_and_without_slips() -> None:
    flow, _, filling = read_flow(HERE / "flows_good" / "two-checks.yaml", SHEET)
    assert flow is not None and filling is not None
    made = walked(Subject(flow, SHEET, filling))
    faults = 51
    assert made.found.total() == (faults + 1) * 4 * 2 * DRAWS  # four builds of the sheet, sure hands and slipping ones
    assert not made.endless
