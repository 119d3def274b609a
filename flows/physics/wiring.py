"""Copper conductors: resistance from area, gauge and temperature, and the drop along a wire."""

import math
from bisect import bisect_left
from collections.abc import Mapping
from types import MappingProxyType

COPPER_OHM_MM2_PER_M = 1 / 58  # annealed copper at 20 degC, 100 percent IACS; IEC 60028:1925
COPPER_PER_K = 0.00393  # temperature coefficient at 20 degC, constant mass; IEC 60028:1925

# ISO 6722-1, bare copper, greatest resistance at 20 degC [mohm/m] by nominal area [mm2]: read in a cable maker's public
# table up to 16 mm2 (10 mm2 and above 16 from memory).
ISO_6722_MOHM_PER_M: Mapping[float, float] = MappingProxyType(
    {
        0.35: 54.4,
        0.5: 37.1,
        0.75: 24.7,
        1.0: 18.5,
        1.5: 12.7,
        2.0: 9.42,
        2.5: 7.60,
        3.0: 6.15,
        4.0: 4.71,
        6.0: 3.14,
        10.0: 1.82,
        16.0: 1.16,
        25.0: 0.743,
        35.0: 0.527,
        50.0: 0.368,
    }
)
WORST_OVER_IDEAL = 1.105  # greatest ISO 6722-1 value over 1/58/area in the table; used between and beyond its rows

# IEC 60228 class 5 (flexible), greatest resistance at 20 degC [mohm/m] by nominal area [mm2], plain and tinned copper:
# read in two public tables that agree. Wiring of a generator set's panel is of this kind, a vehicle's of the other.
IEC_60228_CLASS_5_MOHM_PER_M: Mapping[float, tuple[float, float]] = MappingProxyType(
    {
        0.5: (39.0, 40.1),
        0.75: (26.0, 26.7),
        1.0: (19.5, 20.0),
        1.5: (13.3, 13.7),
        2.5: (7.98, 8.21),
        4.0: (4.95, 5.09),
        6.0: (3.30, 3.39),
    }
)


def copper_factor(temperature_c: float) -> float:
    """R(T) / R(20 degC) of copper at temperature_c [degC], -100..250.

    Source: IEC 60028, 1 + 0.00393 (T - 20). Raises ValueError outside the range.

    >>> round(copper_factor(80), 4)
    1.2358
    """
    if not -100 <= temperature_c <= 250:
        raise ValueError(f"temperature_c is {temperature_c:g}, must be -100 to 250 degC for a copper wire")
    return 1 + COPPER_PER_K * (temperature_c - 20)


def copper_ohm_at(ohm_at_20c: float, temperature_c: float) -> float:
    """Resistance [ohm] of a copper winding at temperature_c [degC, -100..250] from its resistance at 20 degC [ohm].

    Source: IEC 60028 (copper_factor). Raises ValueError outside the range.

    >>> round(copper_ohm_at(12.0, 80), 2)
    14.83
    """
    return ohm_at_20c * copper_factor(temperature_c)


def ideal_mohm_per_m(area_mm2: float) -> float:
    """Resistance [mohm/m] of solid annealed copper of this area [mm2, above 0] at 20 degC.

    Source: IEC 60028:1925, 1/58 ohm mm2/m. Raises ValueError when area_mm2 is not above 0.

    >>> round(ideal_mohm_per_m(2.5), 2)
    6.9
    """
    if not area_mm2 > 0:
        raise ValueError(f"area_mm2 is {area_mm2:g}, must be above 0")
    return 1000 * COPPER_OHM_MM2_PER_M / area_mm2


def awg_diameter_mm(gauge: int) -> float:
    """Diameter [mm] of an AWG size, -3 (0000) to 40.

    Source: ASTM B258, 0.127 mm * 92^((36 - n) / 39); formula from memory, its results equal a public dataset.
    Raises ValueError for another size.

    >>> round(awg_diameter_mm(18), 4)
    1.0237
    """
    if not -3 <= gauge <= 40:
        raise ValueError(f"gauge is {gauge}, must be -3 (0000) to 40")
    return 0.127 * 92 ** ((36 - gauge) / 39)


def awg_area_mm2(gauge: int) -> float:
    """Copper area [mm2] of a solid AWG size, -3 (0000) to 40.

    Source: ASTM B258 diameter, area of a circle. Raises ValueError for another size.

    >>> round(awg_area_mm2(18), 4)
    0.823
    """
    return math.pi / 4 * awg_diameter_mm(gauge) ** 2


def iso_6722_mohm_per_m(area_mm2: float) -> float:
    """Greatest resistance [mohm/m] at 20 degC that a road-vehicle cable of this nominal area [mm2] may have.

    Source: ISO 6722-1 table; an area that is no row of it gets the ideal value times 1.105, the table's worst ratio.
    Raises ValueError when area_mm2 is not above 0.

    >>> iso_6722_mohm_per_m(0.5)
    37.1
    """
    areas = list(ISO_6722_MOHM_PER_M)
    place = bisect_left(areas, area_mm2 - 1e-9)
    if place < len(areas) and math.isclose(areas[place], area_mm2, rel_tol=1e-6):
        return ISO_6722_MOHM_PER_M[areas[place]]
    return WORST_OVER_IDEAL * ideal_mohm_per_m(area_mm2)


def iec_60228_mohm_per_m(area_mm2: float, *, tinned: bool = False) -> float:
    """Greatest resistance [mohm/m] at 20 degC of a class 5 (flexible) conductor of this nominal area [mm2].

    Source: IEC 60228, two public tables. Raises ValueError for an area that is no row of it: 0.5 to 6 mm2.

    >>> iec_60228_mohm_per_m(2.5), iec_60228_mohm_per_m(2.5, tinned=True)
    (7.98, 8.21)
    """
    if area_mm2 not in IEC_60228_CLASS_5_MOHM_PER_M:
        rows = ", ".join(f"{area:g}" for area in IEC_60228_CLASS_5_MOHM_PER_M)
        raise ValueError(f"area_mm2 is {area_mm2:g}, which is no row of the table; use one of {rows}")
    return IEC_60228_CLASS_5_MOHM_PER_M[area_mm2][tinned]


def wire_ohm(area_mm2: float, length_m: float, *, temperature_c: float = 20.0) -> float:
    """Greatest resistance [ohm] of a wire of nominal area [mm2] and length [m, 0 or more] at temperature_c [degC].

    Source: ISO 6722-1 at 20 degC, IEC 60028 for the temperature. Raises ValueError for a length below 0.

    >>> round(wire_ohm(2.5, 3, temperature_c=80), 5)
    0.02818
    """
    if not length_m >= 0:
        raise ValueError(f"length_m is {length_m:g}, must be 0 m or more")
    return iso_6722_mohm_per_m(area_mm2) / 1000 * length_m * copper_factor(temperature_c)


def wire_drop_v(current_a: float, area_mm2: float, *, length_m: float, temperature_c: float = 20.0) -> float:
    """Greatest drop [V] along a wire of area_mm2 [mm2], length_m [m] at temperature_c [degC], carrying current_a [A].

    Source: Ohm's law on wire_ohm, whose errors it raises.

    >>> round(wire_drop_v(10, 2.5, length_m=3), 4)
    0.228
    """
    return current_a * wire_ohm(area_mm2, length_m, temperature_c=temperature_c)


def joint_ohm(measured_drop_v: float, wire_v: float, *, current_a: float) -> float:
    """Resistance [ohm] of the joints: what a measured drop [V] has above the wire's own share wire_v [V], at current_a [A].

    Source: Ohm's law. Raises ValueError at 0 A.

    >>> round(joint_ohm(0.500, 0.228, current_a=10), 4)
    0.0272
    """
    if current_a == 0:
        raise ValueError("current_a is 0: a drop means nothing unless the circuit carries its current")
    return (measured_drop_v - wire_v) / current_a
