"""Sensors after a night's rest: coolant, intake air and a thermometer stand at the same temperature."""

from flows.units import figure
from flows.windows.window import Context, Window

SOAK_K = 5.0  # after eight hours without running; common practice, no source
SOAK_H = 8.0


def same_after_soak(c: Context, *, step: str) -> Window:
    """Temperature [degC] beside one read in an earlier step, after eight hours' rest: within 5 kelvin of it.

    Ask first whether the engine stood so long; warm, sensors stand apart. Common practice, no source. Raises WindowError.
    """
    before = c.reading(step)
    because = (
        f"After {SOAK_H:.0f} hours of rest all parts agree within {SOAK_K:.0f} degrees, "
        f"and the other one read {figure(before, 'degC', decimals=0)}."
    )
    return Window(before - SOAK_K, before + SOAK_K, "degC", because, nominal=before)


OFFERS = (same_after_soak,)
