"""What goes wrong in hands: a probe that does not touch, the neighbouring pin, swapped or bad leads, a jumpy reading.

On a gauge the hands slip otherwise (`misread`): a display that still shows what stood there before, a clamp that is not
closed, not zeroed, turned round or beside its wire. A slip happens to one reading of a check. When the dialogue wants that reading a second time (it does for every outcome
but a clear `in`, and for one that ends the flow), the slip is still there with probability STAYS; otherwise the second
call disagrees with the first, a third is asked for, and what is true stands. A minus sign where none can be makes the
dialogue ask for swapped leads, which cures swapped leads.
"""

import math
from dataclasses import dataclass

import numpy as np

from flows.meter import OVER, Meter
from flows.sheet import MachineSheet

KINDS = ("missed", "ghost", "neighbour", "reversed", "black", "jumpy")
MISSED, GHOST, NEIGHBOUR, REVERSED, BLACK, JUMPY = range(len(KINDS))
NONE = -1
STAYS = 0.8  # a slip is still there at the second call
GHOST_V = (0.1, 2.0)
CONTACT_OHM = (1e4, 3e7)  # of a bad black lead; common practice, no source
CLOSED = (0.3, 0.9)  # share that a clamp shows whose jaws do not quite close
ZERO_A = 0.03  # a clamp that was not zeroed is off by up to this
JUMPS = 0.15  # a jumpy reading swings by up to this share of itself, and by up to JUMPS_V
JUMPS_V = 0.1


@dataclass(frozen=True)
class Slips:
    """How often hands slip. stuck: chance that a slip outlives its check while its probe is not moved."""

    rate: float = 0.0
    stuck: float = 0.0


@dataclass
class SlipLot:
    """The slips of one check: kind an engine (NONE for most) and what each needs by chance."""

    kind: np.ndarray
    ghost_v: np.ndarray
    contact_ohm: np.ndarray
    swing: np.ndarray
    stays: np.ndarray


def draw_slips(count: int, slips: Slips, rng: np.random.Generator) -> SlipLot:
    """Lots for so many engines at one check."""
    hit = rng.random(count) < slips.rate
    kind = np.where(hit, rng.integers(0, len(KINDS), count), NONE)
    return SlipLot(
        kind,
        rng.uniform(*GHOST_V, count),
        np.exp(rng.uniform(math.log(CONTACT_OHM[0]), math.log(CONTACT_OHM[1]), count)),
        rng.random(count),
        rng.random(count) < STAYS,
    )


def slipped(
    lot: SlipLot,
    right: np.ndarray,
    neighbour: np.ndarray,
    *,
    quantity: str,
    meter: Meter,
    gain: np.ndarray,
    offset: np.ndarray,
) -> tuple[np.ndarray, np.ndarray]:
    """Displayed values with the slips in, low and high end (alike unless jumpy). right, neighbour: true values."""
    volts = quantity in ("dc_voltage", "ac_voltage")
    true = np.where(lot.kind == NEIGHBOUR, neighbour, right)
    if volts:
        true = np.where(lot.kind == REVERSED, -true if quantity == "dc_voltage" else true, true)
        true = np.where(lot.kind == BLACK, true * meter.input_ohm / (meter.input_ohm + lot.contact_ohm), true)
        true = np.where(lot.kind == MISSED, 0.0, np.where(lot.kind == GHOST, lot.ghost_v, true))
    elif quantity == "resistance":
        true = np.where(lot.kind == BLACK, true + lot.contact_ohm, true)
        true = np.where((lot.kind == MISSED) | (lot.kind == GHOST), np.inf, true)
    elif quantity == "current":
        true = np.where((lot.kind == MISSED) | (lot.kind == GHOST), 0.0, np.where(lot.kind == REVERSED, -true, true))
    shown = np.asarray(meter.shows(quantity, true, gain=gain, offset=offset))
    finite = np.where(np.isfinite(shown), shown, 0.0)
    swing = np.where(lot.kind == JUMPY, lot.swing * JUMPS * np.abs(finite) + lot.swing * JUMPS_V * volts, 0.0)
    swing = np.where(shown == OVER, 0.0, swing)
    return shown - swing, shown + swing


def misread(
    lot: SlipLot,
    right: np.ndarray,
    before: np.ndarray,
    *,
    quantity: str,
    meter: Meter,
    gain: np.ndarray,
    offset: np.ndarray,
) -> tuple[np.ndarray, np.ndarray]:
    """A gauge's values with the slips in, low and high end (alike unless jumpy), by the same lots as probes.

    A clamp (quantity current): missed is jaws that do not close, ghost and black one that was not zeroed, neighbour one
    beside its wire. A display: missed, ghost and neighbour are one that still shows what stood there `before`, key on and
    all else at rest; it has no leads to reverse. All common practice, no source.
    """
    if quantity == "current":
        true = np.where(lot.kind == MISSED, right * (CLOSED[0] + lot.swing * (CLOSED[1] - CLOSED[0])), right)
        true = np.where(lot.kind == GHOST, right + lot.swing * ZERO_A, true)
        true = np.where(lot.kind == BLACK, right - lot.swing * ZERO_A, true)
        true = np.where(lot.kind == NEIGHBOUR, 0.0, np.where(lot.kind == REVERSED, -right, true))
    else:
        true = np.where(np.isin(lot.kind, (MISSED, GHOST, NEIGHBOUR)), before, right)
    shown = np.asarray(meter.shows(quantity, true, gain=gain, offset=offset))
    finite = np.where(np.isfinite(shown), shown, 0.0)
    swing = np.where((lot.kind == JUMPY) & (shown != OVER), lot.swing * JUMPS * np.abs(finite), 0.0)
    return shown - swing, shown + swing


def neighbour_of(point: str, sheet: MachineSheet) -> str:
    """The pin beside this one in the same plug, by the order of the sheet's wires; itself where there is none."""
    place, _, wire = point.rpartition(".")
    beside = [name for name, spec in sheet.wires.items() if place in spec.pins]
    if wire not in beside or len(beside) < 2:
        return point
    i = beside.index(wire)
    return f"{place}.{beside[i + 1 if i + 1 < len(beside) else i - 1]}"
