"""A wire by itself, both ends off: does it lead to something, and through how much?"""

from flows.windows.window import Context, Window
from flows.windows.wires import OPEN_OHM

SHORT_MOST_OHM = (
    20.0  # two bare wires that touch stay far below this, a wet or corroded plug above; common practice, no source
)


def leaking(c: Context) -> Window:
    """Resistance [ohm] of a leak: below it lies a short, above it (and over range) nothing leads there."""
    most = "one megohm"
    because = f"Less than twenty ohms is a short, more than {most} is nothing, and between them something leaks."
    return Window(SHORT_MOST_OHM, OPEN_OHM, "ohm", because, simple=True)


OFFERS = (leaking,)
