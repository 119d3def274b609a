"""Windows of a night's rest and of a leak: what is in, and what is beyond, by the words of the rule."""

import pytest

from flows.judging import Reading, judge
from flows.meter import load_meter
from flows.site import Site
from flows.source import load_sheet
from flows.windows import WindowError, compute

METER = load_meter()


def outcome(expect: dict[str, dict[str, str]], quantity: str, value: float | None, **read: float) -> str:
    window = compute(expect, sheet=load_sheet(), site=Site(), meter=METER, readings=read)
    return judge(Reading(quantity, value, over_range=value is None), window, METER).outcome


@pytest.mark.parametrize(
    ("shown_c", "said"),
    [(12, "in"), (10, "in"), (16, "doubtful"), (19, "high"), (5, "low"), (26, "high"), (-20, "low")],
)
def test_after_eight_hours_the_display_stands_within_five_kelvin_of_the_thermometer(shown_c: float, said: str) -> None:
    assert outcome({"same_after_soak": {"step": "air"}}, "temperature", shown_c, air=12.0) == said


def test_without_the_thermometer_nothing_is_said_of_it() -> None:
    with pytest.raises(WindowError, match="has not been taken"):
        outcome({"same_after_soak": {"step": "air"}}, "temperature", 12)


@pytest.mark.parametrize(
    ("ohm", "said"),
    [
        (0.6, "low"),
        (15, "low"),
        (100, "in"),
        (3.3e3, "in"),
        (140e3, "in"),
        (450e3, "in"),
        (5e6, "high"),
        (None, "open_line"),
    ],
)
def test_a_short_a_leak_and_nothing_by_their_ohms(ohm: float | None, said: str) -> None:
    """From the worst leak that is generated, 100 ohm, to the mildest that any circuit notices, 450 kilohm."""
    assert outcome({"leaking": {}}, "resistance", ohm) == said
