"""Windows: each limit by hand or from a published table, each sentence short enough to say."""

import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from flows.judging import Reading, judge
from flows.meter import load_meter
from flows.sheet import ControlUnit, Cranking, Drop, Input, Jumper, Limits
from flows.site import Site
from flows.source import load_sheet
from flows.windows import STEP_ARGUMENTS, WINDOWS, Window, WindowError, arguments, compute
from flows.windows.__main__ import lines

BENCH = load_meter("bench")
SHEET = load_sheet("th2")
INPUT = {"low_below_v": 0.3, "high_above_v": 4.8}
# The shape of the TH-2 with the numbers the checks by hand below use, so that the sheet may change and they may not.
TH2 = SHEET.model_copy(
    update={
        "supply": SHEET.supply.model_copy(update={"nominal_v": 5.0, "tolerance": 0.02}),
        "sensors": {
            **SHEET.sensors,
            "pressure": SHEET.sensors["pressure"].model_copy(
                update={"a_per_kpa": 0.0086, "b": 0.052, "tolerance_kpa": 1.8, "cold_factor": 1.6, "supply_ma": 7.0}
            ),
            "temperature": SHEET.sensors["temperature"].model_copy(update={"tolerance_k": 1.5}),
        },
        "control_unit": ControlUnit(
            inputs={
                **SHEET.control_unit.inputs,
                "pressure": Input(wire="signal", pull="up", pull_ohm=180e3, pull_to_v=5, code_low="P0107",
                                  code_high="P0108", substitute_low=3, substitute_high=119, **INPUT),
                "temperature": Input(wire="temperature", pull="up", pull_ohm=3300, pull_to_v=5, code_low="P0112",
                                     code_high="P0113", substitute_low=131, substitute_high=-44, **INPUT),
            }
        ),
        "wires": {n: w.model_copy(update={"area_mm2": 0.5, "length_m": 1.6}) for n, w in SHEET.wires.items()},
        "battery": SHEET.battery.model_copy(update={"chemistry": "flooded", "capacity_ah": 28.0}),
        "limits": Limits(sensor_ground_v=0.05, power_ground_v=0.1),
        "cranking": Cranking(max_s=5, rest_s=30, tries=3,
                             drop_kpa={"closed": Drop(low=17, high=31), "open": Drop(low=0, high=6)}),
        "jumpers": {
            **SHEET.jumpers,
            "signal-ground": Jumper(ohm=10e3, spoken="x", between=("plug.signal", "plug.ground")),
            "supply-signal": Jumper(ohm=10e3, spoken="x", between=("plug.supply", "plug.signal")),
            "temperature-ground": Jumper(ohm=3300, spoken="x", between=("plug.temperature", "plug.ground")),
        },
        "vacuum_kpa": 30.0,
    }
)  # fmt: skip
READ = {"supply": 5.02, "still": 3.92, "rest": 12.62, "leads": 0.3, "air": 18.0, "warm": 2.1, "rich": 82.0}
PRESSURE = {"sensor": "pressure"}


def window(
    expect: Mapping[str, Any], *, site: Site | None = None, readings: Mapping[str, float] = READ, sheet: Any = TH2
) -> Window:
    return compute(expect, sheet=sheet, site=site or Site(), meter=BENCH, readings=readings)


def th2(**changes: Any) -> Any:
    """TH-2 with parts changed: th2(supply={"tolerance": 0.01})."""
    updated = {name: getattr(TH2, name).model_copy(update=change) for name, change in changes.items()}
    return TH2.model_copy(update=updated)


# Every function at least once, with every way of giving its arguments.
EXAMPLES: list[dict[str, dict[str, Any]]] = [
    {"still_pressure_signal": PRESSURE},
    {"still_pressure_signal": {**PRESSURE, "supply_from": "supply"}},
    {"supply_at_plug": {}},
    {"supply_load_off": {"step": "supply"}},
    {"thermistor_divider": {"sensor": "temperature"}},
    {"thermistor_divider": {"sensor": "temperature", "supply_from": "supply", "temperature": "outdoor"}},
    {"thermistor_divider": {"sensor": "temperature", "temperature": "air"}},
    {"thermistor_divider": {"sensor": "temperature", "temperature": 20.0, "input": "temperature"}},
    {"thermistor_divider": {"sensor": "temperature", "temperature_from": "air"}},
    {"ground_drop": {"limit": "sensor"}},
    {"ground_drop": {"limit": "power"}},
    {"wire_drop": {"wire": "signal"}},
    {"wire_drop": {"wire": "ground"}},
    {"wire_drop": {"wire": "ground", "current": 0.02}},
    {"wire_resistance": {"wire": "signal"}},
    {"wire_resistance": {"wire": "signal", "leads_from": "leads"}},
    {"battery_rest": {}},
    {"battery_key_on": {}},
    {"battery_key_on": {"rest_from": "rest"}},
    {"battery_cranking": {}},
    {"battery_cranking": {"rest_from": "rest"}},
    {"battery_charging": {}},
    {"parasitic_draw": {}},
    {"leads_shorted": {}},
    {"near_zero": {}},
    {"short_to_battery": {}},
    {"short_to_battery": {"rest_from": "rest"}},
    {"open_circuit": {}},
    {"open_circuit": {"at_least_ohm": 1e5}},
    {"same_as": {"step": "rest", "counts": 2}},
    {"vacuum_step": {**PRESSURE, "from": "still", "step_kpa": 30}},
    {"vacuum_step": {**PRESSURE, "still": "still", "supply_from": "supply"}},
    {"cranking_pressure": {**PRESSURE, "throttle": "closed", "still": "still", "supply_from": "supply"}},
    {"cranking_pressure": {**PRESSURE, "throttle": "open", "still": "still"}},
    {"loaded_divider": {"input": "pressure"}},
    {"loaded_divider": {"sensor": "pressure", "jumper": "signal-ground"}},
    {"loaded_divider": {"input": "pressure", "jumper": "supply-signal", "supply_from": "supply"}},
    {"loaded_divider": {"input": "temperature", "resistor_ohm": 1000, "to": "ground"}},
    {"display_agrees": {**PRESSURE, "signal_from": "still", "supply_from": "supply"}},
    {"display_agrees": {"sensor": "temperature", "signal_from": "warm"}},
    {"substituted": {**PRESSURE, "failed": "low"}},
    {"substituted": {"sensor": "temperature", "failed": "high"}},
    {"between": {"low": 1.0, "high": 2.0, "source": "the maker's sheet"}},
    {"between": {"high": 2.0, "source": "the maker's sheet", "unit": "ohm"}},
]
# What a module adds with OFFERS has its examples in a file of its own, so that nobody waits for another.
MORE = Path(__file__).parent / "window_examples"
EXAMPLES += [example for path in sorted(MORE.glob("*.yaml")) for example in yaml.safe_load(path.read_text())]
SITES = [
    Site(altitude_m=240, outdoor_c=18, thermometer_c=18),
    Site(altitude_m=-300, outdoor_c=-20, qnh_hpa=1013),
    Site(altitude_m=4500, outdoor_c=50, thermometer_c=-20, qnh_hpa=1030),
]


def test_every_function_has_an_example() -> None:
    assert {name for example in EXAMPLES for name in example} == set(WINDOWS)


def test_authors_find_each_window_with_what_it_takes() -> None:
    """`python -m flows.windows`: every function once, what must be given marked."""
    assert [line.partition(":")[0] for line in lines()] == sorted(WINDOWS)
    (drop,) = lines("wire_drop")
    assert drop.startswith("wire_drop: {wire*, current}  Drop [V] along a wire")
    assert lines("no such word") == []


@pytest.mark.parametrize("expect", EXAMPLES, ids=lambda e: next(iter(e)))
def test_sentences_can_be_said(expect: dict[str, dict[str, Any]]) -> None:
    for site in SITES:
        made = window(expect, site=site)
        assert made.because.endswith(".") and made.because.count(". ") == 0, made.because
        assert len(made.because.split()) <= 30, made.because
        assert not set(made.because) & set("-+±%Ω°µ/()<>=_"), made.because
        assert made.low is not None or made.high is not None
        if made.nominal is not None:
            assert (made.low is None or made.low <= made.nominal) and (made.high is None or made.nominal <= made.high)


@pytest.mark.parametrize("expect", EXAMPLES, ids=lambda e: next(iter(e)))
def test_arguments_are_described(expect: dict[str, dict[str, Any]]) -> None:
    ((name, given),) = expect.items()
    known = arguments(name)
    assert set(given) <= set(known)
    for key, needed in known.items():
        if needed:
            assert key in given
            missing = {name: {k: v for k, v in given.items() if k != key}}
            with pytest.raises(WindowError, match=key):
                window(missing)


def test_still_signal_by_hand() -> None:
    """V = Vs (a p - b), TH-2: a 0.0086, b 0.052, tolerance 1.8 kPa; ISO 2533 at sea level 101.325 kPa, 3 for weather.

    Low 4.9 (0.0086 (101.325 - 4.8) - 0.052), high 5.1 (0.0086 (101.325 + 4.8) - 0.052): by hand 3.8128 and 4.3894 V.
    """
    made = window({"still_pressure_signal": PRESSURE})
    assert (made.low, made.high) == (pytest.approx(3.8128, abs=1e-4), pytest.approx(4.3894, abs=1e-4))
    assert made.nominal == pytest.approx(5 * (0.0086 * 101.325 - 0.052))


def test_still_signal_rides_on_the_measured_supply() -> None:
    """Only the meter's two counts of 1 mV remain of its error, since the same meter reads both."""
    made = window({"still_pressure_signal": {**PRESSURE, "supply_from": "supply"}}, readings={"supply": 5.02})
    assert made.low == pytest.approx(5.018 * (0.0086 * 96.525 - 0.052))
    assert made.high == pytest.approx(5.022 * (0.0086 * 106.125 - 0.052))
    assert "on the measured supply" in made.because
    unread = window({"still_pressure_signal": {**PRESSURE, "supply_from": "supply"}}, readings={})
    assert unread == window({"still_pressure_signal": PRESSURE})


def test_still_signal_is_wider_when_cold_or_hot_and_tighter_with_a_report() -> None:
    def width(site: Site) -> float:
        made = window({"still_pressure_signal": {**PRESSURE, "supply_from": "supply"}}, site=site)
        assert made.high is not None and made.low is not None
        return made.high - made.low

    mild = width(Site(outdoor_c=15))
    assert width(Site(outdoor_c=-10)) > mild
    assert width(Site(outdoor_c=15, qnh_hpa=1013.25)) < mild


def test_the_sentence_of_the_brief() -> None:
    made = window({"still_pressure_signal": {**PRESSURE, "supply_from": "supply"}}, site=Site(altitude_m=240))
    assert made.because == (
        "Outside pressure at 240 metres is 98.5 kilopascals, give or take 3 for weather, "
        "so the sensor gives 3.78 to 4.2 volts on the measured supply."
    )


def test_supply_window_is_the_control_unit_s_tolerance() -> None:
    made = window({"supply_at_plug": {}})
    assert (made.low, made.high, made.nominal) == (pytest.approx(4.9), pytest.approx(5.1), 5.0)
    assert window({"supply_at_plug": {}}, sheet=th2(supply={"tolerance": 0.01})).low == pytest.approx(4.95)


def test_thermistor_divider_holds_the_table_value() -> None:
    """check-values 3.3: 2.252 kohm type, 2490 ohm to 5.000 V at 20 degC: 2.653 V, slope -56.3 mV/K."""
    curve = {"a": 1.461118182e-03, "b": 2.396808445e-04, "c": 9.256323184e-08}
    sensor = TH2.sensors["temperature"]
    generic = sensor.model_copy(update={"steinhart_hart": sensor.steinhart_hart.model_copy(update=curve)})
    entry = TH2.control_unit.inputs["temperature"].model_copy(update={"pull_ohm": 2490.0})
    sheet = TH2.model_copy(
        update={
            "sensors": {**TH2.sensors, "temperature": generic},
            "control_unit": TH2.control_unit.model_copy(update={"inputs": {"temperature": entry}}),
        }
    )
    made = window({"thermistor_divider": {"sensor": "temperature", "temperature": 20.0}}, sheet=sheet)
    assert made.nominal == pytest.approx(2.653, abs=0.003)
    assert made.low is not None and made.high is not None
    # 5 K and 1.5 K of tolerance, at least; the supply's and the resistor's tolerance on top
    assert made.low < 2.653 - 6.5 * 0.0563 * 0.9 and made.high > 2.653 + 6.5 * 0.0563 * 0.9
    assert made.low > 1.9 and made.high < 3.4


def test_thermistor_to_the_supply_with_a_pull_down_falls_the_other_way() -> None:
    entry = TH2.control_unit.inputs["temperature"].model_copy(update={"pull": "down"})
    sheet = TH2.model_copy(
        update={"control_unit": TH2.control_unit.model_copy(update={"inputs": {"temperature": entry}})}
    )
    up, down = (
        [
            window({"thermistor_divider": {"sensor": "temperature", "temperature": t}}, sheet=s).nominal
            for t in (0.0, 40.0)
        ]
        for s in (TH2, sheet)
    )
    assert up[0] > up[1] and down[0] < down[1]


def test_thermistor_says_which_temperature_it_misses() -> None:
    with pytest.raises(WindowError, match="thermometer's temperature") as caught:
        window({"thermistor_divider": {"sensor": "temperature", "temperature": "thermometer"}})
    assert caught.value.reading is None
    with pytest.raises(WindowError) as missing:
        window({"thermistor_divider": {"sensor": "temperature", "temperature_from": "no-step"}})
    assert missing.value.reading == "no-step"


def test_grounds_are_held_to_fifty_and_a_hundred_millivolts_either_way() -> None:
    """Issue 3: sensor grounds 50 mV, power grounds 100 mV."""
    assert window({"ground_drop": {"limit": "sensor"}}).high == 0.05
    assert window({"ground_drop": {"limit": "power"}}).low == -0.1
    with pytest.raises(WindowError, match="sensor or power"):
        window({"ground_drop": {"limit": "chassis"}})


def test_a_pin_at_nothing_or_at_the_battery() -> None:
    assert (window({"near_zero": {}}).low, window({"near_zero": {}}).high) == (-0.05, 0.05)
    joined, on = (window({name: {"rest_from": "rest"}}) for name in ("short_to_battery", "battery_key_on"))
    assert (joined.low, joined.high) == (on.low, on.high) and joined.because != on.because


def test_wire_drop_by_hand() -> None:
    """0.5 mm2 is 37.1 mohm/m (ISO 6722-1), 1.2358 at 80 degC, 1.6 m, two contacts of 10 mohm: 0.09336 ohm; 20 mA: 1.87 mV.

    On top: 1 mV of stray voltage and twice the meter's U on 0.1 mV digits (by hand 0.24 mV each).
    """
    made = window({"wire_drop": {"wire": "ground", "current": 0.02}})
    assert made.nominal == pytest.approx(0.001867, abs=2e-6)
    assert made.high == pytest.approx(0.001867 + 0.001 + 2 * 0.000244, abs=2e-6)
    assert made.low == pytest.approx(-made.high)


def test_wire_drop_follows_length_area_current_and_sheet() -> None:
    small = window({"wire_drop": {"wire": "signal"}}).nominal
    big = window({"wire_drop": {"wire": "supply"}}).nominal
    assert small is not None and big is not None and 0 < small < big < 0.002
    amps = {0.01: 0.0, 0.02: 0.0}
    for current in amps:
        amps[current] = window({"wire_drop": {"wire": "supply", "current": current}}).nominal or math.nan
    assert amps[0.02] == pytest.approx(2 * amps[0.01])


def test_wire_resistance_takes_the_leads_as_read() -> None:
    with_leads = window({"wire_resistance": {"wire": "signal", "leads_from": "leads"}})
    without = window({"wire_resistance": {"wire": "signal"}})
    assert with_leads.high is not None and without.high is not None
    assert without.high - with_leads.high == pytest.approx(0.2, abs=0.01)  # 0.5 at most against 0.3 as read
    assert with_leads.low is None


def test_battery_windows() -> None:
    """Bands are common practice, no source; the cranking floor falls with cold (check-values 4)."""
    rest = window({"battery_rest": {}})
    assert rest.low is not None and rest.high is not None and rest.low < 12.65 < rest.high
    lithium = window({"battery_rest": {}}, sheet=th2(battery={"chemistry": "lifepo4"}))
    assert lithium.low is not None and lithium.low > 12.65
    on = window({"battery_key_on": {"rest_from": "rest"}})
    assert on.low == pytest.approx(12.12) and on.high is not None and on.high > 12.62
    for degrees, floor in ((21, 9.6), (10, 9.4), (-1, 9.1), (-18, 8.5)):
        assert window({"battery_cranking": {}}, site=Site(outdoor_c=degrees)).low == pytest.approx(floor)
    assert window({"battery_cranking": {}}).high is None
    assert window({"battery_cranking": {"rest_from": "rest"}}).high == pytest.approx(12.42)


def test_leads_and_sameness_are_limits_on_the_display() -> None:
    assert window({"leads_shorted": {}}).simple and window({"leads_shorted": {}}).high == 0.5
    same = window({"same_as": {"step": "rest", "counts": 2}})
    assert same.simple and (same.low, same.high) == (pytest.approx(12.60), pytest.approx(12.64))  # 10 mV digits


def test_vacuum_step_by_hand() -> None:
    """30 kPa on 5.02 V with 0.0086 a kPa is 1.295 V; 2 kPa for the gauge and 1.8 for the sensor are 0.164 V."""
    made = window({"vacuum_step": {**PRESSURE, "from": "still", "step_kpa": 30, "supply_from": "supply"}})
    assert made.nominal == pytest.approx(3.92 - 1.2952, abs=1e-3)
    assert made.low == pytest.approx(3.92 - 1.2952 - 0.164, abs=4e-3)
    assert made.high == pytest.approx(3.92 - 1.2952 + 0.164, abs=4e-3)
    deep = window({"vacuum_step": {**PRESSURE, "from": "still", "step_kpa": 200}})
    assert deep.low is not None and deep.low >= 0.1  # the chip's output has a floor
    with pytest.raises(WindowError, match="above 0"):
        window({"vacuum_step": {**PRESSURE, "from": "still", "step_kpa": 0}})
    with pytest.raises(WindowError, match="'from'"):
        window({"vacuum_step": PRESSURE})


def test_cranking_is_scaled_by_the_pressure_outside() -> None:
    """TH-2: 17 to 31 kPa at sea level with the throttle closed; scaled to 69.2 percent at 3000 m (70.109 kPa, ISO 2533)."""
    closed = {"cranking_pressure": {**PRESSURE, "throttle": "closed", "still": "still"}}

    def drop(still_kpa: float, site: Site) -> float:
        volts = 5.0 * (0.0086 * still_kpa - 0.052)
        made = window(closed, readings={"still": volts}, site=site)
        assert made.low is not None and made.high is not None
        return volts - (made.low + made.high) / 2

    sea, high = drop(101.325, Site()), drop(70.109, Site(altitude_m=3000, outdoor_c=-4.5))
    assert sea == pytest.approx(5 * 0.0086 * 24, abs=0.03)
    assert high == pytest.approx(sea * 0.692, abs=0.03)
    opened = window({"cranking_pressure": {**PRESSURE, "throttle": "open", "still": "still"}})
    assert opened.low is not None and opened.high is not None and opened.low < 3.92 < opened.high
    with pytest.raises(WindowError, match="closed, open"):
        window({"cranking_pressure": {**PRESSURE, "throttle": "half", "still": "still"}})
    unread, read = window(closed, readings={}), window(closed, readings={"still": 4.1})
    assert unread.low is not None and read.low is not None and unread.low < read.low  # wider: the weather is in it
    assert "so the still signal becomes" in unread.because
    for supply_v in (-0.01, 0.0, 0.4, 12.6):  # whatever a fault does to the supply, there is a window
        made = window(
            {"cranking_pressure": {**PRESSURE, "throttle": "open", "still": "still", "supply_from": "odd"}},
            readings={"still": 0.0, "odd": supply_v},
        )
        assert made.low is not None and made.high is not None and made.low <= made.high


def test_loaded_divider_by_hand() -> None:
    """180 kohm up to 5 V, 10 kohm and a 10 Mohm meter to ground: 5 (9990) / (9990 + 180000) is 0.2629 V; unloaded 4.912."""
    loaded = window({"loaded_divider": {"input": "pressure", "jumper": "signal-ground"}})
    assert loaded.low is not None and loaded.high is not None and loaded.low < 0.2629 < loaded.high
    assert loaded.high < 0.30 and loaded.low > 0.22
    bare = window({"loaded_divider": {"input": "pressure"}})
    assert bare.nominal == pytest.approx(5 * 10e6 / 10.18e6, abs=0.002)
    same = window({"loaded_divider": {"input": "pressure", "resistor_ohm": 10_000, "to": "ground"}})
    assert (same.low, same.high) == (loaded.low, loaded.high)
    for wrong, word in (
        ({"input": "pressure", "jumper": "none-such"}, "no jumper"),
        ({"input": "pressure", "jumper": "temperature-ground"}, "does not touch"),
        ({"input": "pressure", "resistor_ohm": 10}, "together"),
        ({"input": "pressure", "resistor_ohm": 10, "to": "sky"}, "supply or ground"),
        ({"input": "speed"}, "no control unit input"),
        ({}, "needs 'input'"),
    ):
        with pytest.raises(WindowError, match=word):
            window({"loaded_divider": wrong})


def test_display_agrees_with_the_plug() -> None:
    """At 3.92 V on 5.02 V: (3.92 / 5.02 + 0.052) / 0.0086 is 96.85 kPa by hand."""
    made = window({"display_agrees": {**PRESSURE, "signal_from": "still", "supply_from": "supply"}})
    assert made.unit == "kPa" and made.low is not None and made.high is not None and made.low < 96.85 < made.high
    assert made.high - made.low < 5
    warm = window({"display_agrees": {"sensor": "temperature", "signal_from": "warm"}})
    assert (
        warm.unit == "degC" and warm.low is not None and warm.high is not None and warm.low < warm.high < warm.low + 10
    )
    with pytest.raises(WindowError, match="find the supply fault first"):
        window({"display_agrees": {**PRESSURE, "signal_from": "still", "supply_from": "dead"}},
               readings={"still": 0.1, "dead": 0.3})  # fmt: skip
    with pytest.raises(WindowError, match="open or shorted"):
        window({"display_agrees": {"sensor": "temperature", "signal_from": "warm"}}, readings={"warm": 5.6})


def test_a_substitute_is_known_to_the_digit() -> None:
    made = window({"substituted": {**PRESSURE, "failed": "high"}})
    substitute = TH2.control_unit.inputs["pressure"].substitute_high
    assert made.simple and made.low is not None and made.high is not None
    assert made.low < substitute < made.high and made.high - made.low == pytest.approx(0.2)
    with pytest.raises(WindowError, match="low or high"):
        window({"substituted": {**PRESSURE, "failed": "both"}})


def test_bare_numbers_need_a_source() -> None:
    with pytest.raises(WindowError, match="source"):
        window({"between": {"low": 1.0}})
    with pytest.raises(WindowError, match="low, high or both"):
        window({"between": {"source": "a book"}})
    with pytest.raises(WindowError, match="no base unit"):
        window({"between": {"low": 1.0, "source": "a book", "unit": "mV"}})
    with pytest.raises(WindowError, match="swap its ends"):
        window({"between": {"low": 2.0, "high": 1.0, "source": "a book"}})


def test_limits_that_stand_on_the_sheet() -> None:
    """th2/throttle-motor.yaml: a plate rests at 9 percent and falls to 1; the unit is the end of the name."""
    found = window({"on_sheet": {"sensor": "plate", "low": "fallen_percent", "high": "rest_percent"}})
    assert (found.low, found.high, found.unit) == (1, 9, "percent")
    assert window({"on_sheet": {"sensor": "charging", "high": "set_v"}}).unit == "V"
    for wrong, word in (
        ({"sensor": "pressure", "low": "x"}, "no part with values"),
        ({"sensor": "plate", "low": "rests_percent"}, "no value 'rests_percent'; it has rest_percent"),
        ({"sensor": "plate"}, "it has rest_percent"),
        ({"sensor": "plate", "low": "duty"}, "no unit"),
        ({"sensor": "plate", "low": "rest_percent", "high": "bias_ohm"}, "two"),
    ):
        with pytest.raises(WindowError, match=word):
            window({"on_sheet": wrong})


def test_engine_speed_is_said_and_held_to_the_sheet() -> None:
    """By hand: 3000 a minute, a fifth either way, on a display that shows tens."""
    sheet = th2(engine={"fast_rpm": 3000.0, "idle_rpm": 800.0, "speed_share": 0.2})
    fast = window({"engine_speed": {}}, sheet=sheet)
    assert (fast.low, fast.high, fast.unit, fast.simple) == (2400, 3600, "rpm", True)
    assert fast.because == "Fast is about 3000 r p m here, so 2400 to 3600 r p m."
    assert window({"engine_speed": {"engine": "idle"}}, sheet=sheet).nominal == 800
    with pytest.raises(WindowError, match="not 'off'"):
        window({"engine_speed": {"engine": "off"}}, sheet=sheet)
    assert judge(Reading("engine_speed", 2400.0), fast, BENCH).outcome == "in"


def test_mistakes_in_an_expectation_are_named() -> None:
    for expect, word in (
        ({"suply_at_plug": {}}, "did you mean 'supply_at_plug'"),
        ({"zzz": {}}, "known:"),
        ({}, "exactly one"),
        ({"supply_at_plug": {"sensor": "x"}}, "no argument 'sensor'"),
        ({"ground_drop": {}}, "needs the argument 'limit'"),
        ({"still_pressure_signal": {"sensor": "no-such-sensor"}}, "no sensor of this machine"),
        ({"still_pressure_signal": {"sensor": "temperature"}}, "needs a ratiometric_pressure"),
        ({"thermistor_divider": {"sensor": "pressure"}}, "needs a thermistor"),
        ({"wire_drop": {"wire": "no-such-wire"}}, "no wire"),
        ({"wire_drop": {"wire": "signal", "current": "much"}}, "cannot be worked out"),
        ({"same_as": {"step": "never"}}, "has not been taken"),
        ({"vacuum_step": {**PRESSURE, "until": "still"}}, "no argument 'until'"),
    ):
        with pytest.raises(WindowError, match=word):
            window(expect)
    assert window({"supply_at_plug": None}).nominal == 5.0  # `supply_at_plug:` with nothing behind it in YAML
    with pytest.raises(WindowError, match="give a number"):
        Window(float("nan"), None, "V", "test")


def test_step_arguments_cover_every_reading_a_window_asks_for() -> None:
    steps = {key for name in WINDOWS for key in arguments(name) if key in STEP_ARGUMENTS}
    assert steps == STEP_ARGUMENTS


@given(st.floats(-300, 4400), st.floats(-20, 50), st.floats(50, 100))
def test_the_still_window_falls_with_height(altitude: float, outdoor: float, more: float) -> None:
    here, above = (
        window({"still_pressure_signal": PRESSURE}, site=Site(altitude_m=h, outdoor_c=outdoor))
        for h in (altitude, altitude + more)
    )
    assert here.low is not None and above.low is not None and above.low < here.low
    assert here.high is not None and above.high is not None and above.high < here.high


@given(st.floats(-300, 4500), st.floats(-20, 50), st.floats(-1, 1), st.floats(-1, 1), st.floats(-1, 1))
def test_a_healthy_sensor_is_inside_its_window(
    altitude: float, outdoor: float, weather: float, sensor: float, supply: float
) -> None:
    site = Site(altitude_m=altitude, outdoor_c=outdoor)
    _, nominal, high, _ = site.pressure_kpa()
    part = TH2.sensors["pressure"]
    kpa = nominal + weather * (high - nominal) + sensor * part.tolerance_at_kpa(outdoor)
    volts = 5 * (1 + 0.02 * supply) * min(part.high_share, max(part.low_share, part.a_per_kpa * kpa - part.b))
    made = window({"still_pressure_signal": PRESSURE}, site=site)
    assert made.low is not None and made.high is not None
    assert made.low - 1e-6 <= volts <= made.high + 1e-6


@given(st.floats(-20, 50), st.floats(-6.5, 6.5), st.floats(-1, 1))
def test_a_healthy_thermistor_is_inside_its_window(degrees: float, off: float, supply: float) -> None:
    from flows.windows.temperature import ohm_at

    made = window({"thermistor_divider": {"sensor": "temperature", "temperature": degrees}})
    entry = TH2.control_unit.inputs["temperature"]
    ohm = ohm_at(TH2.sensors["temperature"], degrees + off)
    ohm = 1 / (1 / ohm + 1 / BENCH.input_ohm)
    volts = 5 * (1 + 0.02 * supply) * ohm / (ohm + entry.pull_ohm)
    assert made.low is not None and made.high is not None and made.low - 1e-6 <= volts <= made.high + 1e-6
