"""Windows of a two-wire bus: ohms across the pair with the power off, level of each wire with the power on."""

from flows.physics.signalling import bus_ohm_window
from flows.units import figure
from flows.windows.window import Context, Window

SINGLE_OHM = (100.0, 130.0)  # one terminator, ISO 11898-2; from memory
RECESSIVE_V = (2.0, 3.0)  # no load, transceiver data sheet after ISO 11898-2
LEADS_OHM = 0.5
LEANING_V = (
    0.008  # two transceivers of twenty five kilohms draw three times this through the pair; common practice, no source
)
TOUCHING_OHM = 20.0  # a wire that touches; through terminators it is fifty at least


def bus_pair(c: Context) -> Window:
    """Resistance [ohm] across the pair, power off, both terminators on it."""
    low, high = bus_ohm_window()
    because = "Two terminators of 120 ohms side by side make 60."
    return Window(low, high + LEADS_OHM, "ohm", because, nominal=60.0)


def bus_single(c: Context) -> Window:
    """Resistance [ohm] across the pair, power off, one terminator on it."""
    low, high = SINGLE_OHM
    because = "One terminator by itself has 120 ohms."
    return Window(low, high + LEADS_OHM, "ohm", because, nominal=120.0)


def bus_level(c: Context) -> Window:
    """Voltage [V] of either wire, power on: the recessive level; a live bus averages close to it."""
    low, high = RECESSIVE_V
    because = "While nobody talks both wires stand at two and a half volts, and talk moves them little."
    return Window(low, high, "V", because, nominal=2.5)


def bus_touching(c: Context) -> Window:
    """Resistance [ohm] of a bus wire to the engine block where one of the pair touches it: this one, or its neighbour."""
    most = figure(TOUCHING_OHM, "ohm", decimals=0)
    return Window(
        None, TOUCHING_OHM, "ohm", f"The wire that touches reads below {most}, the other adds its terminators."
    )


def bus_leaning(c: Context) -> Window:
    """Voltage [V] of bus high against bus low, power on, where one of them touches the battery.

    What the transceivers draw comes through the terminators, so the wire that touches stands some millivolts higher
    (Ohm's law: tenths of a milliampere through sixty ohms). Within the window neither does.
    """
    because = (
        f"The wire that touches the battery stands more than {figure(LEANING_V, 'V', decimals=3)} above the other."
    )
    return Window(-LEANING_V, LEANING_V, "V", because, nominal=0.0)


OFFERS = (bus_leaning, bus_pair, bus_single, bus_level, bus_touching)
