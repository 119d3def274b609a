"""Engines to try a flow on: place, weather, healthy tolerances, fault size, meter, and whether all can be reached."""

import math
from dataclasses import fields, replace

import numpy as np

from flows.network.faults import Draw
from flows.site import Site
from flows.trial.lots import Engines

ALTITUDE_M = (-300.0, 4500.0)
OUTDOOR_C = (-20.0, 50.0)
# Times the circuit's typical size. A typical size is four times the least that counts, so a quarter is the least.
SEVERITY = (0.25, 2.5)
TYPICAL_FROM = 0.75  # from here on a fault is reported as one of typical size
SITES_MOST = 250  # places are shared from this many on: limits and least sizes are worked out once a place


def draw_engines(
    count: int, *, seed: int, severity: tuple[float, float] = SEVERITY, beyond_reach: float = 0.0
) -> Engines:
    """Healthy engines by lot, with a fault size each; every fault of a trial is put into the same engines.

    beyond_reach: share of technicians who cannot reach what "cannot" closes for the whole session.
    Sharing them between faults costs no bias, and what a healthy part reads is worked out once for all faults.
    """
    rng = np.random.default_rng([seed, 20])
    places = min(count, SITES_MOST)
    sites = tuple(
        Site(altitude_m=round(float(metres), 1), outdoor_c=round(float(degrees)))
        for metres, degrees in zip(rng.uniform(*ALTITUDE_M, places), rng.uniform(*OUTDOOR_C, places), strict=True)
    )
    draws = tuple(_draw(rng, severity) for _ in range(count))
    return Engines(
        draws,
        sites,
        np.arange(count) % max(places, 1),
        rng.uniform(-1, 1, count),
        rng.uniform(-1, 1, count),
        rng.random(count) >= beyond_reach,
    )


def _draw(rng: np.random.Generator, severity: tuple[float, float]) -> Draw:
    """Shares of the tolerances even, the fault's size even in its logarithm, what can be seen seen half of the time."""
    shares = {
        field.name: float(rng.uniform(-1, 1)) for field in fields(Draw) if field.default == 0.0 and field.type is float
    }
    size = math.exp(rng.uniform(math.log(severity[0]), math.log(severity[1])))
    return replace(Draw(**shares), severity=size, visible=bool(rng.random() < 0.5))  # type: ignore[arg-type]


def engines_at(site: Site, count: int, *, seed: int = 1, severity: tuple[float, float] = SEVERITY) -> Engines:
    """Engines by lot that all stand at one place: what a session's suspects are weighed with."""
    made = draw_engines(count, seed=seed, severity=severity)
    return Engines(made.draws, (site,), np.zeros(count, dtype=int), made.gain, made.offset, made.reaches)
