"""Windows of inductive pick-ups: the share of the pull-up that the coil holds, and the pulses of a turning engine."""

from itertools import product

from flows.sensors import CoilSensor, ValuesPart
from flows.units import figure
from flows.windows.parts import PART_K
from flows.windows.supply import PULL_SHARE
from flows.windows.window import Context, Window, WindowError, said_between

GROUND_V = 0.02  # a control unit's own ground above battery negative, key on; common practice, no source
MOST_SHARE = 2.0  # of the nominal pulses: a narrow gap; common practice, no source


def coil_bias(c: Context, *, sensor: str, input: str | None = None) -> Window:
    """Voltage [V] of a coil at rest: its share of what the control unit's pull resistor makes, at its temperature."""
    coil, pin = c.sheet.sensors.get(sensor), c.input(sensor if input is None else input)
    if not isinstance(coil, CoilSensor):
        raise WindowError(f"'{sensor}' is no coil of this machine")
    pull = c.pull_v(sensor if input is None else input)
    ohms = [
        coil.ohm_20c * (1 + coil.per_k * (c.sensor_c + around - 20)) * (1 + share)
        for around, share in product((-PART_K, PART_K), (-coil.tolerance, coil.tolerance))
    ]
    low = pull.low * min(ohms) / (min(ohms) + pin.pull_ohm * (1 + PULL_SHARE))
    high = pull.high * max(ohms) / (max(ohms) + pin.pull_ohm * (1 - PULL_SHARE)) + GROUND_V
    because = f"The coil holds its share of the control unit's pull at {said_between(low, high, 'V')}."
    return Window(*c.told_apart(low, high), "V", because, nominal=(low + high) / 2)


def pickup_pulses(
    c: Context, *, pulses: str, engine: str = "cranking", sensor: str | None = None, input: str | None = None
) -> Window:
    """Pulses [V rms] of an inductive pick-up while the engine turns: in step with the speed, and the gap it may have.

    sensor, input: the coil and the control unit's input it is plugged in to, whose pull resistor loads it; else it is free.
    """
    part = c.sheet.sensors.get(pulses)
    if not isinstance(part, ValuesPart) or not {"volt_per_rpm", "least_share"} <= set(part.values):
        raise WindowError(f"'{pulses}' has no volt_per_rpm and least_share on this machine's sheet")
    nominal = part.values["volt_per_rpm"] * c.sheet.engine.rpm(engine)
    coil = None if sensor is None else c.sheet.sensors.get(sensor)
    if sensor is not None and input is not None:
        if not isinstance(coil, CoilSensor):
            raise WindowError(f"'{sensor}' is no coil of this machine")
        nominal *= 1 / (1 + coil.ohm_20c / c.input(input).pull_ohm)
    low, high = nominal * part.values["least_share"], nominal * MOST_SHARE
    because = f"At that speed the teeth make {figure(low, 'V')} A C or more."
    return Window(low, high, "V", because, nominal=nominal)


OFFERS = (coil_bias, pickup_pulses)
