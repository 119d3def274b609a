"""Where the time went is told by when the ears opened; expected sums by hand."""

from __future__ import annotations

from typing import Any

from runner.record.times import StepTime, in_all, step_times


def at(seconds: float, kind: str, **more: Any) -> dict[str, Any]:
    return {"type": kind, "at_mono_s": seconds, **more}


EVENTS = [
    at(100.0, "opened"),
    at(100.5, "asked", step="supply"),  # 0.5 s of computing before anything was asked
    at(100.5, "said"),  # the question is spoken for 4 s, then the ears are open for 8 s and nobody answers
    at(112.5, "unheard", listened_s=8.0),
    at(112.5, "said"),  # again, 3 s; then 6 s until the answer
    at(121.5, "heard", listened_s=6.0),
    at(121.5, "read_back"),  # 2 s spoken, 1.2 s left for an objection
    at(124.7, "unheard", listened_s=1.2),
    at(124.8, "measured", step="supply"),
    at(124.8, "asked", step="ground"),
    at(124.8, "said"),  # 2 s spoken, 3 s open
    at(129.8, "heard", listened_s=3.0),
    at(129.8, "paused"),
    at(189.8, "resumed"),  # stood by for a minute
    at(189.8, "closed"),
    at(5.0, "resumed"),  # the computer was started anew since
    at(5.5, "asked", step="ground"),
    at(7.5, "heard", listened_s=1.0),
]


def test_time_is_split_by_step() -> None:
    nothing, supply, ground = step_times(EVENTS)
    assert (nothing.step, round(nothing.waiting_s, 3)) == ("", 0.5)
    assert (supply.step, round(supply.talking_s, 3)) == ("supply", 4 + 3 + 2)
    assert (round(supply.working_s, 3), round(supply.waiting_s, 3)) == (8 + 6, round(1.2 + 0.1, 3))
    assert (ground.step, round(ground.talking_s, 3)) == ("ground", 2 + 1)
    assert (round(ground.working_s, 3), round(ground.waiting_s, 3)) == (3 + 1, 60 + 0.5)


def test_parts_add_up_to_the_time_the_session_was_open() -> None:
    whole = in_all(step_times(EVENTS))
    assert round(whole.total_s, 3) == round((189.8 - 100.0) + (7.5 - 5.0), 3)


def test_older_record_does_not_tell() -> None:
    assert step_times([at(1.0, "asked", step="x"), at(2.0, "heard")]) == ()
    assert step_times([]) == () and in_all([]) == StepTime("")
