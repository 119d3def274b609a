"""Sensors of the engine: ratiometric pressure, narrow-band oxygen cell, toothed wheel, coil current."""

import math

GAS_J_PER_MOL_K = 8.314462618  # CODATA, exact since 2019
FARADAY_C_PER_MOL = 96485.33212  # CODATA, exact since 2019
OXYGEN_IN_AIR_ATM = 0.2095


def ratiometric_v(pressure_kpa: float, *, supply_v: float, a_per_kpa: float, b: float) -> float:
    """Output [V] of a ratiometric pressure sensor: Vs (a p - b), held between 0 and the supply.

    pressure_kpa: absolute. a_per_kpa [1/kPa] and b: the sensor's data. supply_v [V] 0 or more, else ValueError.
    Source: the usual form of data sheets; check at 101.325 kPa, 0.009 and 0.095 on 5 V, by hand 4.085 V.

    >>> round(ratiometric_v(101.325, supply_v=5.0, a_per_kpa=0.009, b=0.095), 3)
    4.085
    """
    if not supply_v >= 0:
        raise ValueError(f"supply_v is {supply_v:g}, must be 0 V or more")
    return supply_v * min(1.0, max(0.0, a_per_kpa * pressure_kpa - b))


def ratiometric_kpa(signal_v: float, *, supply_v: float, a_per_kpa: float, b: float) -> float:
    """Absolute pressure [kPa] that a ratiometric sensor's signal [V] means on this supply [V, above 0].

    Source: ratiometric_v solved for the pressure. Raises ValueError when supply_v or a_per_kpa is not above 0.

    >>> round(ratiometric_kpa(3.125, supply_v=5.0, a_per_kpa=0.009, b=0.095), 6)
    80.0
    """
    if not (supply_v > 0 and a_per_kpa > 0):
        raise ValueError(f"supply_v {supply_v:g} and a_per_kpa {a_per_kpa:g} must be above 0")
    return (signal_v / supply_v + b) / a_per_kpa


def nernst_slope_v(temperature_c: float) -> float:
    """RT / 4F [V] of an oxygen cell at temperature_c [degC].

    Source: Nernst equation, four electrons a molecule; CODATA constants. Raises ValueError at or below absolute zero.

    >>> round(1000 * nernst_slope_v(700), 3)
    20.965
    """
    if not temperature_c > -273.15:
        raise ValueError(f"temperature_c is {temperature_c:g}, must be above absolute zero")
    return GAS_J_PER_MOL_K * (temperature_c + 273.15) / (4 * FARADAY_C_PER_MOL)


def oxygen_cell_v(exhaust_atm: float, temperature_c: float, *, air_atm: float = OXYGEN_IN_AIR_ATM) -> float:
    """Voltage [V] of a narrow-band oxygen cell: (RT / 4F) ln(pO2 air / pO2 exhaust), partial pressures [atm] above 0.

    temperature_c [degC]. Source: Nernst equation; air has 0.2095 atm of oxygen. Raises ValueError at 0 atm or below.

    >>> round(1000 * oxygen_cell_v(0.02, 700), 1)
    49.2
    """
    if not (exhaust_atm > 0 and air_atm > 0):
        raise ValueError(f"partial pressures {exhaust_atm:g} and {air_atm:g} atm must be above 0")
    return nernst_slope_v(temperature_c) * math.log(air_atm / exhaust_atm)


def tooth_rate_hz(rpm: float, *, pitches: int) -> float:
    """Rate [Hz] at which teeth pass: pitches * rpm / 60, missing teeth counted as teeth.

    rpm [1/min] 0 or more, pitches above 0, else ValueError. Source: one revolution passes every pitch once.

    >>> tooth_rate_hz(250, pitches=36)
    150.0
    """
    if not (rpm >= 0 and pitches > 0):
        raise ValueError(f"rpm {rpm:g} must be 0 or more and pitches {pitches} above 0")
    return pitches * rpm / 60


def mean_pulse_hz(rpm: float, *, pitches: int, missing: int) -> float:
    """Mean pulses per second [Hz] that a counter shows on a wheel with missing teeth, rpm [1/min].

    Source: tooth_rate_hz less the share that is missing. Raises ValueError unless 0 <= missing < pitches.

    >>> round(mean_pulse_hz(250, pitches=36, missing=1), 1)
    145.8
    """
    if not 0 <= missing < pitches:
        raise ValueError(f"missing is {missing}, must be 0 to {pitches - 1}")
    return tooth_rate_hz(rpm, pitches=pitches) * (pitches - missing) / pitches


def coil_current_a(supply_v: float, ohm: float) -> float:
    """Steady current [A] through a coil of ohm [above 0] on supply_v [V].

    Source: Ohm's law; a coil that has settled is its resistance. Raises ValueError when ohm is not above 0.

    >>> round(coil_current_a(14.2, 12.0), 3)
    1.183
    """
    if not ohm > 0:
        raise ValueError(f"ohm is {ohm:g}, must be above 0")
    return supply_v / ohm
