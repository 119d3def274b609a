"""The state of a session is the fold of its events, whatever the events are."""

from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from runner.record.session import State, apply, fold

OPENED = {"type": "opened", "session": "s", "flow": "f", "step": "one"}


def measured(step: str, value: float | None, **more: Any) -> dict[str, Any]:
    facts = {"quantity": "dc_voltage", "high": None, "over_range": value is None, "unit": "V"}
    return {"type": "measured", "step": step, "value": value, "confirmed": "implicit", "attempts": 1, **facts, **more}


def branched(step: str, to: str, outcome: str = "in") -> dict[str, Any]:
    return {"type": "branched", "step": step, "outcome": outcome, "to": to}


def test_a_reading_stands_under_its_step_until_it_is_taken_again() -> None:
    state = fold([OPENED, measured("one", 4.98), measured("one", 5.01)])
    assert state.readings == {"one": 5.01}
    assert [m.value for m in state.replaced] == [4.98]


def test_an_over_range_reading_is_kept_but_no_window_rests_on_it() -> None:
    state = fold([OPENED, measured("one", None)])
    assert state.measured["one"].over_range
    assert state.readings == {}


def test_going_back_takes_the_path_back_and_marks_what_came_of_it_stale() -> None:
    state = fold([OPENED, measured("one", 4.98), branched("one", "two"), {"type": "went_back", "to": "one"}])
    assert state.step == "one"
    assert state.path == ()
    assert state.readings == {}, "a reading that is to be taken again must not carry a window"
    assert apply(state, measured("one", 5.0)).readings == {"one": 5.0}


def test_going_back_to_a_place_out_of_reach_means_it_can_be_reached_after_all() -> None:
    lost = fold([OPENED, {"type": "unreachable", "place": "unit"}, branched("one", "two", "cannot")])
    assert lost.unreachable == {"unit"}
    assert apply(lost, {"type": "went_back", "to": "one", "places": ["unit"]}).unreachable == frozenset()


def test_a_caution_counts_only_when_it_was_acknowledged() -> None:
    said = {"type": "caution", "name": "hot", "text": "Hot.", "acknowledged": False}
    assert not fold([OPENED, said]).acknowledged
    assert fold([OPENED, {**said, "acknowledged": True}]).acknowledged == {"hot"}


def test_a_closed_session_that_is_taken_up_again_is_open() -> None:
    closed = fold([OPENED, {"type": "closed", "status": "found, not proved", "doubtful": [], "put_right": []}])
    assert closed.closed and closed.status == "found, not proved"
    assert not apply(closed, {"type": "resumed"}).closed


EVENTS = st.lists(
    st.one_of(
        st.builds(measured, st.sampled_from(["one", "two"]), st.one_of(st.none(), st.floats(-60, 60))),
        st.builds(branched, st.sampled_from(["one", "two"]), st.sampled_from(["one", "two", "end"])),
        st.just({"type": "went_back", "to": "one"}),
        st.just({"type": "paused"}),
        st.just({"type": "resumed"}),
        st.just({"type": "said", "text": "anything"}),
        st.just({"type": "a kind of event from a later version"}),
    ),
    max_size=20,
)


@given(events=EVENTS, cut=st.integers(0, 20))
def test_folding_in_two_parts_is_folding_at_once(events: list[dict[str, Any]], cut: int) -> None:
    state = fold([OPENED, *events[:cut]])
    for event in events[cut:]:
        state = apply(state, event)
    assert state == fold([OPENED, *events])


def test_an_empty_journal_is_an_empty_state() -> None:
    assert fold([]) == State()
