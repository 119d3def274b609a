"""Windows of a narrow-band oxygen cell: volts of a rich and of a lean exhaust by the Nernst equation, and what is shown of them."""

from flows.physics.sensors import oxygen_cell_v
from flows.sensors import ValuesPart
from flows.units import figure
from flows.windows.window import Context, Window, WindowError, said_between

RICH_LESS_V = 0.08  # a tenth of a volt less is what the control unit minds; a fifth of it is left to gas and meter
RICH_MORE = 1.25  # of the cell's own volts, its heat within; common practice, no source
LEAN_V = (-0.05, 0.2)  # what a lean cell may show; common practice, no source
FREE = (0.92, 1.03)  # of the bias: a cold cell takes a little of it; common practice, no source
SAME_V = 0.03  # between plug and control unit along sound wires; common practice, no source


def oxygen_cell(c: Context, *, sensor: str, mixture: str, display: bool = False) -> Window:
    """Voltage [V] of a hot cell, mixture rich or lean; with display: as the data display shows it [percent of a volt]."""
    part = c.sheet.sensors.get(sensor)
    if not isinstance(part, ValuesPart) or not {"rich_atm", "hot_c"} <= set(part.values):
        raise WindowError(f"'{sensor}' is no oxygen cell of this machine")
    if mixture not in ("rich", "lean"):
        raise WindowError(f"oxygen_cell takes mixture: rich or lean, not '{mixture}'")
    nominal = oxygen_cell_v(part.values[f"{mixture}_atm"], part.values["hot_c"])
    low, high = (nominal - RICH_LESS_V, nominal * RICH_MORE) if mixture == "rich" else LEAN_V
    because = f"Hot and {mixture}, the cell gives {said_between(low, high, 'V')}."
    return _shown(low, high, because, nominal) if display else Window(low, high, "V", because, nominal=nominal)


def oxygen_bias(c: Context, *, input: str) -> Window:
    """The data display [percent of a volt] while nothing but the control unit's own bias stands on the input."""
    bias = c.pull_v(input)
    low, high = bias.low * FREE[0], bias.high * FREE[1]
    because = f"With the cell cold the control unit sees its own bias, {said_between(low, high, 'V')}."
    return _shown(low, high, because, None)


def oxygen_at_plug(c: Context, *, shown: str) -> Window:
    """Voltage [V] at the plug that goes with what the data display showed in step `shown` [percent of a volt]."""
    volts = c.reading(shown) / 100
    because = f"Along sound wires the plug has what the display shows, {figure(volts, 'V')}, within thirty millivolts."
    return Window(volts - SAME_V, volts + SAME_V, "V", because, nominal=volts)


def _shown(low: float, high: float, because: str, nominal: float | None) -> Window:
    return Window(100 * low, 100 * high, "percent", because, nominal=None if nominal is None else 100 * nominal)


OFFERS = (oxygen_cell, oxygen_bias, oxygen_at_plug)
