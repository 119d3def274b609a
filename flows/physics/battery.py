"""Starting batteries: rest voltage by chemistry, cranking floor, charging voltage, each with temperature."""

from collections.abc import Mapping, Sequence
from itertools import pairwise
from types import MappingProxyType

# Flooded lead-acid, rested, 26.7 degC: read in two public tables; others differ by up to 0.1 V.
FLOODED_REST_V: Sequence[tuple[float, float]] = ((0, 11.89), (25, 12.06), (50, 12.24), (75, 12.45), (100, 12.65))
FLOODED_GRAVITY: Sequence[tuple[float, float]] = ((0, 1.120), (25, 1.155), (50, 1.190), (75, 1.225), (100, 1.265))
ACID_FREEZING_C: Sequence[tuple[float, float]] = ((0, -8.0), (25, -15.0), (50, -24.0), (75, -37.0), (100, -59.4))
REST_TABLE_C = 26.7
REST_V_PER_K = 0.0012  # electrochemical, six cells; from memory
# Half the cold-cranking current for 15 s: common practice, widely printed, no standard found.
CRANKING_FLOOR_V: Sequence[tuple[float, float]] = ((-18, 8.5), (-1, 9.1), (10, 9.4), (21, 9.6))
CHARGING_V_PER_K = -0.018  # six cells at -3 mV/K each, battery-education pages

# Charger's voltage per cell at 25 degC [V]: battery-education pages.
STAGE_CELL_V: Mapping[str, tuple[float, float]] = MappingProxyType({"charge": (2.40, 2.45), "float": (2.25, 2.30)})

# Rest band a fit battery lies in [V]: common practice, no source. Top ends leave room for surface charge.
REST_BAND_V: Mapping[str, tuple[float, float]] = MappingProxyType(
    {"flooded": (12.3, 13.0), "agm": (12.4, 13.2), "lifepo4": (12.9, 13.7)}
)
# Charging band at 25 degC, engine fast enough to charge [V]: common practice, no source.
CHARGING_BAND_V: Mapping[str, tuple[float, float]] = MappingProxyType(
    {"flooded": (13.5, 14.8), "agm": (13.6, 14.8), "lifepo4": (13.6, 14.6)}
)


def interpolated(x: float, table: Sequence[tuple[float, float]]) -> float:
    """Value at x from (x, y) rows in rising x, straight between rows, flat beyond the ends.  Source: linear interpolation.

    >>> interpolated(5, [(0, 0.0), (10, 1.0)]), interpolated(99, [(0, 0.0), (10, 1.0)])
    (0.5, 1.0)
    """
    if x <= table[0][0]:
        return table[0][1]
    for (x0, y0), (x1, y1) in pairwise(table):
        if x <= x1:
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
    return table[-1][1]


def flooded_rest_v(charge_percent: float, temperature_c: float = REST_TABLE_C) -> float:
    """Open-circuit voltage [V] of a rested flooded 12 V battery by state of charge [percent, 0..100] and temperature [degC].

    Source: public battery tables (a point of a band of 0.1 V); 1.2 mV/K from memory. Raises ValueError outside 0..100.

    >>> round(flooded_rest_v(75), 2)
    12.45
    """
    if not 0 <= charge_percent <= 100:
        raise ValueError(f"charge_percent is {charge_percent:g}, must be 0 to 100")
    return interpolated(charge_percent, FLOODED_REST_V) + REST_V_PER_K * (temperature_c - REST_TABLE_C)


def flooded_charge_percent(rest_v: float, temperature_c: float = REST_TABLE_C) -> float:
    """State of charge [percent, 0..100] of a rested flooded 12 V battery from its voltage [V] at temperature_c [degC].

    Source: flooded_rest_v read backwards; a public table is a point of a band of 0.1 V, which is 40 percent of charge.

    >>> round(flooded_charge_percent(12.55), 1), round(flooded_charge_percent(12.30), 1)
    (87.5, 57.1)
    """
    at_table = rest_v - REST_V_PER_K * (temperature_c - REST_TABLE_C)
    return interpolated(at_table, [(volts, charge) for charge, volts in FLOODED_REST_V])


def corrected_gravity(reading: float, temperature_c: float) -> float:
    """Specific gravity at 26.7 degC from a hydrometer reading at temperature_c [degC]: 0.004 for each 5.6 K.

    Source: battery-council table as printed in public pages: add above 26.7 degC, subtract below. The 0.024 V per 5.6 K
    that some print beside it is six times this number, no electrochemistry: flooded_rest_v has 1.2 mV/K.

    >>> round(corrected_gravity(1.250, 10), 3)
    1.238
    """
    return reading + 0.004 * (temperature_c - 26.7) / 5.6


def cell_rule_v(specific_gravity: float) -> float:
    """Rest voltage [V] of six cells by the rule: gravity + 0.845 V a cell.  Source: from memory, 0.84 to 0.85.

    >>> round(cell_rule_v(1.265), 2)
    12.66
    """
    return 6 * (specific_gravity + 0.845)


def flooded_gravity(charge_percent: float) -> float:
    """Specific gravity at 26.7 degC of a flooded battery's acid at a state of charge [percent, 0..100].

    Source: the same two public tables as flooded_rest_v. Raises ValueError outside 0..100.

    >>> flooded_gravity(50)
    1.19
    """
    if not 0 <= charge_percent <= 100:
        raise ValueError(f"charge_percent is {charge_percent:g}, must be 0 to 100")
    return interpolated(charge_percent, FLOODED_GRAVITY)


def acid_freezing_c(charge_percent: float) -> float:
    """Temperature [degC] at which the acid of a flooded battery freezes, by its state of charge [percent, 0..100].

    A battery that may be frozen is never charged or jumped. Source: -59.4 at full charge from a public table, the rest
    from memory (that table's other rows are wrong). Raises ValueError outside 0..100.

    >>> acid_freezing_c(100), acid_freezing_c(25)
    (-59.4, -15.0)
    """
    if not 0 <= charge_percent <= 100:
        raise ValueError(f"charge_percent is {charge_percent:g}, must be 0 to 100")
    return interpolated(charge_percent, ACID_FREEZING_C)


def cranking_floor_v(temperature_c: float) -> float:
    """Least voltage [V] while cranking at temperature_c [degC].

    Source: common practice for a lead-acid battery loaded with half its cold-cranking current; no standard found.

    >>> cranking_floor_v(21), cranking_floor_v(-30)
    (9.6, 8.5)
    """
    return interpolated(temperature_c, CRANKING_FLOOR_V)


def rest_band_v(chemistry: str, temperature_c: float = 25.0) -> tuple[float, float]:
    """Lowest and highest rest voltage [V] of a fit battery: "flooded", "agm" or "lifepo4".

    temperature_c [degC]. Source: common practice, none found; 1.2 mV/K of lead-acid from memory.
    Raises ValueError for another chemistry.

    >>> rest_band_v("agm", 25)
    (12.4, 13.2)
    """
    low, high = REST_BAND_V[_known(chemistry)]
    shift = 0.0 if chemistry == "lifepo4" else REST_V_PER_K * (temperature_c - 25)
    return low + min(0.0, shift), high + max(0.0, shift)


def charging_v(volts_at_25c: float, temperature_c: float) -> float:
    """Charging voltage [V] at temperature_c [degC] of a lead-acid battery from the voltage at 25 degC.

    Source: -3 mV/K a cell, six cells, battery-education pages.

    >>> round(charging_v(14.4, -20), 2)
    15.21
    """
    return volts_at_25c + CHARGING_V_PER_K * (temperature_c - 25)


def charger_band_v(stage: str, temperature_c: float = 25.0) -> tuple[float, float]:
    """Lowest and highest voltage [V] of a charger on six lead-acid cells: stage "charge" or "float", at temperature_c.

    Source: 2.40 to 2.45 and 2.25 to 2.30 V a cell at 25 degC, battery-education pages; -18 mV/K.
    Raises ValueError for another stage.

    >>> [round(v, 2) for v in charger_band_v("float")]
    [13.5, 13.8]
    """
    if stage not in STAGE_CELL_V:
        raise ValueError(f"stage {stage!r} is unknown; use one of {', '.join(STAGE_CELL_V)}")
    low, high = STAGE_CELL_V[stage]
    return charging_v(6 * low, temperature_c), charging_v(6 * high, temperature_c)


def charging_band_v(chemistry: str, temperature_c: float = 25.0) -> tuple[float, float]:
    """Lowest and highest voltage [V] with the engine charging, at temperature_c [degC].

    A fixed regulator ignores temperature and a compensated one follows it, so a lead-acid band holds both.
    Source: common practice, none found. Raises ValueError for another chemistry than rest_band_v takes.

    >>> [round(v, 2) for v in charging_band_v("flooded", 0)]
    [13.5, 15.25]
    """
    low, high = CHARGING_BAND_V[_known(chemistry)]
    if chemistry == "lifepo4":
        return low, high
    return min(low, charging_v(low, temperature_c)), max(high, charging_v(high, temperature_c))


def parasitic_limit_a(capacity_ah: float, *, share: float = 0.3, hours: float = 720) -> float:
    """Greatest steady draw [A] that takes no more than share of the battery's ampere-hours in the hours given.

    capacity_ah [Ah] above 0, share 0..1, hours [h] above 0. Source: common practice, 0.3 of the battery in 720 h (30 days).
    Raises ValueError when capacity_ah or hours is not above 0.

    >>> round(1000 * parasitic_limit_a(28), 1)
    11.7
    """
    if not (capacity_ah > 0 and hours > 0):
        raise ValueError(f"capacity_ah {capacity_ah:g} and hours {hours:g} must be above 0")
    return capacity_ah * share / hours


def _known(chemistry: str) -> str:
    if chemistry not in REST_BAND_V:
        raise ValueError(f"chemistry {chemistry!r} is unknown; use one of {', '.join(REST_BAND_V)}")
    return chemistry
