"""The meter in the technician's hand: its ranges, its digits, its error at a reading, and what it would show."""

import math
from collections.abc import Mapping
from functools import cached_property
from pathlib import Path
from types import MappingProxyType
from typing import Any, Self

import numpy as np
import yaml
from pydantic import BaseModel, ConfigDict, Field, model_validator

from flows.model import FlowError
from flows.units import QUANTITIES, from_base, spoken_unit

NEVER_NEGATIVE = ("resistance", "ac_voltage", "frequency", "engine_speed", "ratio")  # a display has no minus for these
OVER = math.inf  # what shows() gives when the display reads "OL"
METERS = Path(__file__).parent / "meters"
# A display this near the top of a range may stand on the next one, so its error is taken from there.
TOP_SHARE = 0.97
# What a data display or a thermometer shows, for a meter file that leaves them out: full scale, digit.
DISPLAYS = {
    "temperature": (200.0, 1.0),
    "pressure": (300.0, 0.1),
    "ratio": (200.0, 0.1),
    "engine_speed": (10_000.0, 10.0),  # 1/min; tens are the last figure that stands still
}


class MeterError(FlowError, ValueError):
    """A meter file or a question the meter cannot answer; the message says what to do."""


class Face(BaseModel):
    """What stands on the display: the number, its unit and how many digits follow the point."""

    model_config = ConfigDict(frozen=True)
    value: float
    unit: str
    decimals: int


class MeterRange(BaseModel):
    """One range: values in base units, error +-(percent of reading + counts of the last digit)."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    full_scale: float = Field(gt=0, allow_inf_nan=False)
    resolution: float = Field(gt=0, allow_inf_nan=False)
    percent: float = Field(ge=0, le=20)
    counts: float = Field(ge=1, le=100)
    unit: str | None = None  # unit on the display, when it is not the base unit


class Meter(BaseModel):
    """A meter as its data sheet describes it; frozen, built from YAML or in a test."""

    model_config = ConfigDict(extra="forbid", frozen=True, ignored_types=(cached_property,))
    name: str
    input_ohm: float = Field(default=10e6, gt=0)  # on volts
    leads_ohm: float = Field(default=0.2, ge=0, le=5)
    ranges: Mapping[str, tuple[MeterRange, ...]]

    @model_validator(mode="before")
    @classmethod
    def displays_are_there(cls, data: Any) -> Any:
        if not isinstance(data, dict) or not isinstance(data.get("ranges"), Mapping):
            return data
        missing = {
            quantity: [{"full_scale": full, "resolution": digit, "percent": 0, "counts": 1}]
            for quantity, (full, digit) in DISPLAYS.items()
            if quantity not in data["ranges"]
        }
        return {**data, "ranges": {**data["ranges"], **missing}}

    @model_validator(mode="after")
    def ranges_make_sense(self) -> Self:
        for quantity, ranges in self.ranges.items():
            if quantity not in QUANTITIES:
                raise ValueError(f"quantity {quantity!r} is unknown; use one of {', '.join(QUANTITIES)}")
            scales = [r.full_scale for r in ranges]
            if not scales or scales != sorted(set(scales)):
                raise ValueError(f"ranges of {quantity} must be given from the lowest to the highest, each once")
            for r in ranges:
                if r.unit is not None and r.unit not in QUANTITIES[quantity].units:
                    raise ValueError(
                        f"{r.unit} is no unit of {quantity}; use one of {', '.join(QUANTITIES[quantity].units)}"
                    )
        return self

    @cached_property
    def _columns(self) -> Mapping[str, tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]]:
        return MappingProxyType(
            {
                quantity: tuple(  # type: ignore[misc]
                    np.array([getattr(r, field) for r in ranges])
                    for field in ("full_scale", "resolution", "percent", "counts")
                )
                for quantity, ranges in self.ranges.items()
            }
        )

    def measures(self, quantity: str) -> bool:
        """Whether this meter has a range for the quantity."""
        return quantity in self.ranges

    def range_for(self, quantity: str, value: float) -> MeterRange:
        """The lowest range that holds the value, as an auto-ranging meter chooses; the highest when none does."""
        self._must_measure(quantity)
        return next((r for r in self.ranges[quantity] if abs(value) <= r.full_scale), self.ranges[quantity][-1])

    def error(self, quantity: str, value: Any) -> Any:
        """Half-width a of the error at a value or array of values, base unit: percent of reading plus counts."""
        resolution, percent, counts = self._at(quantity, value, top=TOP_SHARE)
        return _like(value, np.abs(value) * percent / 100 + counts * resolution)

    def standard_uncertainty(self, quantity: str, value: Any, *, said_digit: Any = 0.0) -> Any:
        """u: the maker's error as rectangular, and the rounding of the last digit, in quadrature (JCGM 100).

        said_digit: the last digit the person said, where coarser than the display's ("four point nine").
        """
        resolution, percent, counts = self._at(quantity, value, top=TOP_SHARE)
        half_width = np.abs(value) * percent / 100 + counts * resolution
        digit = np.maximum(resolution, said_digit)
        return _like(value, np.sqrt(half_width**2 / 3 + digit**2 / 12))

    def expanded_uncertainty(self, quantity: str, value: Any, *, said_digit: Any = 0.0) -> Any:
        """U = 2 u, about 95 percent; it is a little more than the maker's whole error half-width."""
        return 2 * self.standard_uncertainty(quantity, value, said_digit=said_digit)

    def shows(self, quantity: str, true_value: Any, *, gain: Any = 0.0, offset: Any = 0.0) -> Any:
        """What the display shows for a true value (or array), base unit, rounded to the digit; OVER past the top range.

        gain, offset: -1..1, this meter's share of the percent and of the counts its maker allows. One meter keeps its
        own for all its readings. Half a count is left for the rounding, so the total stays inside the maker's error.
        On ohms the leads are read along with the part.
        """
        self._must_measure(quantity)
        there = np.asarray(true_value, dtype=float) + (self.leads_ohm if quantity == "resistance" else 0.0)
        finite = np.where(np.isfinite(there), there, 0.0)
        resolution, percent, counts = self._at(quantity, finite)
        moved = finite * (1 + np.asarray(gain) * percent / 100) + np.asarray(offset) * (counts - 0.5) * resolution
        rounded = np.round(moved / resolution) * resolution
        if quantity in NEVER_NEGATIVE:
            rounded = np.maximum(rounded, 0.0)
        top = self.ranges[quantity][-1].full_scale
        over = ~np.isfinite(there) | (np.abs(rounded) > top * (1 + 1e-9))
        return _like(true_value, np.where(over, OVER, np.round(rounded, 9) + 0.0))

    def decimals(self, quantity: str, value: float) -> int:
        """Digits after the point on the display for this value, in the base unit."""
        return _decimals(self.range_for(quantity, value).resolution)

    def face(self, quantity: str, shown: float) -> Face:
        """The shown value as it stands on the display, in the display's unit: 0.4123 V is 412.3 mV on the low range."""
        chosen = self.range_for(quantity, shown)
        unit = chosen.unit or QUANTITIES[quantity].base
        factor = QUANTITIES[quantity].units[unit][0]
        decimals = _decimals(chosen.resolution / factor)
        return Face(value=round(from_base(shown, unit, quantity), decimals), unit=unit, decimals=decimals)

    def _at(self, quantity: str, value: Any, *, top: float = 1.0) -> tuple[Any, Any, Any]:
        self._must_measure(quantity)
        full_scale, resolution, percent, counts = self._columns[quantity]
        index = np.minimum(np.searchsorted(full_scale * top, np.abs(value), side="left"), len(full_scale) - 1)
        return resolution[index], percent[index], counts[index]

    def _must_measure(self, quantity: str) -> None:
        if quantity not in self.ranges:
            wanted = spoken_unit(QUANTITIES[quantity].base) if quantity in QUANTITIES else quantity
            raise MeterError(f"meter {self.name!r} has no range for {wanted}; it has {', '.join(self.ranges)}")


def _like(value: Any, result: Any) -> Any:
    return result if isinstance(value, np.ndarray) and value.ndim else float(result)


def _decimals(digit: float) -> int:
    return max(0, -math.floor(math.log10(digit) + 1e-9))


def meter_names() -> tuple[str, ...]:
    """Names of the meters that come with the tool."""
    return tuple(sorted(path.stem for path in METERS.glob("*.yaml")))


def load_meter(path_or_name: str | Path = "bench") -> Meter:
    """A shipped meter by name, or one from a YAML file.  Raises MeterError saying what is wrong and what to do."""
    path = Path(path_or_name)
    if not path.suffix:
        path = METERS / f"{path_or_name}.yaml"
        if not path.exists():
            raise MeterError(f"no meter named {path_or_name!r}; use one of {', '.join(meter_names())} or a YAML file")
    try:
        data = yaml.safe_load(path.read_text(encoding="utf-8"))
        if not isinstance(data, dict):
            raise ValueError("the file holds no keys; it needs name and ranges")
        return Meter(**data)
    except OSError as error:
        raise MeterError(f"{path} cannot be read: {error.strerror}; give a YAML file that exists") from error
    except (ValueError, TypeError, yaml.YAMLError) as error:
        raise MeterError(f"{path} is not a meter: {error}") from error
