"""Facts of the trade, each common practice without a source (issue 2): what the functions say about them.

The TH-2 has numbers of its own; these are only put into tests of functions, never into a flow or a sheet.
"""

import pytest

from flows.judging import Reading, judge
from flows.meter import load_meter
from flows.physics.atmosphere import standard_pressure_kpa
from flows.physics.sensors import ratiometric_kpa, ratiometric_v
from flows.sheet import Cranking, Drop, Input
from flows.site import Site
from flows.source import load_sheet
from flows.units import from_base, to_base
from flows.windows import compute

TYPICAL = {"a_per_kpa": 0.009, "b": 0.095}  # a 15 to 115 kPa part, check-values 3.6 (from memory)
PSI = 6.894757  # kPa, check-values 1.1
TH2 = load_sheet("th2")


def kpa_of(volts: float) -> float:
    return ratiometric_kpa(volts, supply_v=5.0, **TYPICAL)


def test_sea_level_is_14_7_psi() -> None:
    """Common practice, no source (14.696 in check-values 1.1)."""
    assert from_base(standard_pressure_kpa(0), "psi", "pressure") == pytest.approx(14.7, abs=0.05)
    assert from_base(Site().pressure_kpa()[1], "psi", "pressure") == pytest.approx(14.7, abs=0.05)


def test_a_healthy_pressure_signal_stays_within_0_6_to_4_8_volts() -> None:
    """Common practice, no source: from strong engine vacuum to the highest weather at sea level, on a typical part."""
    for kpa in range(25, 106):
        assert 0.6 <= ratiometric_v(kpa, supply_v=5.0, **TYPICAL) <= 4.8


def test_the_circuit_is_flagged_outside_what_a_healthy_sensor_gives() -> None:
    """Common practice, no source: low below 0.5 V, high above 4.8 V; generic codes P0107 and P0108 (check-values 7)."""
    entry = Input(
        wire="signal", pull="up", pull_ohm=100e3, pull_to_v=5.0, code_low="P0107", code_high="P0108",
        low_below_v=0.5, high_above_v=4.8, substitute_low=0.0, substitute_high=17.8 * PSI,
    )  # fmt: skip
    for kpa in range(25, 106):
        assert entry.low_below_v < ratiometric_v(kpa, supply_v=5.0, **TYPICAL) < entry.high_above_v
    assert kpa_of(0.5) < 25 and kpa_of(4.8) > 105


def test_supply_at_the_plug_of_4_9_to_5_volts_is_too_narrow_for_ten_millivolt_digits() -> None:
    """Common practice, no source. 2 U of 0.5 percent and 2 counts is 0.105 V (check-values 6.2), the window 0.1 V."""
    hand, bench = load_meter("hand"), load_meter("bench")
    expect = {"between": {"low": 4.9, "high": 5.0, "source": "common practice"}}
    made = compute(expect, sheet=TH2, site=Site(), meter=hand, readings={})
    judged = judge(Reading("dc_voltage", 4.95), made, hand)
    assert judged.outcome == "doubtful"
    assert judged.sentence.startswith("This meter cannot decide: the window is 100, it needs 104 millivolts.")
    assert judge(Reading("dc_voltage", 4.95), made, bench).outcome == "in"


def test_cranking_draws_three_to_four_psi_and_the_open_throttle_brings_it_almost_back() -> None:
    """Common practice, no source: closed 3 to 4 psi below still at sea level, open almost back."""
    drops = {"closed": Drop(low=3 * PSI, high=4 * PSI), "open": Drop(low=0.0, high=0.5 * PSI)}
    sheet = TH2.model_copy(
        update={
            "cranking": Cranking(max_s=5, rest_s=30, tries=3, drop_kpa=drops),
            "sensors": {"pressure": TH2.sensors["pressure"].model_copy(update=TYPICAL)},
        }
    )
    still = ratiometric_v(101.325, supply_v=5.0, **TYPICAL)

    def at(throttle: str, still_v: float, site: Site | None = None) -> tuple[float, float]:
        expect = {
            "cranking_pressure": {"sensor": "pressure", "throttle": throttle, "still": "still", "supply_from": "s"}
        }
        made = compute(
            expect, sheet=sheet, site=site or Site(), meter=load_meter(), readings={"still": still_v, "s": 5.0}
        )
        assert made.low is not None and made.high is not None
        return made.low, made.high

    low, high = at("closed", still)
    for psi in (3, 3.5, 4):
        assert low < ratiometric_v(101.325 - psi * PSI, supply_v=5.0, **TYPICAL) < high
    assert high < still - 0.5 and kpa_of(low) > 101.325 - 4.5 * PSI  # a sensor stuck at the still value fails
    low, high = at("open", still)
    assert low < still < high and kpa_of(low) > 101.325 - PSI
    high_up = Site(altitude_m=3000, outdoor_c=-4.5)  # 70.109 kPa, check-values 1.1
    low, high = at("closed", ratiometric_v(70.109, supply_v=5.0, **TYPICAL), high_up)
    fixed = ratiometric_v(70.109 - 4 * PSI, supply_v=5.0, **TYPICAL)
    assert fixed < low  # a fixed drop in psi would be wrong up there


def test_a_failed_circuit_is_replaced_by_a_number_no_place_has() -> None:
    """Common practice, no source: failed low shows 0, failed high 17.8 psi; neither is an outside pressure."""
    entry = TH2.control_unit.inputs["pressure"].model_copy(
        update={"substitute_low": 0.0, "substitute_high": to_base(17.8, "psi", "pressure")}
    )
    sheet = TH2.model_copy(update={"control_unit": TH2.control_unit.model_copy(update={"inputs": {"pressure": entry}})})
    for failed, shown in (("low", 0.0), ("high", 122.7)):
        expect = {"substituted": {"sensor": "pressure", "failed": failed}}
        made = compute(expect, sheet=sheet, site=Site(), meter=load_meter(), readings={})
        assert judge(Reading("pressure", shown), made, load_meter()).outcome == "in"
        for altitude in (-300, 0, 1500, 4500):
            low, _, high, _ = Site(altitude_m=altitude).pressure_kpa()
            assert not low <= shown <= high
