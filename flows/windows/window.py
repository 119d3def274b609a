"""A window: the readings that pass, in base units, and one sentence saying where they come from."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from flows.meter import Meter
from flows.model import FlowError
from flows.sensors import RatiometricPressure, Thermistor
from flows.sheet import Input, MachineSheet, Wire
from flows.site import Site
from flows.units import figure


class WindowError(FlowError):
    """A window cannot be computed; the message says what is missing. `reading` names a step that must be read first."""

    def __init__(self, message: str, *, reading: str | None = None) -> None:
        self.reading = reading
        super().__init__(message)


@dataclass(frozen=True)
class Window:
    """Readings that pass, both ends included; None is no limit on that side."""

    low: float | None
    high: float | None
    unit: str
    because: str  # speakable, at most 30 words
    nominal: float | None = None
    simple: bool = False  # limits on the display itself or between two readings of one meter: no guard band

    def __post_init__(self) -> None:
        for name, end in (("low", self.low), ("high", self.high)):
            if end is not None and not math.isfinite(end):
                raise WindowError(f"window end {name} is {end}; give a number or leave it out")
        if self.low is not None and self.high is not None and self.low > self.high:
            raise WindowError(f"window from {self.low:g} to {self.high:g} {self.unit} is empty; swap its ends")


@dataclass(frozen=True)
class Span:
    """A quantity known to lie between two ends, and how to say where that is from."""

    low: float
    high: float
    words: str

    @property
    def middle(self) -> float:
        return (self.low + self.high) / 2


@dataclass(frozen=True)
class Context:
    """Everything a window may rest on: the machine, the place, the meter and what was read before."""

    sheet: MachineSheet
    site: Site
    meter: Meter
    readings: Mapping[str, float]

    def reading(self, step: str) -> float:
        """What an earlier step read [base unit]; WindowError when it has not been read."""
        if step not in self.readings:
            raise WindowError(f"this limit rests on the reading of '{step}', which has not been taken", reading=step)
        return self.readings[step]

    def counts_v(self, volts: float) -> float:
        """The meter's counts at this voltage [V]: all that is left of its error between two readings of one meter."""
        chosen = self.meter.range_for("dc_voltage", volts)
        return chosen.counts * chosen.resolution

    def told_apart(self, low_v: float, high_v: float) -> tuple[float, float]:
        """Ends [V] of a check that tells states of a wire apart, not tolerances: widened by twice the meter's U.

        So every reading a sound wire can give passes, and the guard band never makes it doubtful.
        """
        low_u, high_u = (float(self.meter.expanded_uncertainty("dc_voltage", end)) for end in (low_v, high_v))
        return low_v - 2 * low_u, high_v + 2 * high_u

    def supply(self, supply_from: str | None = None) -> Span:
        """The sensor supply [V]: as measured where that step has been read, else nominal with its tolerance.

        The signal is a share of the supply and one meter reads both, so its gain error cancels and its counts remain.
        """
        if supply_from is not None and supply_from in self.readings:
            volts = max(0.0, self.readings[supply_from])
            counts = self.counts_v(volts)
            return Span(max(0.0, volts - counts), volts + counts, "on the measured supply")
        nominal, tolerance = self.sheet.supply.nominal_v, self.sheet.supply.tolerance
        low, high = nominal * (1 - tolerance), nominal * (1 + tolerance)
        return Span(low, high, "on any healthy supply")

    def pressure_sensor(self, name: str) -> RatiometricPressure:
        sensor = self._of(self.sheet.sensors, name, "sensor")
        if not isinstance(sensor, RatiometricPressure):
            raise WindowError(f"sensor '{name}' is a {sensor.kind}; this window needs a ratiometric_pressure")
        return sensor

    def thermistor(self, name: str) -> Thermistor:
        sensor = self._of(self.sheet.sensors, name, "sensor")
        if not isinstance(sensor, Thermistor):
            raise WindowError(f"sensor '{name}' is a {sensor.kind}; this window needs a thermistor")
        return sensor

    def input(self, name: str) -> Input:
        found: Input = self._of(self.sheet.control_unit.inputs, name, "control unit input")
        return found

    def wire(self, name: str) -> Wire:
        found: Wire = self._of(self.sheet.wires, name, "wire")
        return found

    def pull_v(self, name: str) -> Span:
        """What an input is pulled to [V], within tolerance: its rail need not be the sensor supply that was read."""
        pin = self.input(name)
        if pin.pull == "down":
            return Span(0.0, 0.0, "")
        share, volts = self.sheet.supply.tolerance, pin.pull_to_v or self.sheet.supply.nominal_v
        return Span(volts * (1 - share), volts * (1 + share), "")

    @property
    def sensor_c(self) -> float:
        """Temperature [degC] of a cold engine's sensors: the thermometer beside it, else outdoors."""
        return self.site.outdoor_c if self.site.thermometer_c is None else self.site.thermometer_c

    def _of(self, known: Mapping[str, object], name: str, kind: str):  # type: ignore[no-untyped-def]
        if name not in known:
            raise WindowError(f"'{name}' is no {kind} of this machine; known: {', '.join(known) or 'none'}")
        return known[name]


def said_between(low: float, high: float, unit: str, *, decimals: int = 2) -> str:
    """Two ends in figures with the unit once: "3.61 to 3.92 volts".

    >>> said_between(3.612, 3.921, "V"), said_between(-0.05, 0.05, "V", decimals=3), said_between(0.3, 4.1, "V")
    ('3.61 to 3.92 volts', 'minus 50 to 50 millivolts', '0.3 to 4.1 volts')
    >>> said_between(490, 510, "V", decimals=0), said_between(2400, 3600, "rpm", decimals=0)
    ('490 to 510 volts', '2400 to 3600 r p m')
    """
    if unit == "V" and max(abs(low), abs(high)) >= 1:
        ends = [_trimmed(f"{end:.{decimals}f}").replace("-", "minus ") for end in (low, high)]
        return f"{ends[0]} to {ends[1]} volts"
    first, second = (figure(end, unit, decimals=max(decimals, 3), trim=True) for end in (low, high))
    first_number, first_unit = _parted(first)
    return f"{first_number} to {second}" if first_unit == _parted(second)[1] else f"{first} to {second}"


def _parted(said: str) -> tuple[str, str]:
    """Number and unit, which may be of several words: "r p m"."""
    sign, rest = ("minus ", said.removeprefix("minus ")) if said.startswith("minus ") else ("", said)
    number, _, unit = rest.partition(" ")
    return sign + number, unit


def _trimmed(number: str) -> str:
    """Without zeros behind the point."""
    return number.rstrip("0").rstrip(".") if "." in number else number
