"""A step's expectation, for this machine, place and meter: `compute` turns {function: arguments} into a Window."""

import inspect
import pkgutil
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from difflib import get_close_matches
from importlib import import_module
from types import MappingProxyType
from typing import Any

from flows.meter import Meter
from flows.sheet import MachineSheet
from flows.site import Site
from flows.windows import battery, general, pressure, supply, temperature, wires
from flows.windows.window import Context, Window, WindowError

__all__ = ["STEP_ARGUMENTS", "WINDOWS", "Context", "Window", "WindowError", "arguments", "compute"]


def _offered() -> Iterator[Callable[..., Window]]:
    """Window functions of further modules in this folder: each lists its own in OFFERS."""
    for info in pkgutil.iter_modules(__path__):
        if not info.name.startswith("_"):
            yield from getattr(import_module(f"{__name__}.{info.name}"), "OFFERS", ())


_FUNCTIONS: tuple[Callable[..., Window], ...] = (
    battery.battery_charging,
    battery.battery_cranking,
    battery.battery_key_on,
    battery.battery_rest,
    battery.parasitic_draw,
    battery.short_to_battery,
    general.between,
    general.display_agrees,
    general.same_as,
    general.substituted,
    pressure.cranking_pressure,
    pressure.still_pressure_signal,
    pressure.vacuum_step,
    supply.loaded_divider,
    supply.supply_at_plug,
    supply.supply_load_off,
    temperature.thermistor_divider,
    wires.ground_drop,
    wires.leads_shorted,
    wires.near_zero,
    wires.open_circuit,
    wires.wire_drop,
    wires.wire_resistance,
    *_offered(),
)
WINDOWS: Mapping[str, Callable[..., Window]] = MappingProxyType({f.__name__: f for f in _FUNCTIONS})
STEP_ARGUMENTS = frozenset(  # arguments whose value is the name of an earlier step
    {"from", "step", "still", "supply_from", "temperature_from", "signal_from", "rest_from", "leads_from"}
)


def arguments(name: str) -> Mapping[str, bool]:
    """Arguments a window function takes, each with whether it must be given.

    >>> dict(arguments("wire_drop"))
    {'wire': True, 'current': False}
    """
    taken = {
        argument.name: argument.default is argument.empty
        for argument in inspect.signature(WINDOWS[name]).parameters.values()
        if argument.kind is argument.KEYWORD_ONLY
    }
    if name == "vacuum_step":
        taken["from"] = False
    return MappingProxyType(taken)


def compute(
    expect: Mapping[str, Mapping[str, Any] | None],
    *,
    sheet: MachineSheet,
    site: Site,
    meter: Meter,
    readings: Mapping[str, float],
) -> Window:
    """The window of a step: expect is {function: arguments}, readings are earlier steps' values in base units.

    Raises WindowError for an unknown function or argument, a missing reading, or a part the sheet lacks.
    """
    if len(expect) != 1:
        raise WindowError(f"an expectation names exactly one window function, this names {len(expect)}")
    ((name, given),) = expect.items()
    if name not in WINDOWS:
        near = get_close_matches(name, WINDOWS, n=1)
        hint = f"did you mean '{near[0]}'?" if near else f"known: {', '.join(WINDOWS)}"
        raise WindowError(f"'{name}' is no window function; {hint}")
    args = dict(given or {})
    taken = arguments(name)
    for key in args:
        if key not in taken:
            raise WindowError(f"{name} has no argument '{key}'; it takes {', '.join(taken) or 'none'}")
    for key, needed in taken.items():
        if needed and key not in args:
            raise WindowError(f"{name} needs the argument '{key}'")
    try:
        return _tidy(WINDOWS[name](Context(sheet, site, meter, readings), **args))
    except (ValueError, TypeError) as error:
        raise WindowError(f"{name} cannot be worked out: {error}") from error


def _tidy(window: Window) -> Window:
    """The same window without the tails of binary digits, so that a journal line stays readable."""
    low, high, nominal = (None if x is None else round(x, 9) for x in (window.low, window.high, window.nominal))
    return replace(window, low=low, high=high, nominal=nominal)
