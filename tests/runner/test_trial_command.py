"""The trial as a command: fields, sums, the same numbers twice, and a small count of draws in CI."""

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from flows.source import shipped_flows
from flows.trial.engines import draw_engines
from flows.trial.slips import Slips
from flows.trial.walk import Course, Walker
from runner.cli import cli
from runner.talk.machine import FlowMachine
from runner.trial.trialling import Lot, course_of, faults_of, line_of, run_trial

FLOW = "coolant-temperature"  # a small one
FIELDS = {
    "flow", "faults", "draws", "right", "wrong", "undecided", "mean_checks", "mean_minutes", "best_minutes", "mean_blamed",
}  # fmt: skip


@pytest.fixture(scope="module")
def course() -> Course:
    return course_of(Lot("manifold-pressure"))


def test_one_json_line_a_flow_with_all_its_fields(tmp_path: Path) -> None:
    page = tmp_path / "trial.html"
    args = ["trial", FLOW, "--draws", "3", "--seed", "2", "--best-s", "1", "--workers", "1", "--json"]
    result = CliRunner().invoke(cli, [*args, "--page", str(page)])
    assert result.exit_code == 0, result.output
    (line,) = [json.loads(text) for text in result.stdout.splitlines()]
    assert set(line) >= FIELDS
    assert line["flow"] == FLOW and line["draws"] == 3
    assert line["right"] + line["wrong"] + line["undecided"] == pytest.approx(1, abs=1e-5)
    assert line["wrong"] <= line["wrong_bound"] <= 1
    assert 0 < line["best_minutes"] <= line["best_found_minutes"] <= line["mean_minutes"]
    assert "Trial" in result.stderr
    text = page.read_text(encoding="utf-8")
    assert "<svg" in text and FLOW in text
    assert not re.search(r"""(src|href)=["']?https?:""", text)  # nothing is fetched


def test_the_same_seed_gives_the_same_line_with_any_number_of_processes() -> None:
    lot = Lot(FLOW, draws=2, seed=5, slips=0.05, beyond_reach=0.3, best_s=0)
    lines = [line_of(trial) for workers in (1, 2) for trial in run_trial([lot], workers=workers)]
    assert lines[0] == lines[1]


def test_every_build_takes_its_share_of_the_draws() -> None:
    (trial,) = run_trial([Lot(FLOW, draws=5, seed=5, builds=True, best_s=0)], workers=1)
    line = line_of(trial)
    assert len(line["builds"]) >= 2
    assert {row.draws for row in trial.made.faults.values()} <= {1, 2, 3, 4, 5}
    assert trial.made.healthy.draws == 5


def test_a_flow_that_is_not_there_is_said() -> None:
    result = CliRunner().invoke(cli, ["trial", "no-such-flow", "--draws", "1"])
    assert result.exit_code == 1
    assert "no-such-flow" in result.stderr and "Traceback" not in result.stderr


def few_draws(flow: str, draws: int) -> None:
    (trial,) = run_trial([Lot(flow, draws=draws, seed=11, best_s=0)], workers=1)
    line = line_of(trial)
    assert line["healthy_blamed"] == 0
    assert line["wrong_typical"] <= 0.01, line


def test_few_draws_condemn_no_healthy_engine_and_hardly_blame_wrongly() -> None:
    few_draws("manifold-pressure", 4)


@pytest.mark.slow
@pytest.mark.parametrize("flow", shipped_flows())
def test_more_draws_of_every_flow(flow: str) -> None:
    few_draws(flow, 25)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 1000), st.integers(0, 200), st.sampled_from([0.0, 0.2]))
def test_the_flow_machine_takes_every_walk(course: Course, seed: int, number: int, rate: float) -> None:
    faults = faults_of(course)
    fault = faults[number % len(faults)]
    slipping = Course(course.flow, course.circuit, course.sheet, course.meter, Slips(rate), seed)
    walked = Walker(slipping, draw_engines(3, seed=seed, beyond_reach=0.3)).walk(None if fault == "none" else fault)
    for party in walked.ends:
        machine = FlowMachine(course.flow.table, course.flow.findings, at=course.flow.start)
        for step, outcome in party.path:
            assert machine.state == step
            machine.move(outcome)
        if party.at:  # an endless walk is cut off, and stands at no finding
            assert machine.state == party.at
            assert party.at in course.flow.findings
