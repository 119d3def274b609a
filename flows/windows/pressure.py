"""Windows of the manifold pressure sensor: still, under a hand pump, while cranking, and on the data display."""

from flows.physics.atmosphere import P0_KPA
from flows.physics.sensors import ratiometric_kpa
from flows.sensors import RatiometricPressure
from flows.units import figure
from flows.windows.window import Context, Span, Window, WindowError, said_between

GAUGE_KPA = 2.0  # a hand pump's own gauge; common practice, no source
REPEAT_KPA = 0.5  # noise and drift between two readings of one sensor; common practice, no source
DISPLAY_SHARE = 0.01  # the control unit's converter, share of full scale; common practice, no source


def still_pressure_signal(c: Context, *, sensor: str, supply_from: str | None = None) -> Window:
    """Signal with the engine stopped [V]: outside pressure here, the sensor's curve and tolerance, its supply."""
    part = c.pressure_sensor(sensor)
    low_kpa, nominal_kpa, high_kpa, because = c.site.pressure_kpa()
    tolerance = part.tolerance_at_kpa(c.sensor_c)
    supply = c.supply(supply_from)
    low = supply.low * _share(part, low_kpa - tolerance)
    high = supply.high * _share(part, high_kpa + tolerance)
    sentence = f"{because.rstrip('.')}, so the sensor gives {said_between(low, high, 'V')} {supply.words}."
    return Window(low, high, "V", sentence, nominal=supply.middle * _share(part, nominal_kpa))


def vacuum_step(
    c: Context,
    *,
    sensor: str,
    still: str | None = None,
    step_kpa: float | None = None,
    supply_from: str | None = None,
    **more: str,
) -> Window:
    """Signal [V] with a hand pump holding a known vacuum: the still signal less the step's share. `from` is `still`."""
    part = c.pressure_sensor(sensor)
    still = _step_named(still, more)
    step = c.sheet.vacuum_kpa if step_kpa is None else float(step_kpa)
    if step <= 0:
        raise WindowError(f"step_kpa is {step:g}; a vacuum step must be above 0 kilopascals")
    supply, before = c.supply(supply_from), _still(c, sensor, still, supply_from)
    spread = GAUGE_KPA + part.tolerance_at_kpa(c.sensor_c)
    low = max(supply.low * part.low_share, before.low - supply.high * part.a_per_kpa * (step + spread))
    high = max(supply.high * part.low_share, before.high - supply.low * part.a_per_kpa * (step - spread))
    nominal = max(supply.middle * part.low_share, before.middle - supply.middle * part.a_per_kpa * step)
    because = (
        f"A vacuum of {step:g} kilopascals takes {figure(before.middle - nominal, 'V')} off {before.words}, "
        f"give or take {figure(nominal - low, 'V', decimals=3)} for gauge and sensor."
    )
    return Window(low, high, "V", because, nominal=nominal)


def cranking_pressure(c: Context, *, sensor: str, throttle: str, still: str, supply_from: str | None = None) -> Window:
    """Signal [V] while cranking: the still signal less the machine's drop, scaled by the pressure outside."""
    part = c.pressure_sensor(sensor)
    if throttle not in c.sheet.cranking.drop_kpa:
        known = ", ".join(c.sheet.cranking.drop_kpa) or "none"
        raise WindowError(f"the sheet has no cranking drop for the throttle '{throttle}'; it has: {known}")
    drop = c.sheet.cranking.drop_kpa[throttle]  # type: ignore[index]
    supply, before = c.supply(supply_from), _still(c, sensor, still, supply_from)
    low_kpa, _, high_kpa, _ = c.site.pressure_kpa()
    least, most = drop.low * low_kpa / P0_KPA - REPEAT_KPA, drop.high * high_kpa / P0_KPA + REPEAT_KPA
    low = max(supply.low * part.low_share, before.low - supply.high * part.a_per_kpa * most)
    high = max(
        supply.high * part.low_share, before.high - (supply.low if least > 0 else supply.high) * part.a_per_kpa * least
    )
    because = (
        f"Cranking with the throttle {throttle} draws {max(0, least):.0f} to {most:.0f} kilopascals "
        f"here, so {before.words} becomes {said_between(low, high, 'V')}."
    )
    return Window(low, high, "V", because)


def displayed_pressure(c: Context, *, sensor: str, signal_from: str, supply_from: str | None = None) -> Window:
    """What the data display should show [kPa] for the voltage at the plug; the control unit's converter included."""
    part = c.pressure_sensor(sensor)
    supply, signal = _alive(c, c.supply(supply_from)), c.reading(signal_from)
    volts = float(c.meter.error("dc_voltage", signal)) + DISPLAY_SHARE * supply.high
    low = ratiometric_kpa(signal - volts, supply_v=supply.high, a_per_kpa=part.a_per_kpa, b=part.b)
    high = ratiometric_kpa(signal + volts, supply_v=supply.low, a_per_kpa=part.a_per_kpa, b=part.b)
    digit = c.meter.range_for("pressure", high).resolution
    low, high = low - digit, high + digit
    because = f"At the plug, {figure(signal, 'V')} means {low:.0f} to {high:.0f} kilopascals by the sensor's curve."
    return Window(low, high, "kPa", because, nominal=(low + high) / 2)


def _share(part: RatiometricPressure, pressure_kpa: float) -> float:
    """The output as a share of the supply, held between the shares it can reach."""
    return min(part.high_share, max(part.low_share, part.a_per_kpa * pressure_kpa - part.b))


def _still(c: Context, sensor: str, step: str, supply_from: str | None) -> Span:
    """The still signal [V]: as read, within the meter's counts; where it could not be read, as it should be here."""
    if step in c.readings:
        volts = c.readings[step]
        counts = c.counts_v(volts)
        return Span(volts - counts, volts + counts, f"the still {figure(volts, 'V')}")
    made = still_pressure_signal(c, sensor=sensor, supply_from=supply_from)
    assert made.low is not None and made.high is not None
    return Span(made.low, made.high, "the still signal")


def _alive(c: Context, supply: Span) -> Span:
    if supply.low < c.sheet.supply.nominal_v / 2:
        raise WindowError(
            f"the supply was read as {figure(supply.middle, 'V')}, so a share of it means nothing; "
            "find the supply fault first"
        )
    return supply


def _step_named(still: str | None, more: dict[str, str]) -> str:
    """`from` cannot be a Python argument, so it comes in here; both names mean the still reading."""
    unknown = set(more) - {"from"}
    if unknown:
        raise WindowError(f"vacuum_step has no argument '{sorted(unknown)[0]}'; it takes sensor, from, step_kpa")
    step = still or more.get("from")
    if step is None:
        raise WindowError("vacuum_step needs 'from', the step that read the still signal")
    return step
