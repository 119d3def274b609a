"""Windows of wires, grounds and the meter's own leads."""

from flows.physics.wiring import wire_ohm
from flows.sensors import PotentiometerSensor
from flows.units import figure
from flows.windows.window import Context, Window, WindowError

HOT_C = 80.0  # a harness beside a hot engine
CONTACT_OHM = 0.01  # one crimp with its pin; common practice, no source
LEADS_OHM = 0.5  # the most that shorted leads may read; common practice, no source
STRAY_V = 0.001  # pickup and thermal voltages in a harness; common practice, no source
OPEN_OHM = 1e6  # a dry harness isolates better than this; common practice, no source


def ground_drop(c: Context, *, limit: str) -> Window:
    """Drop [V] between a ground and the battery negative: `sensor` or `power`, from the machine sheet."""
    known = {"sensor": c.sheet.limits.sensor_ground_v, "power": c.sheet.limits.power_ground_v}
    if limit not in known:
        raise WindowError(f"ground_drop takes limit: sensor or power, not '{limit}'")
    most = known[limit]
    because = f"A {limit} ground may drop {figure(most, 'V', decimals=3)} at most."
    return Window(-most, most, "V", because, nominal=0.0)


def near_zero(c: Context) -> Window:
    """A pin that nothing drives [V]: as near to nothing as a sensor ground has to be."""
    most = c.sheet.limits.sensor_ground_v
    because = f"Nothing drives this pin, so it stands within {figure(most, 'V', decimals=3)} of nothing."
    return Window(-most, most, "V", because, nominal=0.0)


def wire_drop(c: Context, *, wire: str, current: float | str | None = None) -> Window:
    """Drop [V] along a wire: length, area, heat and current, two contacts, and what this meter can tell from nothing.

    current: amps; left out, it is worked out from the sheet.
    """
    ohm = _wire_ohm(c, wire)
    amps = _current_a(c, wire) if current is None else float(current)
    drop = amps * ohm
    most = abs(drop) + STRAY_V + 2 * float(c.meter.expanded_uncertainty("dc_voltage", abs(drop)))
    part = c.wire(wire)
    because = (
        f"Through {part.length_m:g} metres of this wire, {_amps(amps)} drop {_small(drop)}; above "
        f"{figure(most, 'V', decimals=4)} there is resistance."
    )
    return Window(-most, most, "V", because, nominal=drop)


def wire_resistance(c: Context, *, wire: str, leads_from: str | None = None) -> Window:
    """Resistance [ohm] of a wire, both ends off: length, area and heat, two contacts, the leads as read or at most."""
    ohm = _wire_ohm(c, wire)
    leads = c.readings.get(leads_from, LEADS_OHM) if leads_from is not None else LEADS_OHM
    most = ohm + leads + 2 * float(c.meter.expanded_uncertainty("resistance", ohm + leads))
    part = c.wire(wire)
    because = (
        f"This wire, {part.length_m:g} metres of {part.area_mm2:g} square millimetre copper, is {figure(ohm, 'ohm')}; "
        f"leads and meter make it {figure(most, 'ohm', decimals=1)} at most."
    )
    return Window(None, most, "ohm", because, nominal=ohm + leads)


def leads_shorted(c: Context) -> Window:
    """The meter's own leads held together [ohm]: a limit on the display itself."""
    most = figure(LEADS_OHM, "ohm", decimals=1)
    because = f"Good leads held together read {most} at most, and hold still when flexed."
    return Window(None, LEADS_OHM, "ohm", because, nominal=c.meter.leads_ohm, simple=True)


def open_circuit(c: Context, *, at_least_ohm: float = OPEN_OHM) -> Window:
    """Isolation [ohm] between two wires with both plugs off; over range is just right."""
    because = f"Nothing joins these two, so the meter reads over range, or at least {_ohms(float(at_least_ohm))}."
    return Window(float(at_least_ohm), None, "ohm", because)


def _wire_ohm(c: Context, wire: str) -> float:
    part = c.wire(wire)
    hot = max(HOT_C, c.site.outdoor_c)
    return wire_ohm(part.area_mm2, part.length_m, temperature_c=hot) + 2 * CONTACT_OHM


def _current_a(c: Context, wire: str) -> float:
    """The most current [A] a wire carries: a signal's through its pull resistor, else what the sensors draw."""
    inputs = c.sheet.control_unit.inputs.values()
    pulled = {pin.wire: (pin.pull_to_v or c.sheet.supply.nominal_v) / pin.pull_ohm for pin in inputs}
    if wire in pulled:
        return pulled[wire]
    names = c.wire(wire).carries or tuple(c.sheet.sensors)
    drawn = sum(getattr(c.sheet.sensors.get(name), "supply_ma", 0.0) for name in names) / 1000
    tracks = [s.ohm for n in names if isinstance(s := c.sheet.sensors.get(n), PotentiometerSensor)]
    drawn += sum(c.sheet.supply.nominal_v / ohm for ohm in tracks)
    inputs_there = [pin.wire for name, pin in c.sheet.control_unit.inputs.items() if name in names]
    return drawn + sum(pulled[w] for w in inputs_there)


def _amps(amps: float) -> str:
    return f"{amps * 1e6:.0f} microamps" if abs(amps) < 1e-3 else figure(amps, "A", decimals=4, trim=True)


def _small(volts: float) -> str:
    return "next to nothing" if abs(volts) < 5e-5 else figure(volts, "V", decimals=4)


def _ohms(ohm: float) -> str:
    return figure(ohm, "ohm", decimals=0, trim=True)
