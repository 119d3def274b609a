"""What a machine sheet says of a sensor or another part that is measured: its kind and its numbers."""

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

FROZEN = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, hide_input_in_errors=True)


class Part(BaseModel):
    """Anything on a sheet: frozen, unknown keys refused."""

    model_config = FROZEN


class RatiometricPressure(Part):
    """An absolute pressure chip: V = Vs * (a_per_kpa * p - b)."""

    kind: Literal["ratiometric_pressure"]
    a_per_kpa: float = Field(gt=0)
    b: float
    tolerance_kpa: float = Field(gt=0)
    cold_factor: float = Field(default=1, ge=1)  # tolerance below cold_below_c is this many times wider
    hot_factor: float = Field(default=1, ge=1)
    cold_below_c: float = 0
    hot_above_c: float = 85
    supply_ma: float = Field(gt=0)  # what the chip itself draws
    output_ohm: float = Field(gt=0)
    low_share: float = Field(gt=0, lt=1)  # the output never leaves this share of the supply ...
    high_share: float = Field(gt=0, lt=1)  # ... and this
    unpowered: Literal["floats", "sinks"]  # what the output does when the chip has no supply or no ground
    sink_ohm: float = Field(gt=0)  # resistance to its ground when it sinks

    def tolerance_at_kpa(self, temperature_c: float) -> float:
        """Half-width [kPa] of the healthy band at this temperature of the sensor."""
        if temperature_c < self.cold_below_c:
            return self.tolerance_kpa * self.cold_factor
        return self.tolerance_kpa * (self.hot_factor if temperature_c > self.hot_above_c else 1)


class SteinhartHart(Part):
    """1/T = a + b ln R + c (ln R)^3, T in kelvin, R in ohm."""

    a: float
    b: float
    c: float


class Thermistor(Part):
    """A resistance that falls as it warms."""

    kind: Literal["thermistor"]
    steinhart_hart: SteinhartHart | None = None
    r25_ohm: float | None = Field(default=None, gt=0)
    beta_k: float | None = Field(default=None, gt=0)
    tolerance_k: float = Field(gt=0)

    @model_validator(mode="after")
    def _one_curve(self) -> "Thermistor":
        if self.steinhart_hart is None and (self.r25_ohm is None or self.beta_k is None):
            raise ValueError("a thermistor has no curve | give steinhart_hart, or r25_ohm with beta_k")
        return self


class PotentiometerSensor(Part):
    """A position sensor: its signal is a share of the supply, least at rest."""

    kind: Literal["potentiometer"]
    ohm: float = Field(gt=0)
    wiper_ohm: float = Field(default=200, gt=0)
    closed_share: float = Field(gt=0, lt=1)
    open_share: float = Field(gt=0, lt=1)
    tolerance_share: float = Field(gt=0, lt=0.5)

    def share(self, opened: float) -> float:
        """Share of the supply at this opening, 0 closed to 1 open."""
        return self.closed_share + (self.open_share - self.closed_share) * opened


class CoilSensor(Part):
    """A coil, heater or motor of copper or other wire: its resistance at 20 degC and how it grows."""

    kind: Literal["coil"]
    ohm_20c: float = Field(gt=0)
    tolerance: float = Field(gt=0, lt=0.9)  # share
    per_k: float = 0.00393  # copper, IEC 60028


class ValuesPart(Part):
    """A part of any other kind: plain numbers by name, unit at the end of the name."""

    kind: Literal["values"]
    values: dict[str, float]


Sensor = Annotated[
    RatiometricPressure | Thermistor | PotentiometerSensor | CoilSensor | ValuesPart, Field(discriminator="kind")
]
