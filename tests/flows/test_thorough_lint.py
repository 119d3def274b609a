"""Lint that walks a flow on every fault: what no suspect turns, what no fault comes to, what no meter can tell."""

import re
from pathlib import Path

import pytest

from flows.circuits import CIRCUITS
from flows.rules import lint
from flows.rules.subject import Subject
from flows.rules.thorough import DRAWS, walked
from flows.source import load_sheet, read_flow

HERE = Path(__file__).parents[1]
BAD = sorted((HERE / "flows_bad" / "thorough").glob("*.yaml"))
WANTS = re.compile(r"(\d+):(\d+) (\S+?),?(?=\s)")
SHEET = load_sheet()


@pytest.mark.parametrize("file", BAD, ids=lambda f: f.stem)
def test_each_mistake_is_found_at_its_line_and_column(file: Path) -> None:
    first = file.read_text().split("\n")[0] + "\n"
    wanted = {(int(line), int(column), rule) for line, column, rule in WANTS.findall(first)}
    found = {(p.line, p.column, p.rule) for p in lint(file, SHEET, thoroughly=True)}
    assert wanted
    assert found == wanted


def test_walking_is_left_out_unless_it_is_asked_for() -> None:
    assert all(lint(file, SHEET) == [] for file in BAD)


def test_every_fault_walks_on_every_build_with_and_without_slips() -> None:
    flow, _, filling = read_flow(HERE / "flows_good" / "two-checks.yaml", SHEET)
    assert flow is not None and filling is not None
    made = walked(Subject(flow, SHEET, filling))
    faults = len(CIRCUITS[flow.circuit](SHEET).faults())
    assert made.found.total() == (faults + 1) * 4 * 2 * DRAWS  # four builds of the sheet, sure hands and slipping ones
    assert not made.endless


def test_a_reading_that_a_later_window_rests_on_is_not_wasted(tmp_path: Path) -> None:
    """The supply's own window lets everything pass; the pressure signal is still a share of what was read."""
    text = (HERE / "flows_good" / "two-checks.yaml").read_text()
    wide = text.replace("{supply_at_plug: {}}", "{between: {low: -55, high: 55, unit: V, source: any wire}}")
    found = {}
    for name, words in (("rests", wide), ("alone", wide.replace(", supply_from: supply", ""))):
        file = tmp_path / f"{name}.yaml"
        file.write_text(words)
        found[name] = [p.line for p in lint(file, SHEET, thoroughly=True) if p.rule == "wasted-check"]
    assert found == {"rests": [], "alone": [15]}
