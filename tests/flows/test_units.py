"""Units in and out, and how a value is said."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pint import UnitRegistry

from flows.units import QUANTITIES, UnitMismatch, figure, from_base, spoken_unit, to_base, unit_names


@pytest.mark.parametrize(
    ("value", "unit", "quantity", "base"),
    [
        (350, "mV", "dc_voltage", 0.350),
        (4.98, None, "dc_voltage", 4.98),
        (2.2, "kohm", "resistance", 2200),
        (1.5, "Mohm", "resistance", 1.5e6),
        (50, "mA", "current", 0.05),
        (14.7, "psi", "pressure", 101.3529),  # 1 psi is 6894.757 Pa, check-values 1.1
        (29.921, "inHg", "pressure", 101.3241),  # 1 inHg is 3386.389 Pa, check-values 1.1
        (1.01325, "bar", "pressure", 101.325),
        (212, "degF", "temperature", 100),
        (-40, "degF", "temperature", -40),
        (1.2, "kHz", "frequency", 1200),
        (12, "percent", "ratio", 12),
        (800, "rpm", "engine_speed", 800),
    ],
)
def test_to_base(value: float, unit: str | None, quantity: str, base: float) -> None:
    assert to_base(value, unit, quantity) == pytest.approx(base, rel=1e-6)


U = UnitRegistry()
NAMES = {"ohm": "ohm", "kohm": "kiloohm", "Mohm": "megaohm", "inHg": "inch_Hg", "percent": "percent"}


@pytest.mark.parametrize(
    ("quantity", "unit"), [(q, u) for q in sorted(QUANTITIES) for u in unit_names(q)], ids=lambda x: x
)
@given(value=st.floats(-1e4, 1e4))
def test_every_unit_against_pint(quantity: str, unit: str, value: float) -> None:
    base = QUANTITIES[quantity].base
    theirs = U.Quantity(value, NAMES.get(unit, unit)).to(NAMES.get(base, base)).magnitude
    assert to_base(value, unit, quantity) == pytest.approx(theirs, rel=1e-6, abs=1e-6)


def test_millivolts_land_on_the_same_number_as_volts() -> None:
    for millivolts in range(0, 5000, 7):
        assert to_base(millivolts, "mV", "dc_voltage") == float(f"{millivolts / 1000:.3f}")


def test_a_unit_of_another_quantity_is_refused_with_a_sentence_to_say() -> None:
    with pytest.raises(UnitMismatch) as caught:
        to_base(4.2, "ohm", "dc_voltage")
    assert str(caught.value) == "I heard ohms. This step wants volts. Call the volts."
    assert (caught.value.unit, caught.value.quantity) == ("ohm", "dc_voltage")


def test_unknown_names_are_listed() -> None:
    with pytest.raises(ValueError, match="dc_voltage"):
        to_base(1, "V", "volts")
    with pytest.raises(ValueError, match="dc_voltage"):
        unit_names("volts")
    with pytest.raises(UnitMismatch):
        from_base(1, "V", "pressure")


@pytest.mark.parametrize(
    ("value", "unit", "decimals", "words"),
    [
        (4.9, "V", 2, "4.90 volts"),
        (-0.02, "V", 3, "minus 20 millivolts"),
        (0.0, "V", 3, "0 millivolts"),
        (-0.00004, "V", 3, "0 millivolts"),
        (1.0, "V", 0, "1 volt"),
        (0.05, "A", 3, "50 milliamps"),
        (180_000, "ohm", 0, "180.000 kilohms"),
        (98.5, "kPa", 1, "98.5 kilopascals"),
        (1, "degC", 0, "1 degree"),
        (3, "hPa", 0, "3 hectopascals"),
        (800, "rpm", 0, "800 r p m"),
        (1, "rpm", 0, "1 r p m"),
    ],
)
def test_figures_with_words(value: float, unit: str, decimals: int, words: str) -> None:
    assert figure(value, unit, decimals=decimals) == words


@given(st.sampled_from(sorted(QUANTITIES)), st.floats(-1e6, 1e6), st.data())
def test_there_and_back(quantity: str, value: float, data: st.DataObject) -> None:
    unit = data.draw(st.sampled_from(unit_names(quantity)))
    assert from_base(to_base(value, unit, quantity), unit, quantity) == pytest.approx(value, rel=1e-9, abs=1e-9)


@given(st.floats(-1e7, 1e7), st.sampled_from(["V", "A", "ohm", "Hz", "kPa", "degC"]), st.integers(0, 4), st.booleans())
def test_nothing_unspeakable_is_said(value: float, unit: str, decimals: int, trim: bool) -> None:
    words = figure(value, unit, decimals=decimals, trim=trim)
    assert not set(words) & set("-+±%Ω°µ/"), words
    assert words.split()[-1].rstrip("s") in spoken_unit(unit) or words.split()[-1].startswith(("milli", "kilo", "meg"))
