"""Windows for many engines: each worked out once for the place and the earlier readings it really rests on."""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from flows.meter import Meter
from flows.model import Step
from flows.sheet import MachineSheet
from flows.site import Site
from flows.trial.lots import Engines
from flows.windows import WindowError, compute

NO_WINDOW = (math.nan, math.nan, False)


@dataclass(frozen=True)
class Limits:
    """Limits an engine, nan for none; `cannot` where no window can be worked out."""

    low: np.ndarray
    high: np.ndarray
    cannot: np.ndarray
    simple: bool


class _Readings(Mapping[str, float]):
    """One engine's readings; keeps note of which were looked at, present or not."""

    def __init__(self, values: dict[str, float]) -> None:
        self._values = values
        self.asked: set[str] = set()

    def __getitem__(self, step: str) -> float:
        self.asked.add(step)
        return self._values[step]

    def __contains__(self, step: object) -> bool:
        self.asked.add(str(step))
        return step in self._values

    def __iter__(self) -> Iterator[str]:
        self.asked.update(self._values)
        return iter(self._values)

    def __len__(self) -> int:
        return len(self._values)


class _Place:
    """A site that keeps note of having been looked at."""

    def __init__(self, site: Site) -> None:
        self._site, self.asked = site, False

    def __getattr__(self, name: str) -> Any:
        self.asked = True
        return getattr(self._site, name)


class Windows:
    """Limits of a flow's checks, kept by what each rests on: the pure `compute` is called once for each case."""

    def __init__(self, sheet: MachineSheet, meter: Meter) -> None:
        self._sheet, self._meter = sheet, meter
        self._kept: dict[tuple[Any, ...], tuple[float, float, bool] | None] = {}
        self._needs: dict[str, tuple[str, ...]] = {}  # step -> readings its window has asked for so far

    def limits(self, step: Step, readings: Mapping[str, np.ndarray], engines: Engines, which: np.ndarray) -> Limits:
        """Limits of a step for these engines, by the values they have read so far (nan is not read)."""
        rows = [self._window(step, readings, engines, int(i)) for i in which]
        found = [row or NO_WINDOW for row in rows]
        low, high, simple = (np.array(column) for column in zip(*found, strict=True))
        return Limits(low, high, np.array([row is None for row in rows]), bool(np.any(simple)))

    def _window(
        self, step: Step, readings: Mapping[str, np.ndarray], engines: Engines, i: int
    ) -> tuple[float, float, bool] | None:
        needs = self._needs.setdefault(step.name, ())
        values = tuple([float(readings[n][i]) if n in readings else math.nan for n in needs])
        rest = tuple([None if v != v else v for v in values])
        site_number = int(engines.site_of[i])
        for key in ((step.name, rest, None), (step.name, rest, site_number)):
            if key in self._kept:
                return self._kept[key]
        return self._work_out(step, readings, engines.sites[site_number], site_number, i)

    def _work_out(
        self, step: Step, readings: Mapping[str, np.ndarray], site: Site, site_number: int, i: int
    ) -> tuple[float, float, bool] | None:
        assert step.expect is not None
        had = {n: float(v[i]) for n, v in readings.items() if v[i] == v[i]}
        seen, place = _Readings(had), _Place(site)
        window: tuple[float, float, bool] | None
        try:
            made = compute(step.expect, sheet=self._sheet, site=place, meter=self._meter, readings=seen)  # type: ignore[arg-type]
            window = (_or_nan(made.low), _or_nan(made.high), made.simple)
        except WindowError:
            window = None
        new = seen.asked.difference(self._needs[step.name])
        if new:  # what was kept did not tell these apart; it stays right only for what it was asked with
            self._needs[step.name] = (*self._needs[step.name], *sorted(new))
            self._kept = {k: v for k, v in self._kept.items() if k[0] != step.name}
        rest = tuple([had.get(n) for n in self._needs[step.name]])
        self._kept[step.name, rest, site_number if place.asked else None] = window
        return window


def _or_nan(value: float | None) -> float:
    return math.nan if value is None else value
