"""Codes pick the flow whose circuit has one fault that explains them; the reason is a sentence."""

import pytest

from flows.source import load_sheet
from runner.errors import RunError
from runner.talk.picking import pick_flow

SHEET = load_sheet("th2")


def test_two_codes_of_one_plug_point_at_its_ground() -> None:
    # An open sensor ground drives the thermistor high, and on this machine's pull-up the pressure signal with it.
    pick = pick_flow(["P0108", "p0113"], SHEET)
    assert pick.flow == "manifold-pressure"
    assert all(fault.startswith("ground-") for fault in pick.faults)
    assert "P zero one zero eight and P zero one one three together" in pick.why


def test_one_code_picks_its_own_circuit() -> None:
    assert pick_flow(["P0335"], SHEET).flow == "crank-speed"


def test_a_code_that_the_flow_does_not_explain_is_named_as_another_job() -> None:
    pick = pick_flow(["P0335", "P0108"], SHEET)
    assert len(pick.explained) == 1
    assert "another job after this one" in pick.why


def test_an_unknown_code_names_the_flows_there_are() -> None:
    with pytest.raises(RunError, match="manifold-pressure"):
        pick_flow(["P3999"], SHEET)
