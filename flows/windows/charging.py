"""Windows of charging: what the stator gives at speed, ripple at the battery, and whether it is charged at all."""

from flows.sensors import ValuesPart
from flows.units import figure
from flows.windows.window import Context, Window, WindowError, said_between

RIPPLE_V = 0.5  # root mean square at the posts; common practice, no source
STATOR_SHARE = 0.3  # speed held by ear, magnets as they come; common practice, no source
PATH_V = 0.2  # a fused power wire under load; common practice, no source
CHARGED_V = 0.6  # by which a battery that is charged stands above its rest, at least; common practice, no source
MOST_V = 15.2  # above it any battery boils; common practice, no source
ABOVE_REST_V = 0.05  # a battery that takes current stands above its rest by more; common practice, no source


def stator_voltage(c: Context, *, sensor: str = "charging") -> Window:
    """Alternating voltage [V] of an unplugged stator at the fast speed, from the volts by speed on the sheet."""
    part = c.sheet.sensors.get(sensor)
    if not isinstance(part, ValuesPart) or "stator_v_per_rpm" not in part.values:
        raise WindowError(f"'{sensor}' has no stator_v_per_rpm on this machine's sheet")
    volt = part.values["stator_v_per_rpm"] * c.sheet.engine.fast_rpm
    low, high = volt * (1 - STATOR_SHARE), volt * (1 + STATOR_SHARE)
    because = f"At {figure(c.sheet.engine.fast_rpm, 'rpm', decimals=0)} this stator gives {said_between(low, high, 'V', decimals=1)}."
    return Window(low, high, "V", because, nominal=volt)


def engine_speed(c: Context, *, engine: str = "fast") -> Window:
    """Speed [rpm] on the data display in a state of the engine, from the sheet: held by hand, idling or cranking."""
    nominal = c.sheet.engine.rpm(engine)
    if not nominal:
        raise WindowError(f"engine_speed takes engine: cranking, idle or fast, not '{engine}'")
    low, high = nominal * (1 - c.sheet.engine.speed_share), nominal * (1 + c.sheet.engine.speed_share)
    name = {"fast": "Fast", "idle": "Idle", "cranking": "Cranking"}[engine]
    because = (
        f"{name} is about {figure(nominal, 'rpm', decimals=0)} here, so {said_between(low, high, 'rpm', decimals=0)}."
    )
    return Window(low, high, "rpm", because, nominal=nominal, simple=True)


def ripple(c: Context) -> Window:
    """Alternating voltage [V] at the battery while it is charged: half a volt at most."""
    most = figure(RIPPLE_V, "V", decimals=1)
    return Window(None, RIPPLE_V, "V", f"Good diodes and a fit battery leave {most} of ripple at most.")


def above_rest(c: Context, *, rest_from: str) -> Window:
    """Battery [V], engine at speed: no higher than at rest when nothing charges it. One meter reads both."""
    rest = c.reading(rest_from)
    most = rest + ABOVE_REST_V
    because = f"A battery that nothing charges stays below its {figure(rest, 'V')} at rest."
    return Window(None, most, "V", because, nominal=rest, simple=True)


def charged(c: Context, *, rest_from: str) -> Window:
    """Battery [V], engine at speed, when something charges it: well above its rest, whatever its chemistry."""
    rest = c.reading(rest_from)
    low = rest + CHARGED_V
    because = f"Charged, it stands {figure(CHARGED_V, 'V', decimals=1)} or more above the {figure(rest, 'V')} at rest."
    return Window(low, MOST_V, "V", because, nominal=None)


def charge_drop(c: Context) -> Window:
    """Drop [V] along the wire from regulator to battery, fuse and all, while it charges: two tenths at most."""
    most = figure(PATH_V, "V", decimals=1)
    return Window(-PATH_V, PATH_V, "V", f"Charging wire and fuse may drop {most} at most.", nominal=0.0)


OFFERS = (engine_speed, stator_voltage, ripple, above_rest, charged, charge_drop)
