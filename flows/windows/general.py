"""Windows that compare: with an earlier reading, with the data display, with a value the control unit falls back on."""

from flows.sensors import PotentiometerSensor, RatiometricPressure, ValuesPart
from flows.units import QUANTITIES, figure
from flows.windows.position import displayed_position
from flows.windows.pressure import displayed_pressure
from flows.windows.temperature import displayed_temperature
from flows.windows.window import Context, Window, WindowError

_UNIT_OF_NAME = {
    unit.lower().removeprefix("deg"): unit for unit in ("V", "A", "ohm", "degC", "kPa", "Hz", "rpm", "percent")
}
_QUANTITY_OF_UNIT = {quantity.base: name for name, quantity in QUANTITIES.items() if name != "ac_voltage"}


def same_as(c: Context, *, step: str, counts: float = 2, unit: str = "V") -> Window:
    """The same reading again, within so many counts of the last digit: limits on the display itself."""
    before = c.reading(step)
    digit = c.meter.range_for(_quantity(unit), before).resolution
    slack = float(counts) * digit
    decimals = c.meter.decimals(_quantity(unit), before)
    because = f"It should read as before, {figure(before, unit, decimals=decimals)}, within {counts:g} counts."
    return Window(before - slack, before + slack, unit, because, nominal=before, simple=True)


def between(
    c: Context, *, low: float | None = None, high: float | None = None, source: str = "", unit: str = "V"
) -> Window:
    """Limits taken from a named source; without a source it is refused."""
    if not str(source).strip():
        raise WindowError("between needs 'source', the document or rule its limits are from")
    if low is None and high is None:
        raise WindowError("between needs low, high or both")
    _quantity(unit)
    ends = None if low is None else float(low), None if high is None else float(high)
    return Window(*ends, unit, f"These limits are from {source}.")


def on_sheet(c: Context, *, sensor: str, low: str | None = None, high: str | None = None) -> Window:
    """Limits a part of the sheet has by name, unit at the end of the name: `low: rest_least_percent`."""
    part = c.sheet.sensors.get(sensor)
    if not isinstance(part, ValuesPart):
        raise WindowError(f"'{sensor}' is no part with values on this machine's sheet")
    names = [name for name in (low, high) if name is not None]
    missing = [name for name in names if name not in part.values]
    if missing or not names:
        raise WindowError(f"'{sensor}' has no value '{''.join(missing[:1])}'; it has {', '.join(part.values)}")
    units = {_UNIT_OF_NAME.get(name.rpartition("_")[2], "") for name in names}
    if len(units) > 1 or "" in units:
        raise WindowError(f"{' and '.join(names)} end in no unit, or in two; use one of {', '.join(_UNIT_OF_NAME)}")
    least, most = (None if name is None else part.values[name] for name in (low, high))
    return Window(least, most, units.pop(), "These limits stand on the sheet of this machine.")


def display_agrees(
    c: Context, *, sensor: str, signal_from: str, supply_from: str | None = None, input: str | None = None
) -> Window:
    """What the data display should show for the voltage at the plug, in the sensor's own unit."""
    if isinstance(c.sheet.sensors.get(sensor), RatiometricPressure):
        return displayed_pressure(c, sensor=sensor, signal_from=signal_from, supply_from=supply_from)
    if isinstance(c.sheet.sensors.get(sensor), PotentiometerSensor):
        return displayed_position(c, sensor=sensor, signal_from=signal_from, supply_from=supply_from)
    return displayed_temperature(c, sensor=sensor, signal_from=signal_from, supply_from=supply_from, input=input)


def substituted(c: Context, *, sensor: str, failed: str, input: str | None = None) -> Window:
    """The value the control unit shows when it has given a sensor up: `low` or `high` circuit, to the display's digit."""
    if failed not in ("low", "high"):
        raise WindowError(f"substituted takes failed: low or high, not '{failed}'")
    pin = c.input(sensor if input is None else input)
    value = pin.substitute_low if failed == "low" else pin.substitute_high
    part = c.sheet.sensors.get(sensor)
    ratio = "percent" if isinstance(part, PotentiometerSensor) else "degC"
    unit = "kPa" if isinstance(part, RatiometricPressure) else ratio
    digit = c.meter.range_for(_quantity(unit), value).resolution
    shown = figure(value, unit, decimals=0)
    because = f"After a {failed} circuit the control unit puts {shown} in place of the sensor."
    return Window(value - digit, value + digit, unit, because, nominal=value, simple=True)


def _quantity(unit: str) -> str:
    if unit not in _QUANTITY_OF_UNIT:
        raise WindowError(f"'{unit}' is no base unit; use one of {', '.join(_QUANTITY_OF_UNIT)}")
    return _QUANTITY_OF_UNIT[unit]


OFFERS = (on_sheet,)
