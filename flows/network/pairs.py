"""Two faults at once, by rule and bounded: on one wire, or one on the supply and one on a ground."""

from collections.abc import Iterable, Iterator, Mapping
from itertools import combinations, product
from typing import TYPE_CHECKING

from flows.network.faults import Fault

if TYPE_CHECKING:
    from flows.network.description import Description

MOST = 40  # of one circuit; what is left out is spread evenly over the rest
STAY = ("open", "resistance", "short", "leak")


def pairs_of(d: "Description", faults: Iterable[Fault]) -> Iterator[Fault]:
    """At most MOST pairs. Of one kind and one wire there are none: two leaks of a plug are one wet plug."""
    kept = tuple(faults)
    by_wire: dict[str, list[Fault]] = {}
    for fault in kept:
        if fault.wire and (fault.kind in STAY or fault.kind == "intermittent"):
            by_wire.setdefault(fault.wire, []).append(fault)
    made = [pair for on_one in by_wire.values() for pair in combinations(on_one, 2) if pair[0].kind != pair[1].kind]
    made += _supply_and_ground(d, by_wire)
    step = max(1.0, len(made) / MOST)
    for number in range(min(len(made), MOST)):
        yield _pair(*made[int(number * step)])


def _supply_and_ground(d: "Description", by_wire: Mapping[str, list[Fault]]) -> list[tuple[Fault, Fault]]:
    """Each fault that stays of a supply beside each of a ground."""
    roles = {run.wire: run.role for run in d.runs}
    of = {role: [f for w, fs in by_wire.items() if roles.get(w) == role for f in fs] for role in ("supply", "ground")}
    stay = {role: [f for f in fs if f.kind in STAY] for role, fs in of.items()}
    return list(product(stay["supply"], stay["ground"]))


def _pair(one: Fault, two: Fault) -> Fault:
    return Fault(f"{one.name}+{two.name}", "pair", f"{one.says}, and {two.says}", of=(one, two))
