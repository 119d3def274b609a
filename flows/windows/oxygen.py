"""Windows of a narrow-band oxygen cell: the volts of a rich and of a lean exhaust, by the Nernst equation."""

from flows.physics.sensors import oxygen_cell_v
from flows.sheet import ValuesPart
from flows.windows.window import Context, Window, WindowError, said_between

RICH_SHARE = (0.76, 1.25)  # of the cell's own volts, its age and heat within; common practice, no source
LEAN_V = (-0.05, 0.2)  # what a lean cell may show; common practice, no source


def oxygen_cell(c: Context, *, sensor: str, mixture: str) -> Window:
    """Voltage [V] of a hot cell, mixture rich or lean."""
    part = c.sheet.sensors.get(sensor)
    if not isinstance(part, ValuesPart) or not {"rich_atm", "hot_c"} <= set(part.values):
        raise WindowError(f"'{sensor}' is no oxygen cell of this machine")
    if mixture not in ("rich", "lean"):
        raise WindowError(f"oxygen_cell takes mixture: rich or lean, not '{mixture}'")
    nominal = oxygen_cell_v(part.values[f"{mixture}_atm"], part.values["hot_c"])
    low, high = (nominal * share for share in RICH_SHARE) if mixture == "rich" else LEAN_V
    because = f"Hot and {mixture}, the cell gives {said_between(low, high, 'V')}."
    return Window(low, high, "V", because, nominal=nominal)


OFFERS = (oxygen_cell,)
