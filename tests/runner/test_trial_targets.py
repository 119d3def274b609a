"""Targets beside what was met, and the minutes that the best possible may use."""

from collections import Counter

import pytest
from click.testing import CliRunner

from flows.circuits import CIRCUITS
from flows.meter import load_meter
from flows.model import Measure
from flows.rules.live import ohms_forbidden
from flows.source import load_flow, load_sheet
from flows.trial.checks import CheckTable
from flows.trial.tally import FaultTally, FlowTally
from runner.cli import cli
from runner.trial.targets import targets_of
from runner.trial.trialling import Lot, Trial, course_of

OFF = {"key": "off", "engine": "off"}
LOT = Lot("bus-termination", draws=1000)


def trial(right: int, wrong: int, *, healthy_wrong: int = 0, slips: float = 0.0) -> Trial:
    verdicts = Counter(right=right, wrong=wrong, undecided=1000 - right - wrong)
    sound = Counter(right=1000 - healthy_wrong, wrong=healthy_wrong)
    faults = {"none": FaultTally("none", verdicts=sound), "a": FaultTally("a", verdicts=verdicts)}
    lot = Lot("bus-termination", draws=1000, slips=slips)
    return Trial(lot, course_of(LOT), FlowTally("f", faults, {}), None)


def met(made: Trial, seconds: float = 10.0) -> dict[str, bool]:
    return {target.what: target.met for target in targets_of([made], seconds=seconds)}


def test_at_the_limit_is_met_and_one_beyond_is_not() -> None:
    assert all(met(trial(999, 1)).values())
    assert not met(trial(998, 2))["wrong, percent"]
    assert not met(trial(980, 11))["wrong, worst single fault"]
    assert not met(trial(989, 0))["right, percent"]
    assert not met(trial(1000, 0, healthy_wrong=2))["healthy engine condemned"]
    assert not met(trial(1000, 0), seconds=301)["seconds, 1 flows at 1,000 draws"]


def test_slips_have_targets_of_their_own() -> None:
    assert not met(trial(975, 3))["right, percent"]
    made = {t.what: t for t in targets_of([trial(975, 3, slips=1 / 30)])}
    assert made["right, percent"].met and made["right, percent"].wanted == "at least 97.0"
    assert made["wrong, percent"].met and made["wrong, percent"].wanted == "at most 0.3"


def test_no_trial_has_no_target() -> None:
    assert targets_of([]) == []


@pytest.mark.parametrize(("more", "reaches"), [((), True), (("--unit-out-of-reach",), False)])
def test_the_command_prints_them_and_says_by_its_exit_code(more: tuple[str, ...], reaches: bool) -> None:
    words = ["trial", "bus-termination", "--draws", "8", "--best-s", "0", "--workers", "1", "--targets", *more]
    result = CliRunner().invoke(cli, words)
    assert "wrong, worst single fault" in result.stderr
    assert result.exit_code == (0 if " no " not in result.stderr else 1)
    assert reaches or "right, percent" in result.stderr


def test_the_best_possible_reads_no_ohms_that_lint_forbids() -> None:
    sheet = load_sheet()
    flow = load_flow("coolant-temperature", sheet)
    table = CheckTable(CIRCUITS[flow.circuit](sheet), sheet, load_meter(), flow)
    states = table.states()
    ohms = [
        m for state in states for red, black in table._pairs(state) for m in table._measures(red, black, state)
        if m.quantity == "resistance"
    ]  # fmt: skip
    assert ohms and not any(ohms_forbidden(m, sheet) for m in ohms)
    plugged = Measure(
        quantity="resistance", red="coolant_plug.coolant-signal", black="coolant_plug.coolant-ground", state=OFF
    )
    assert "plugged in" in ohms_forbidden(plugged, sheet)
