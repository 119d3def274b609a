"""Units as they are said: the phrases for each, how it is spoken back, and conversion inside one quantity."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from speech.ports import SpeechError


class UnitClashError(SpeechError):
    """A value of one quantity where another is wanted."""


@dataclass(frozen=True)
class Unit:
    """base = value * factor + offset.

    wants_point_from: as many digits said one by one, without a point, make its absence doubtful.
    """

    quantity: str
    factor: float
    singular: str
    plural: str
    phrases: tuple[str, ...]
    offset: float = 0.0
    wants_point_from: int = 99


_V, _OHM, _A, _P, _T, _HZ = "voltage", "resistance", "current", "pressure", "temperature", "frequency"
_SPEED = "engine speed"

UNITS: Mapping[str, Unit] = MappingProxyType(
    {
        "V": Unit(_V, 1.0, "volt", "volts", ("volt", "volts"), wants_point_from=2),
        "mV": Unit(_V, 1e-3, "millivolt", "millivolts", ("millivolt", "millivolts", "milli volts")),
        "ohm": Unit(_OHM, 1.0, "ohm", "ohms", ("ohm", "ohms")),
        "kohm": Unit(
            _OHM,
            1e3,
            "kilohm",
            "kilohms",
            ("kilohm", "kilohms", "kilo ohm", "kilo ohms", "k ohm", "k ohms", "k"),
            wants_point_from=2,
        ),
        "Mohm": Unit(
            _OHM,
            1e6,
            "megohm",
            "megohms",
            ("megohm", "megohms", "meg ohms", "mega ohms", "meg", "megs"),
            wants_point_from=2,
        ),
        "A": Unit(_A, 1.0, "amp", "amps", ("amp", "amps", "ampere", "amperes"), wants_point_from=2),
        "mA": Unit(_A, 1e-3, "milliamp", "milliamps", ("milliamp", "milliamps", "milli amps")),
        "kPa": Unit(_P, 1.0, "kilopascal", "kilopascals", ("kilopascal", "kilopascals", "kilo pascals", "k p a")),
        "psi": Unit(_P, 6.894757, "psi", "psi", ("psi", "p s i"), wants_point_from=3),
        "bar": Unit(_P, 100.0, "bar", "bar", ("bar",), wants_point_from=2),
        "inHg": Unit(
            _P,
            3.386389,
            "inch of mercury",
            "inches of mercury",
            ("inch of mercury", "inches of mercury", "inch", "inches"),
            wants_point_from=3,
        ),
        "degC": Unit(
            _T,
            1.0,
            "degree celsius",
            "degrees celsius",
            ("degree celsius", "degrees celsius", "degrees centigrade", "degrees c", "celsius", "degree", "degrees"),
        ),
        "degF": Unit(
            _T,
            5 / 9,
            "degree fahrenheit",
            "degrees fahrenheit",
            ("degree fahrenheit", "degrees fahrenheit", "degrees f", "fahrenheit"),
            offset=-160 / 9,
        ),
        "Hz": Unit(_HZ, 1.0, "hertz", "hertz", ("hertz",)),
        "kHz": Unit(_HZ, 1e3, "kilohertz", "kilohertz", ("kilohertz",), wants_point_from=2),
        "rpm": Unit(_SPEED, 1.0, "rpm", "rpm", ("rpm", "r p m")),
        "percent": Unit("ratio", 1.0, "percent", "percent", ("percent",)),
    }
)
"""The unit names of the whole program; pressure is based on kPa, as the flows are."""

PHRASES: Mapping[tuple[str, ...], str] = MappingProxyType(
    {tuple(phrase.split()): name for name, unit in UNITS.items() for phrase in unit.phrases}
)

BARE_DEGREES = (("degree",), ("degrees",))
"""Said without a scale: taken for the scale that was asked for."""


def unit_words(unit: str, *, one: bool = False) -> str:
    """The unit as it is spoken after a value.

    >>> unit_words("kPa"), unit_words("V", one=True)
    ('kilopascals', 'volt')
    """
    return UNITS[unit].singular if one else UNITS[unit].plural


def convert(value: float, unit: str, to_unit: str) -> float:
    """The value in another unit of the same quantity. Raises UnitClashError when it is another quantity.

    >>> convert(350, "mV", "V")
    0.35
    """
    had, wanted = UNITS[unit], UNITS[to_unit]
    if had.quantity != wanted.quantity:
        raise UnitClashError(f"I heard {had.plural}, and this is read in {wanted.plural}. Call it in {wanted.plural}.")
    if unit == to_unit:
        return value
    base = value * had.factor + had.offset
    return float(f"{(base - wanted.offset) / wanted.factor:.12g}")
