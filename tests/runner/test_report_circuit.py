"""The schematic on the report: at the finding and at each check that turned the flow, and only for the sheet it was judged by."""

from typing import Any
from xml.etree import ElementTree

import pytest

from flows.meter import load_meter
from flows.site import Site
from flows.source import load_flow, load_sheet
from runner.job import Job
from runner.jobs import opening
from runner.report import render
from runner.report.circuit import circuit_of

FLOW = "coolant-temperature"
SIGNAL, GROUND = "coolant_plug.coolant-signal", "coolant_plug.coolant-ground"


@pytest.fixture(scope="module")
def opened() -> dict[str, Any]:
    sheet = load_sheet("th2")
    job = Job(flow=load_flow(FLOW, sheet), sheet=sheet, site=Site(), meter=load_meter("bench"))
    return opening(job, session="s", machine="th2", meter="bench")


def events(opened: dict[str, Any]) -> list[dict[str, Any]]:
    """Two checks: one in its limits, one low that ends in the finding."""
    told: list[dict[str, Any]] = [{"type": "opened", **opened}]
    for step, value, outcome, to in (("one", 12.5, "in", "two"), ("two", 0.1, "low", "signal-short")):
        told += [
            {"type": "asked", "step": step, "text": f"Check {step}.", "want": "reading"},
            {
                "type": "measured",
                "step": step,
                "value": value,
                "high": None,
                "over_range": False,
                "unit": "V",
                "decimals": 2,
                "confirmed": "implicit",
                "attempts": 1,
                "place_red": SIGNAL,
                "place_black": GROUND,
            },
            {"type": "judged", "step": step, "outcome": outcome, "low": 1.0, "high": 13.0, "guard": 0.1, "unit": "V"},
            {"type": "branched", "step": step, "outcome": outcome, "to": to},
        ]
    told.append(
        {"type": "found", "finding": "signal-short", "say": "Short.", "do": "", "blames": [], "status": "found"}
    )
    return [{**event, "at_utc": "2026-11-25T08:00:00+00:00", "sequence": n} for n, event in enumerate(told, 1)]


def test_the_circuit_is_drawn_once_and_shown_where_it_was_decided(opened: dict[str, Any]) -> None:
    text = render(events(opened))
    assert text.count('id="circuit"') == 1
    assert text.count('<use href="#circuit"/>') == 2  # the finding and the check that was low, not the one that was in
    assert text.count('class="probe red"') == text.count('class="probe black"') == 2
    assert "Red on coolant sensor plug, wire side, latch up, left, yellow with grey" in text


def test_the_probes_stand_on_their_points(opened: dict[str, Any]) -> None:
    circuit = circuit_of(opened)
    assert circuit is not None
    picture = circuit.picture({"place_red": SIGNAL, "place_black": "battery.negative"})
    assert picture is not None
    root = ElementTree.fromstring(f"<svg>{picture.marks}</svg>")
    disc, square = root.find(".//circle"), root.find(".//rect")
    red, black = circuit.schematic.dot(SIGNAL), circuit.schematic.dot("battery.negative")
    assert disc is not None and square is not None and red and black
    assert (float(disc.get("cx", "")), float(disc.get("cy", ""))) == (red.x, red.y)
    assert float(square.get("x", "")) + 8 == black.x


def test_a_reading_at_no_point_has_no_picture(opened: dict[str, Any]) -> None:
    circuit = circuit_of(opened)
    assert circuit is not None and circuit.picture({"place_red": "elsewhere.point", "place_black": None}) is None


@pytest.mark.parametrize(
    "changed",
    [
        {"sheet_hash": "0" * 64},
        {"machine_file": "/nowhere/else.yaml"},
        {"flow": "no-such-flow"},
        {"machine_file": None},
    ],
)
def test_what_it_was_judged_by_is_gone_then_nothing_is_drawn(opened: dict[str, Any], changed: dict[str, Any]) -> None:
    other = {**opened, **changed}
    assert circuit_of(other) is None
    assert 'id="circuit"' not in render(events(other))


def test_review_days_later_is_no_work_and_the_time_is_split_where_it_is_told(opened: dict[str, Any]) -> None:
    told = events(opened)
    # Ears are open four seconds of the six between sentence and answer: the person's. The two before are talk, as is
    # the second after each of the two questions that are a second long here.
    clocks = [{**event, "at_mono_s": float(number)} for number, event in enumerate(told)]
    spoken = [
        {"type": "asked", "step": "x", "text": "Call.", "want": "reading", "at_mono_s": 100.0},
        {"type": "said", "text": "Call.", "at_mono_s": 100.0},
        {"type": "heard", "words": "five volts", "listening": "reading", "listened_s": 4.0, "at_mono_s": 106.0},
    ]
    at = {"at_utc": "2026-11-25T08:00:00+00:00"}
    later = {"type": "commented", "by": "S", "words": "Good.", "at_utc": "2026-11-29T08:00:00+00:00", "at_mono_s": 1.0}
    page = render([*clocks, *({**event, **at} for event in spoken), later])
    assert "4 days" not in page and "96 h" not in page
    assert "4 s the person working" in page and "4 s the tool talking" in page
