"""Windows of the battery: at rest, key on, cranking, charging."""

from flows.physics.battery import charging_band_v, cranking_floor_v, parasitic_limit_a, rest_band_v
from flows.units import figure
from flows.windows.window import Context, Window, said_between

KEY_ON_V = 0.5  # lamps and control unit pull a fit battery down by less; common practice, no source
STARTER_V = 0.2  # a starter that turns pulls it down by more; common practice, no source
THERE_V = (8.0, 17.0)  # whatever its state: a battery, read by a meter that works; common practice, no source
FLAT_V = 3.0  # a battery that is flat still shows more; common practice, no source
TURNS_V = 5.0  # below it no starter turns, so a probe has missed; common practice, no source

_SPOKEN = {"flooded": "flooded lead battery", "agm": "A G M battery", "lifepo4": "lithium iron battery"}


def battery_rest(c: Context) -> Window:
    """Battery [V] at rest, key off, by chemistry."""
    low, high = rest_band_v(c.sheet.battery.chemistry, c.site.outdoor_c)
    kind = _SPOKEN[c.sheet.battery.chemistry]
    return Window(low, high, "V", f"A rested, fit {kind} stands at {said_between(low, high, 'V')}.")


def battery_key_on(c: Context, *, rest_from: str | None = None) -> Window:
    """Battery [V] with the key on: a little below what it read at rest, or below the band of its chemistry."""
    low, high = rest_band_v(c.sheet.battery.chemistry, c.site.outdoor_c)
    if rest_from is not None and rest_from in c.readings:
        rest = c.readings[rest_from]
        low, high = rest - KEY_ON_V, rest + c.counts_v(rest) + float(c.meter.expanded_uncertainty("dc_voltage", rest))
        because = f"Key on takes less than {figure(KEY_ON_V, 'V')} off the {figure(rest, 'V')} at rest."
        return Window(low, high, "V", because, nominal=rest)
    because = f"Key on takes less than {figure(KEY_ON_V, 'V')} off the least at rest, {figure(low, 'V', trim=True)}."
    return Window(low - KEY_ON_V, high, "V", because)


def short_to_battery(c: Context, *, rest_from: str | None = None) -> Window:
    """Voltage [V] of a pin that is joined to the battery: what the battery shows with the key on."""
    key_on = battery_key_on(c, rest_from=rest_from)
    assert key_on.low is not None and key_on.high is not None
    because = f"A wire joined to battery shows what the battery does, {said_between(key_on.low, key_on.high, 'V')}."
    return Window(key_on.low, key_on.high, "V", because, nominal=key_on.nominal)


def battery_cranking(c: Context, *, rest_from: str | None = None) -> Window:
    """Lowest battery voltage [V] while cranking: a floor that falls with cold, and clearly below rest if it turned."""
    low = cranking_floor_v(c.site.outdoor_c)
    because = f"A fit battery holds {figure(low, 'V', decimals=1)} while cranking at {_degrees(c.site.outdoor_c)}"
    if rest_from is not None and rest_from in c.readings:
        # a battery that reads below its band has ended the flow, or is too weak to be missed: less was a probe that slipped
        rest = max(c.readings[rest_from], rest_band_v(c.sheet.battery.chemistry, c.site.outdoor_c)[0])
        high = max(low, rest - STARTER_V)
        return Window(low, high, "V", f"{because}, and a starter that turns pulls it below {figure(high, 'V')}.")
    return Window(low, None, "V", f"{because}.")


def battery_charging(c: Context) -> Window:
    """Battery [V] with the engine fast enough to charge it."""
    low, high = charging_band_v(c.sheet.battery.chemistry, c.site.outdoor_c)
    kind = _SPOKEN[c.sheet.battery.chemistry]
    band = said_between(low, high, "V")
    because = f"Charging a {kind} at {_degrees(c.site.outdoor_c)} takes {band}, engine at speed."
    return Window(low, high, "V", because)


def parasitic_draw(c: Context) -> Window:
    """Current [A] asleep: no more than three tenths of the battery in a month."""
    high = parasitic_limit_a(c.sheet.battery.capacity_ah)
    because = (
        f"Three tenths of {c.sheet.battery.capacity_ah:g} ampere hours in a month of 720 hours "
        f"is {figure(high, 'A', decimals=4)}."
    )
    return Window(None, high, "A", because)


def battery_there(c: Context) -> Window:
    """Battery [V], whatever its state: that there is one, and that meter, leads and jack show it."""
    low, high = THERE_V
    because = f"Any battery, good or bad, stands at {said_between(low, high, 'V', decimals=0)} on a meter that works."
    return Window(low, high, "V", because)


def battery_flat(c: Context) -> Window:
    """Battery [V] at rest of one that is flat or weak: below its band, and more than a probe that misses shows."""
    low, _ = rest_band_v(c.sheet.battery.chemistry, c.site.outdoor_c)
    because = f"Below {figure(low, 'V')} it is flat, and next to nothing is a probe that has missed."
    return Window(FLAT_V, low, "V", because)


def battery_sags(c: Context) -> Window:
    """Lowest battery voltage [V] while cranking of one that is weak: below the floor, and still turning the starter."""
    floor = cranking_floor_v(c.site.outdoor_c)
    because = (
        f"A weak battery falls below {figure(floor, 'V', decimals=1)}, and where nothing is left, "
        f"below {figure(TURNS_V, 'V', decimals=0)}, a probe has missed."
    )
    return Window(TURNS_V, floor, "V", because)


def _degrees(value: float) -> str:
    return f"{value:.0f} degrees".replace("-", "minus ")


OFFERS = (battery_there, battery_flat, battery_sags)
