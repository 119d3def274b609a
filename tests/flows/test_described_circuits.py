"""Kinds of parts and the generic solver: by hand, on small circuits made of the TH-2's battery."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from flows.circuits import CIRCUITS, NOMINAL, Draw
from flows.network.crowd import Crowd, share_of
from flows.network.described import DescribedCircuit
from flows.network.description import Description, End, Run, Sees
from flows.network.here import Here
from flows.network.kinds import COPPER_PER_K, Contact, Generator, Kind, Leak, Resistance, Source
from flows.network.moded import Diode, Regulator, Relay
from flows.network.power import power
from flows.network.stacked import Stack
from flows.sheet import Engine, Pin, Place, Setting, Wire
from flows.site import Site
from flows.source import load_sheet

FEED = Wire(colour="red", area_mm2=1.0, length_m=2.0, pins={"lamp_plug": Pin(pin="1", position="left")})
PLACES = {
    "lamp_plug": Place(spoken="lamp plug", view="wire side", access_minutes=0.5, unplugs=True),
    "lamp_sensor": Place(spoken="lamp", view="pin side", access_minutes=0.2),
    "box": Place(spoken="fuse box", access_minutes=1),
}
RELAY = Setting(home="in", say={"in": "Put it back.", "pulled": "Pull it.", "bridged": "Bridge it."})
BASE = load_sheet("th2")
SHEET = BASE.model_copy(
    update={
        "wires": {**BASE.wires, "feed": FEED},
        "places": {**BASE.places, **PLACES},
        "settings": {"lamp_relay": RELAY},
        "engine": Engine(cranking_rpm=200, idle_rpm=1500, fast_rpm=3000),
    }
)
FEED_RUN = Run(
    wire="feed",
    ends=(
        End(place="lamp_plug", inside="lamp_sensor.feed", item="lamp_plug"),
        End(place="box", inside="box.out", tag="box"),
    ),
    role="feed",
)
ON = {"key": "on"}


def circuit(*parts: Kind, **more: Any) -> DescribedCircuit:
    runs = more.pop("runs", (FEED_RUN,))
    return DescribedCircuit(
        Description(name="made", sheet=SHEET, runs=runs, parts=(*power(grounds=False, battery=False), *parts), **more)
    )


def volts(made: DescribedCircuit, red: str, state: dict[str, str] = ON, fault: str | None = None, **more: Any) -> float:
    return made.reading(fault, red, "battery.negative", more.pop("quantity", "dc_voltage"), state, **more)


LAMP = Resistance(name="lamp", a="lamp_sensor.feed", b="battery.negative", ohm=10.0, drift_span=(0.01, 5))
FUSE = Contact(name="fuse", a="battery.positive", b="box.out", closed=lambda h: 1.0, can=("blown",))
SEES = (Sees(plus="lamp_sensor.feed", minus="battery.negative", share=0.1),)


def test_a_blown_fuse_an_unplugged_lamp_and_an_open_wire() -> None:
    made = circuit(LAMP, FUSE, sees=SEES)
    assert 12.3 < volts(made, "lamp_plug.feed") < 12.6
    assert abs(volts(made, "lamp_plug.feed", fault="fuse-blown")) < 0.01
    assert abs(volts(made, "lamp_sensor.feed", {**ON, "lamp_plug": "out"})) < 0.01
    assert abs(volts(made, "lamp_plug.feed", fault="feed-open")) < 0.01
    assert volts(made, "box.feed", fault="feed-open") > 12.3


def test_faults_are_generated_by_rule_and_those_that_never_count_are_none() -> None:
    names = set(circuit(LAMP, FUSE, sees=SEES).faults())
    assert {"feed-open", "feed-resistance", "feed-intermittent", "feed-plug-intermittent"} <= names
    assert {"feed-box-intermittent", "feed-short-to-ground", "fuse-blown", "lamp-open", "lamp-short"} <= names
    assert "lamp-drift-high" not in names, "the lamp's voltage does not leave its tolerance when the lamp drifts"


def test_a_fault_counts_from_where_what_is_watched_leaves_its_tolerance() -> None:
    made = circuit(LAMP, FUSE, sees=SEES)
    fault = made.faults()["feed-resistance"]
    least = made.size(fault) / 4
    assert least == pytest.approx(10.0 / 0.9 - 10.0, rel=0.03)  # 10 ohm and R: a tenth of the voltage is lost


def test_a_coil_warms_and_its_resistance_with_it() -> None:
    made = circuit(Resistance(name="coil", a="x", b="battery.negative", ohm=12.0, per_k=COPPER_PER_K))
    ohm = made.reading(None, "x", "battery.negative", "resistance", {}, site=Site(outdoor_c=60))
    assert ohm == pytest.approx(12.0 * (1 + 0.00393 * 40), rel=1e-6)


def test_a_relay_pulls_in_is_pulled_out_and_is_bridged() -> None:
    def closed(h: Here) -> float:
        return float(h.key_on)

    relay = Relay(
        name="relay", coil_a="k", coil_b="battery.negative", contact_a="battery.positive", contact_b="box.out",
        coil_ohm=90.0, item="lamp_relay",
    )  # fmt: skip
    made = circuit(LAMP, Contact(name="switch", a="battery.positive", b="k", closed=closed), relay)
    assert volts(made, "lamp_plug.feed") > 12
    assert abs(volts(made, "lamp_plug.feed", {})) < 0.01
    assert abs(volts(made, "lamp_plug.feed", {**ON, "lamp_relay": "pulled"})) < 0.01
    assert volts(made, "lamp_plug.feed", {"lamp_relay": "bridged"}) > 12
    assert volts(made, "lamp_plug.feed", {}, fault="relay-stuck-closed") > 12
    assert abs(volts(made, "lamp_plug.feed", fault="relay-coil-open")) < 0.01


def test_a_diode_conducts_one_way() -> None:
    there = circuit(Diode(name="d", anode="battery.positive", cathode="x"), LAMP_AT_X)
    back = circuit(Diode(name="d", anode="x", cathode="battery.positive"), LAMP_AT_X)
    assert volts(there, "x") == pytest.approx(volts(there, "battery.positive") - 0.7, abs=0.1)
    assert abs(volts(back, "x")) < 0.01
    assert volts(back, "x", fault="d-short") > 12


LAMP_AT_X = Resistance(name="lamp", a="x", b="battery.negative", ohm=10.0)


def test_a_regulator_holds_until_its_limit() -> None:
    def made(ohm: float) -> float:
        parts = Regulator(name="r", out="x", earth="battery.negative", volt=5.0, ohm=0.4, limit_a=0.06)
        return volts(circuit(parts, Resistance(name="load", a="x", b="battery.negative", ohm=ohm)), "x")

    assert made(500) == pytest.approx(5.0 * 500 / 500.4, rel=1e-4)
    assert made(2) == pytest.approx(0.06 * 2, rel=1e-3)


def test_a_pick_up_gives_volts_with_speed() -> None:
    coil = Generator(
        name="crank", a="x", b="battery.negative", ohm_20c=900, tolerance=0.1, volt_per_rpm=0.005, hz_per_rpm=0.5
    )
    made = circuit(
        coil,
        hz=lambda h: h.rpm * 0.5,
        sees=(Sees(plus="x", minus="battery.negative", share=0.3, alternating=True, state={"engine": "cranking"}),),
    )
    assert volts(made, "x", {"key": "on", "engine": "cranking"}, quantity="ac_voltage") == pytest.approx(1.0, rel=1e-3)
    assert volts(made, "x", {"key": "on", "engine": "idle"}, quantity="frequency") == pytest.approx(750)
    assert volts(made, "x", ON, quantity="frequency") == 0
    assert "crank-weak" in made.faults()


def test_what_toggles_reads_its_mean_on_dc_and_the_rest_on_ac() -> None:
    duty: Callable[[Here], float | None] = lambda h: 0.25 if h.turning else None  # noqa: E731
    driver = Contact(name="driver", a="x", b="battery.negative", closed=lambda h: float(h.phase), ohm=0.001)
    pull = Resistance(name="pull", a="battery.positive", b="x", ohm=1000.0)
    made = circuit(driver, pull, duty=duty, hz=25.0)
    state = {"key": "on", "engine": "idle"}
    top = volts(made, "battery.positive", state)
    assert volts(made, "x", state) == pytest.approx(0.75 * top, rel=1e-3)
    assert volts(made, "x", state, quantity="ac_voltage") == pytest.approx(np.sqrt(0.25 * 0.75) * top, rel=1e-3)
    assert volts(made, "x", state, quantity="frequency") == 25


def test_a_clamp_reads_the_current_of_a_wire() -> None:
    made = circuit(LAMP, FUSE, clamps={"clamp.lamp": "feed"})
    ampere = made.reading(None, "clamp.lamp", None, "current", ON)
    assert ampere == pytest.approx(volts(made, "lamp_sensor.feed") / 10.0, rel=1e-3)
    assert made.watch("feed-intermittent", "clamp.lamp", None, "current", ON, place="the loom") == "moved"


def test_a_leak_draws_what_its_size_says() -> None:
    made = circuit(
        Leak(name="radio", a="battery.positive", b="battery.negative"),
        LAMP,
        FUSE,
        counts=lambda b, g, h: h.grown("radio-draws") > 0.03,
    )
    assert made.size(made.faults()["radio-draws"]) == pytest.approx(0.12, rel=0.02)


def test_a_source_that_is_dead_low_or_high() -> None:
    cell = Source(name="cell", plus="x", minus="battery.negative", volt=0.8, ohm=5e3, drift_span=(0.01, 0.9))
    made = circuit(cell, sees=(Sees(plus="x", minus="battery.negative", volt=0.1),))
    assert volts(made, "x") == pytest.approx(0.8, rel=1e-3)
    assert abs(volts(made, "x", fault="cell-dead")) < 1e-3
    assert volts(made, "x", fault="cell-low") == pytest.approx(0.8 * (1 - 4 * 0.125), rel=0.05)


def test_many_engines_are_solved_as_each_alone() -> None:
    made = CIRCUITS["coolant-temperature"](BASE)
    draws = (NOMINAL, Draw(supply=0.5, thermistor=-0.4), Draw(supply=-1, battery=1))
    sites = tuple(Site(outdoor_c=t) for t in (-20, 15, 50))
    for fault in (None, *made.faults()):
        args = (fault, "coolant_plug.coolant-signal", "battery.negative", "dc_voltage", ON)
        many = made.readings(*args, crowd=Crowd(draws, sites))
        assert list(many) == pytest.approx(
            [made.reading(*args, site=s, draw=d) for s, d in zip(sites, draws, strict=True)], rel=1e-9, abs=1e-9
        )


def test_a_part_keeps_its_place_in_its_tolerance() -> None:
    one, two = Draw(supply=0.2), Draw(supply=0.3)
    assert share_of(one, "coil") == share_of(one, "coil") != share_of(two, "coil")
    spread = [share_of(Draw(supply=i / 500), "coil") for i in range(1, 500)]
    assert -1 <= min(spread) < -0.9 and 0.9 < max(spread) <= 1 and abs(np.mean(spread)) < 0.1


def test_a_wrong_resistance_or_fault_is_refused() -> None:
    with pytest.raises(ValueError, match="must be above 0"):
        Stack("0", 1).resistor("a", "b", 0.0)
    with pytest.raises(ValueError, match="no fault 'nonsense'"):
        volts(circuit(LAMP, FUSE), "box.out", fault="nonsense")
    with pytest.raises(ValueError, match="between two points"):
        volts(circuit(LAMP, FUSE), "box.out", quantity="pressure")
