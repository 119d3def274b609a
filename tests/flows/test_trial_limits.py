"""Windows for many engines are the windows of each; kept by what they rest on and nothing less."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from flows.meter import load_meter
from flows.model import Measure, Step
from flows.site import Site
from flows.source import load_sheet
from flows.trial.limits import Windows
from flows.trial.lots import Engines
from flows.windows import WindowError, compute

SHEET, METER = load_sheet(), load_meter()
SITES = (Site(altitude_m=0, outdoor_c=15), Site(altitude_m=3000, outdoor_c=-10))
EXPECT = {"still_pressure_signal": {"sensor": "pressure", "supply_from": "supply"}}
CRANK = {"cranking_pressure": {"sensor": "pressure", "throttle": "closed", "still": "still", "supply_from": "supply"}}
SAME = {"same_as": {"step": "still", "counts": 2}}


def step(name: str, expect: dict) -> Step:
    on = Measure(quantity="dc_voltage", red="plug.signal", black="plug.ground")
    return Step(name=name, kind="check", say="x", measure=on, expect=expect, outcomes={"in": "x"})


def engines(sites: list[int]) -> Engines:
    n = len(sites)
    return Engines((None,) * n, SITES, np.array(sites), np.zeros(n), np.zeros(n), np.ones(n, dtype=bool))


volts = st.one_of(st.just(np.nan), st.floats(0.5, 5.5).map(lambda v: round(v, 3)))


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 1), volts, volts), min_size=1, max_size=6), st.sampled_from([EXPECT, CRANK, SAME])
)
def test_as_computed_one_by_one(rows: list[tuple[int, float, float]], expect: dict) -> None:
    windows, here = Windows(SHEET, METER), engines([site for site, _, _ in rows])
    readings = {"supply": np.array([r[1] for r in rows]), "still": np.array([r[2] for r in rows])}
    which = np.arange(len(rows))
    for _ in range(2):  # the second time from what was kept
        limits = windows.limits(step("s", expect), readings, here, which)
        for i, (site, supply, still) in enumerate(rows):
            had = {name: v for name, v in (("supply", supply), ("still", still)) if v == v}
            try:
                window = compute(expect, sheet=SHEET, site=SITES[site], meter=METER, readings=had)
            except WindowError:
                assert limits.cannot[i]
                continue
            assert not limits.cannot[i]
            assert (limits.low[i], limits.high[i]) == (window.low, window.high)


def test_a_reading_taken_later_is_not_overlooked() -> None:
    windows, here = Windows(SHEET, METER), engines([0])
    on = step("crank", CRANK)
    first = windows.limits(on, {}, here, np.array([0]))
    later = windows.limits(on, {"still": np.array([4.1])}, here, np.array([0]))
    again = windows.limits(on, {}, here, np.array([0]))
    assert first.low[0] == again.low[0] != later.low[0]


def test_a_missing_bound_is_nan() -> None:
    windows = Windows(SHEET, METER)
    limits = windows.limits(step("leads", {"leads_shorted": {}}), {}, engines([0, 1]), np.array([0, 1]))
    assert np.isnan(limits.low).all() and (limits.high == 0.5).all() and limits.simple
