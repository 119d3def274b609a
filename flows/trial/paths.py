"""The usual way of each fault through a flow: a nominal engine, walked once."""

import numpy as np

from flows.network.faults import NOMINAL
from flows.site import Site
from flows.trial.lots import Engines
from flows.trial.walk import Course, Walker, path_of


def usual_paths(course: Course, site: Site | None = None) -> dict[str, tuple[str, ...]]:
    """Fault (and `none`) -> names of the steps a nominal engine goes through, questions and looks among them."""
    walker = Walker(course, _nominal(site))
    return {fault or "none": _path(walker, fault) for fault in (None, *course.circuit.faults())}


def usual_path(course: Course, fault: str | None, site: Site | None = None) -> tuple[str, ...]:
    """Steps of one fault's usual walk; None is the healthy engine."""
    return _path(Walker(course, _nominal(site)), fault)


def _path(walker: Walker, fault: str | None) -> tuple[str, ...]:
    return tuple(name for name, _ in path_of(walker.walk(fault), 0)["path"])


def _nominal(site: Site | None) -> Engines:
    everywhere, middle = np.ones(1, dtype=bool), np.zeros(1)
    return Engines((NOMINAL,), (site or Site(),), np.zeros(1, dtype=int), middle, middle, everywhere)
