"""The flow's machine goes where the outcome says; the dialogue's machine refuses what must never happen."""

import pytest

from runner.talk.machine import DialogueMachine, FlowMachine, MachineError

STEPS = {"opening/who": {"answered": "supply"}, "supply": {"in": "fine", "low": "fault", "cannot": "opening/who"}}


def test_outcomes_lead_where_the_flow_says() -> None:
    machine = FlowMachine(STEPS, ["fine", "fault"], at="opening/who")
    assert machine.move("answered") == "supply"
    assert machine.move("cannot") == "opening/who"
    assert machine.move("answered") == "supply"
    assert machine.move("low") == "fault"


def test_an_outcome_without_a_branch_is_refused_and_nothing_moves() -> None:
    machine = FlowMachine(STEPS, ["fine", "fault"], at="supply")
    with pytest.raises(ValueError, match="no branch for outcome 'high'"):
        machine.move("high")
    assert machine.state == "supply"


def test_a_branch_to_nowhere_is_found_before_anything_is_built() -> None:
    with pytest.raises(ValueError, match="no step and no finding"):
        FlowMachine({"a": {"in": "b"}}, [], at="a")


def test_standing_at_an_unknown_step_is_refused() -> None:
    with pytest.raises(ValueError, match="cannot stand at 'z'"):
        FlowMachine(STEPS, ["fine", "fault"], at="z")


def test_going_back_stands_at_the_step_without_an_outcome() -> None:
    machine = FlowMachine(STEPS, ["fine", "fault"], at="supply")
    machine.stand_at("opening/who")
    assert machine.move("answered") == "supply"


def test_a_readback_must_be_heard_out_before_it_is_confirmed() -> None:
    phase = DialogueMachine()
    phase.now("speak")
    with pytest.raises(MachineError):
        phase.now("confirm")
    phase.now("listen")
    phase.now("read_back")
    phase.now("confirm")
    phase.now("finish")
    with pytest.raises(MachineError):
        phase.now("speak")
