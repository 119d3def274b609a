"""Slips by hand: what each shows, and when the dialogue's second call cures it."""

import numpy as np
import pytest

from flows.meter import load_meter
from flows.source import load_sheet
from flows.trial.slips import (
    BLACK,
    GHOST,
    JUMPY,
    MISSED,
    NEIGHBOUR,
    NONE,
    REVERSED,
    SlipLot,
    Slips,
    draw_slips,
    misread,
    neighbour_of,
    slipped,
)

METER = load_meter("bench")


def shown(kind: int, true: float, quantity: str = "dc_voltage", *, beside: float = 1.0) -> tuple[float, float]:
    lot = SlipLot(
        np.array([kind]), np.array([0.7]), np.array([10e6]), np.array([1.0]), np.array([True])
    )  # ghost 0.7 V, 10 Mohm at the black lead, full swing
    none = np.zeros(1)
    low, high = slipped(
        lot, np.array([true]), np.array([beside]), quantity=quantity, meter=METER, gain=none, offset=none
    )
    return float(low[0]), float(high[0])


def test_on_volts() -> None:
    assert shown(NONE, 4.2) == (4.2, 4.2)
    assert shown(MISSED, 4.2) == (0.0, 0.0)
    assert shown(GHOST, 4.2) == (0.7, 0.7)
    assert shown(NEIGHBOUR, 4.2) == (1.0, 1.0)
    assert shown(REVERSED, 4.2) == (-4.2, -4.2)
    assert shown(BLACK, 4.2) == (2.1, 2.1)  # ten megohms in line with a meter of ten
    assert shown(JUMPY, 4.0) == pytest.approx((3.3, 4.7))  # 15 percent and a tenth of a volt either way


def test_on_ohms_a_missed_pin_is_an_open_line() -> None:
    assert shown(MISSED, 3.0, "resistance") == (np.inf, np.inf)
    assert shown(BLACK, 3.0, "resistance")[0] == pytest.approx(10e6, rel=0.01)
    assert shown(REVERSED, 3.0, "resistance") == shown(NONE, 3.0, "resistance")


def test_one_check_in_thirty_slips() -> None:
    lot = draw_slips(30_000, Slips(1 / 30), np.random.default_rng(1))
    assert (lot.kind != NONE).mean() == pytest.approx(1 / 30, abs=0.004)
    assert lot.stays.mean() == pytest.approx(0.8, abs=0.01)
    assert lot.ghost_v.min() >= 0.1 and lot.ghost_v.max() <= 2.0
    assert (draw_slips(1000, Slips(), np.random.default_rng(1)).kind == NONE).all()


def test_the_neighbouring_pin_is_in_the_same_plug() -> None:
    sheet = load_sheet()
    for name, point in sheet.points.items():
        beside = neighbour_of(name, sheet)
        assert beside in sheet.points
        assert sheet.points[beside].place == point.place
    assert neighbour_of("battery.positive", sheet) == "battery.positive"


def misread_one(kind: int, true: float, quantity: str, *, before: float = 12.5) -> float:
    lot = SlipLot(np.array([kind]), np.array([0.7]), np.array([10e6]), np.array([1.0]), np.array([True]))
    none = np.zeros(1)
    low, _ = misread(lot, np.array([true]), np.array([before]), quantity=quantity, meter=METER, gain=none, offset=none)
    return float(low[0])


def test_a_display_that_has_not_moved_on_shows_what_stood_there_before() -> None:
    assert misread_one(NONE, 0.1, "dc_voltage") == 0.1
    assert [misread_one(kind, 0.1, "dc_voltage") for kind in (MISSED, GHOST, NEIGHBOUR)] == [12.5, 12.5, 12.5]
    assert misread_one(REVERSED, 0.1, "dc_voltage") == 0.1  # it has no leads


def test_a_clamp_is_not_closed_not_zeroed_turned_round_or_beside_its_wire() -> None:
    assert misread_one(MISSED, 2.0, "current") == pytest.approx(1.8)  # nine tenths at full swing
    assert misread_one(GHOST, 2.0, "current") == pytest.approx(2.03)  # thirty milliamperes off its zero
    assert misread_one(BLACK, 2.0, "current") == pytest.approx(1.97)
    assert misread_one(NEIGHBOUR, 2.0, "current") == 0.0
    assert misread_one(REVERSED, 2.0, "current") == -2.0
