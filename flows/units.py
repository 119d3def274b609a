"""Quantities a step may measure, their units, and how a unit is written and spoken."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from flows.model import FlowError


class UnitMismatch(FlowError, ValueError):  # noqa: N818
    """A value came in a unit of another quantity; the message can be spoken."""

    def __init__(self, unit: str, quantity: str) -> None:
        self.unit = unit
        self.quantity = quantity
        wanted = spoken_unit(QUANTITIES[quantity].base)
        super().__init__(f"I heard {spoken_unit(unit)}. This step wants {wanted}. Call the {wanted}.")


@dataclass(frozen=True)
class Quantity:
    """A measurable quantity: base unit, and for each unit (factor, offset) so that base = value * factor + offset."""

    name: str
    base: str
    units: Mapping[str, tuple[float, float]]


def _quantity(name: str, base: str, **units: tuple[float, float]) -> Quantity:
    return Quantity(name, base, MappingProxyType({base: (1.0, 0.0), **units}))


KPA_PER_PSI = 6.894757293168  # pound-force per square inch, exact from 0.45359237 kg, 9.80665 m/s2, 25.4 mm
KPA_PER_INHG = 3.386389  # conventional inch of mercury at 0 degC

QUANTITIES: Mapping[str, Quantity] = MappingProxyType(
    {
        "dc_voltage": _quantity("dc_voltage", "V", mV=(1e-3, 0.0)),
        "ac_voltage": _quantity("ac_voltage", "V", mV=(1e-3, 0.0)),
        "resistance": _quantity("resistance", "ohm", kohm=(1e3, 0.0), Mohm=(1e6, 0.0)),
        "current": _quantity("current", "A", mA=(1e-3, 0.0)),
        "temperature": _quantity("temperature", "degC", degF=(5 / 9, -160 / 9)),
        "pressure": _quantity("pressure", "kPa", psi=(KPA_PER_PSI, 0.0), bar=(100.0, 0.0), inHg=(KPA_PER_INHG, 0.0)),
        "frequency": _quantity("frequency", "Hz", kHz=(1e3, 0.0)),
        "engine_speed": _quantity("engine_speed", "rpm"),
        "ratio": _quantity("ratio", "percent"),
    }
)

SPOKEN: Mapping[str, str] = MappingProxyType(
    {
        "V": "volts",
        "mV": "millivolts",
        "ohm": "ohms",
        "kohm": "kilohms",
        "Mohm": "megohms",
        "A": "amps",
        "mA": "milliamps",
        "degC": "degrees",
        "degF": "degrees fahrenheit",
        "kPa": "kilopascals",
        "psi": "p s i",
        "bar": "bar",
        "inHg": "inches of mercury",
        "hPa": "hectopascals",
        "Hz": "hertz",
        "kHz": "kilohertz",
        "rpm": "r p m",
        "percent": "percent",
    }
)
_SMALLER = {"V": ("mV", 1e3), "A": ("mA", 1e3)}
_LARGER = {"ohm": (("Mohm", 1e6), ("kohm", 1e3)), "Hz": (("kHz", 1e3),)}


def spoken_unit(unit: str) -> str:
    """The unit as a plural word; a unit nobody knows is returned as it came."""
    return SPOKEN.get(unit, unit)


def unit_names(quantity: str) -> tuple[str, ...]:
    """Units a value of this quantity may come in, the base unit first.

    >>> unit_names("resistance")
    ('ohm', 'kohm', 'Mohm')
    """
    return tuple(_known(quantity).units)


def to_base(value: float, unit: str | None, quantity: str) -> float:
    """Value in the quantity's base unit; no unit means the base unit itself.

    Raises UnitMismatch, with a sentence to say, for a unit of another quantity; ValueError for an unknown quantity.

    >>> to_base(350, "mV", "dc_voltage")
    0.35
    >>> round(to_base(14.7, "psi", "pressure"), 2)
    101.35
    >>> to_base(4.2, "ohm", "dc_voltage")
    Traceback (most recent call last):
    ...
    flows.units.UnitMismatch: I heard ohms. This step wants volts. Call the volts.
    """
    known = _known(quantity)
    if unit is None:
        return value
    if unit not in known.units:
        raise UnitMismatch(unit, quantity)
    factor, offset = known.units[unit]
    if factor == 1e-3:
        return value / 1000.0  # division rounds once, so 350 mV is exactly 0.35 V
    return value * factor + offset


def from_base(value: float, unit: str, quantity: str) -> float:
    """The way back: a base value in another unit of the same quantity.

    >>> round(from_base(101.325, "psi", "pressure"), 3)
    14.696
    """
    known = _known(quantity)
    if unit not in known.units:
        raise UnitMismatch(unit, quantity)
    factor, offset = known.units[unit]
    return (value - offset) / factor


def figure(value: float, unit: str, *, decimals: int = 2, trim: bool = False) -> str:
    """A value in figures with its unit as a word, in the unit a person would use: below one volt it is millivolts.

    decimals: digits after the point in the base unit; fewer in a smaller unit, so the last digit stays.
    trim: drop zeros at the end, so that a limit is short to say.

    >>> figure(0.0312, "V", decimals=3), figure(-0.0312, "V", decimals=4), figure(4.9, "V"), figure(2252, "ohm")
    ('31 millivolts', 'minus 31.2 millivolts', '4.90 volts', '2.252 kilohms')
    """
    if unit in _SMALLER and abs(value) < 0.9995:
        unit, factor = _SMALLER[unit]
        value, decimals = value * factor, max(0, decimals - 3)
    for larger, factor in _LARGER.get(unit, ()):
        if abs(value) >= factor:
            unit, value, decimals = larger, value / factor, max(decimals, 3)
            break
    number = f"{value:.{decimals}f}"
    if trim and "." in number:
        number = number.rstrip("0").rstrip(".")
    if float(number) == 0:
        number = number.lstrip("-")
    return f"{number.replace('-', 'minus ')} {_agree(number, spoken_unit(unit))}"


def _agree(number: str, word: str) -> str:
    one = float(number) == 1 and "." not in number
    return word[:-1] if one and word.endswith("s") and word != "inches of mercury" else word


def _known(quantity: str) -> Quantity:
    if quantity not in QUANTITIES:
        raise ValueError(f"quantity {quantity!r} is unknown; use one of {', '.join(QUANTITIES)}")
    return QUANTITIES[quantity]
