"""A healthy engine, anywhere and with any meter within its specification, is never judged low or high by any window."""

import random

import pytest

from flows.circuits import CIRCUITS
from flows.judging import Reading, judge
from flows.meter import load_meter
from flows.network.faults import Draw
from flows.site import Site
from flows.source import load_sheet
from flows.windows import compute

ON = {"key": "on"}
OUT = {"key": "on", "plug": "out"}
CRANKING = {"key": "on", "engine": "cranking"}
STILL = {"sensor": "pressure", "still": "still", "supply_from": "supply"}
# step, red, black, quantity, state, expectation; later ones rest on earlier ones
CHECKS = [
    ("rest", "battery.positive", "battery.negative", "dc_voltage", {}, {"battery_rest": {}}),
    ("key-on", "battery.positive", "battery.negative", "dc_voltage", ON, {"battery_key_on": {"rest_from": "rest"}}),
    ("crank", "battery.positive", "battery.negative", "dc_voltage", CRANKING, {"battery_cranking": {"rest_from": "rest"}}),
    ("supply", "plug.supply", "plug.ground", "dc_voltage", ON, {"supply_at_plug": {}}),
    ("supply-to-battery", "plug.supply", "battery.negative", "dc_voltage", ON, {"supply_at_plug": {}}),
    ("ground", "plug.ground", "battery.negative", "dc_voltage", ON, {"ground_drop": {"limit": "sensor"}}),
    ("block", "engine.block", "battery.negative", "dc_voltage", ON, {"ground_drop": {"limit": "power"}}),
    ("still", "plug.signal", "plug.ground", "dc_voltage", ON,
     {"still_pressure_signal": {"sensor": "pressure", "supply_from": "supply"}}),
    ("air", "plug.temperature", "plug.ground", "dc_voltage", ON, {"thermistor_divider": {"sensor": "temperature"}}),
    ("along-signal", "unit.signal", "plug.signal", "dc_voltage", ON, {"wire_drop": {"wire": "signal"}}),
    ("along-supply", "unit.supply", "plug.supply", "dc_voltage", ON, {"wire_drop": {"wire": "supply"}}),
    ("along-ground", "plug.ground", "unit.ground", "dc_voltage", ON, {"wire_drop": {"wire": "ground"}}),
    ("vacuum", "plug.signal", "plug.ground", "dc_voltage", {**ON, "vacuum": "on"}, {"vacuum_step": STILL}),
    ("closed", "plug.signal", "plug.ground", "dc_voltage", CRANKING, {"cranking_pressure": {**STILL, "throttle": "closed"}}),
    ("open", "plug.signal", "plug.ground", "dc_voltage", {**CRANKING, "throttle": "open"},
     {"cranking_pressure": {**STILL, "throttle": "open"}}),
    ("unplugged", "plug.signal", "battery.negative", "dc_voltage", OUT, {"loaded_divider": {"input": "pressure"}}),
    ("loaded", "plug.signal", "plug.ground", "dc_voltage", {**OUT, "jumper": "signal-ground"},
     {"loaded_divider": {"input": "pressure", "jumper": "signal-ground"}}),
    ("fed", "plug.signal", "plug.ground", "dc_voltage", {**OUT, "jumper": "supply-signal"},
     {"loaded_divider": {"input": "pressure", "jumper": "supply-signal", "supply_from": "supply"}}),
    ("shown", "display.pressure", None, "pressure", ON,
     {"display_agrees": {"sensor": "pressure", "signal_from": "still", "supply_from": "supply"}}),
    ("shown-air", "display.temperature", None, "temperature", ON,
     {"display_agrees": {"sensor": "temperature", "signal_from": "air"}}),
]  # fmt: skip


@pytest.mark.parametrize("meter_name", ["bench", "hand"])
def test_a_healthy_engine_is_never_condemned(meter_name: str) -> None:
    sheet, meter, chance = load_sheet("th2"), load_meter(meter_name), random.Random(2)
    circuit = CIRCUITS["manifold-pressure"](sheet)
    for _ in range(25):
        degrees = chance.uniform(-20, 50)
        site = Site(altitude_m=chance.uniform(-300, 4500), outdoor_c=degrees, thermometer_c=degrees)
        parts = ("supply", "pressure", "thermistor", "battery", "weather", "suction")
        draw = Draw(**{name: chance.uniform(-1, 1) for name in parts})
        gain, offset = chance.uniform(-1, 1), chance.uniform(-1, 1)
        readings: dict[str, float] = {}
        for step, red, black, quantity, state, expect in CHECKS:
            true = circuit.reading(None, red, black, quantity, state, site=site, meter_ohm=meter.input_ohm, draw=draw)
            shown = meter.shows(quantity, true, gain=gain, offset=offset)
            window = compute(expect, sheet=sheet, site=site, meter=meter, readings=readings)
            outcome = judge(Reading(quantity, shown), window, meter).outcome
            assert outcome in ("in", "doubtful"), (step, shown, window, site, draw)
            readings[step] = shown
