"""Numbers on the page: in the unit a person would use, with a real minus sign and as many digits as were called."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any

SYMBOLS = {
    "ohm": "Ω",
    "kohm": "kΩ",
    "Mohm": "MΩ",
    "degC": "°C",
    "degF": "°F",
    "percent": "%",
}
SMALLER = {"V": "mV", "A": "mA"}
LARGER = {"ohm": (("Mohm", 1e6), ("kohm", 1e3)), "Hz": (("kHz", 1e3),)}
MINUS = "\u2212"
THIN = "\u202f"  # narrow space that does not break, between number and unit


def symbol(unit: str) -> str:
    """How a unit is written: ohm as its sign."""
    return SYMBOLS.get(unit, unit)


def scale_for(largest: float, unit: str) -> tuple[str, float]:
    """Unit to show numbers up to this size in, and what to multiply by."""
    if unit in SMALLER and 0 < abs(largest) < 0.9995:
        return SMALLER[unit], 1e3
    for larger, size in LARGER.get(unit, ()):
        if abs(largest) >= size:
            return larger, 1 / size
    return unit, 1.0


def number(value: float, decimals: int) -> str:
    """The bare number; never minus nothing.

    >>> number(-0.0004, 3), number(-0.02, 2)
    ('0.000', '−0.02')
    """
    text = f"{value:.{max(0, decimals)}f}"
    if float(text) == 0:
        text = text.lstrip("-")
    return text.replace("-", MINUS)


def decimals_in(value: float, *, most: int = 6) -> int:
    """Digits after the point that this number needs.

    >>> decimals_in(4.96), decimals_in(12.0), decimals_in(0.1 + 0.2)
    (2, 0, 1)
    """
    text = f"{value:.{most}f}".rstrip("0")
    return len(text.partition(".")[2])


def decimals_shown(value: float, called: int | None, factor: float) -> int:
    """Digits to show a called-out value with: those it needs and those that were said, in the unit shown."""
    needed = decimals_in(value * factor)
    if called is None:
        return needed
    said = called if factor == 1.0 else max(0, called - round(_log10(factor)))
    return min(6, max(needed, said))


def _log10(factor: float) -> int:
    return {1e3: 3, 1e-3: -3, 1e-6: -6}.get(factor, 0)


def figure(value: Any, unit: str, *, decimals: int | None = None, scale: tuple[str, float] | None = None) -> str:
    """A value with its unit, in the unit a person would use or the one given.

    >>> figure(0.031, "V"), figure(2252, "ohm"), figure(4.9, "V", decimals=2)
    ('31\u202fmV', '2.252\u202fkΩ', '4.90\u202fV')
    """
    if not isinstance(value, int | float):
        return "none"
    shown, factor = scale or scale_for(value, unit)
    return f"{number(value * factor, decimals_shown(value, decimals, factor))}{THIN}{symbol(shown)}"


def common_scale(numbers: Iterable[Any], unit: str) -> tuple[str, float] | None:
    """One unit for a reading and its limits where small ones get small units; None where each keeps its own.

    >>> common_scale((-0.02, 3.97, None), "V"), common_scale((0.031, 0.05), "V"), common_scale((0.2, 1e6), "ohm")
    (('V', 1.0), ('mV', 1000.0), None)
    """
    sizes = [abs(each) for each in numbers if isinstance(each, int | float)]
    return scale_for(max(sizes, default=1.0), unit) if unit in SMALLER else None


def percent(share: Any) -> str:
    """A confidence as whole percent."""
    return f"{share * 100:.0f}{THIN}%" if isinstance(share, int | float) else ""


def moment(text: Any) -> datetime | None:
    """A time of the journal."""
    try:
        return datetime.fromisoformat(str(text))
    except ValueError:
        return None


def clock(text: Any) -> str:
    """Time of day, to the second."""
    when = moment(text)
    return f"{when:%H:%M:%S}" if when else ""


def day(text: Any) -> str:
    """Date and time in words that need no table."""
    when = moment(text)
    return f"{when.day} {when:%B %Y, %H:%M} UTC" if when else ""


def lasting(seconds: float) -> str:
    """A length of time.

    >>> lasting(8.4), lasting(125), lasting(3720)
    ('8 s', '2 min 5 s', '1 h 2 min')
    """
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min {whole % 60} s"
    return f"{whole // 3600} h {whole % 3600 // 60} min"
