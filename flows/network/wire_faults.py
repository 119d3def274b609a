"""Faults of wires by rule: broken, with resistance, touching something, leaking to something, coming and going.

A leak is a wet or corroded plug, or damp in a chafed loom: conductance from a wire to ground or to its neighbour in the
plug. It is sized from the least that counts, as everything that grows, down two decades of ohms towards a short.
"""

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

from flows.network.faults import Fault

if TYPE_CHECKING:
    from flows.network.description import Run

Role = Literal["signal", "supply", "ground", "feed", "drive"]
SHORTS: dict[Role, tuple[str, ...]] = {
    "signal": ("ground", "battery", "supply"),
    "supply": ("ground", "battery"),
    "ground": (),  # on battery it burns or blows a fuse; on ground nothing leaves its tolerance
    "feed": ("ground",),
    "drive": ("ground", "battery"),
}
# From 10 megohm, which no pull resistor of the sheet notices, to 100 ohm; below that lies a short. Wet or corroded
# plugs of 100 ohm to some hundred kilohm are common practice, no source; the least that counts is worked out.
LEAKS_S = (1e-7, 1e-2)
LEAKS_STRETCH = 2.0  # two decades from the mildest to the worst


def faults_of_wires(runs: Sequence["Run"], *, supply: str) -> Iterator[Fault]:
    """Every fault of these wires. supply: the five volt wire among them, "" when there is none."""
    for run in runs:
        yield from _alone(run)
    for run in runs:
        for other in _touches(run):
            yield Fault(
                f"{run.wire}-short-to-{other}", "short", f"{run.wire} wire on {other}", wire=run.wire, other=other
            )
    for one, two in pairwise(runs):
        if one.ends[0].place != two.ends[0].place or supply in (one.wire, two.wire):
            continue
        if one.role == two.role == "ground" or "feed" in (one.role, two.role):
            continue
        name = f"{one.wire}-short-to-{two.wire}-wire"
        yield Fault(name, "short", f"{one.wire} and {two.wire} wires touch", wire=one.wire, other=f"wire {two.wire}")
    yield from _leaks(runs, supply=supply)


def _touches(run: "Run") -> tuple[str, ...]:
    return SHORTS[run.role] if run.shorts is None else run.shorts


def _alone(run: "Run") -> Iterator[Fault]:
    wire = run.wire
    if "open" in run.kinds:
        yield Fault(f"{wire}-open", "open", f"{wire} wire open", wire=wire)
    if "resistance" in run.kinds:
        yield Fault(f"{wire}-resistance", "resistance", f"{wire} wire has resistance", wire=wire, grows=run.spans)
    if "intermittent" in run.kinds:
        yield Fault(f"{wire}-intermittent", "intermittent", f"{wire} opens when moved", wire=wire, where="harness")
        for end in run.ends:
            if end.contact:
                yield Fault(run.loose(end), "intermittent", f"{wire} terminal loose", wire=wire, where=end.place)


def _leaks(runs: Sequence["Run"], *, supply: str) -> Iterator[Fault]:
    """To ground where a wire may touch it and, where two are neighbours in a plug, from one to the other.

    Those that never count fall out later, when they are sized.
    """
    for run in runs:
        if "ground" in _touches(run):
            yield _leak(run.wire, "ground", says=f"{run.wire} wire leaks to ground")
    for one, two in pairwise(runs):
        if one.ends[0].place != two.ends[0].place or not one.ends[0].item or one.role == two.role == "ground":
            continue
        if supply in (one.wire, two.wire):
            wire = two.wire if one.wire == supply else one.wire
            yield _leak(wire, "supply", says=f"{wire} wire leaks to the five volts")
        else:
            says = f"{one.wire} and {two.wire} wires leak to each other"
            yield _leak(one.wire, f"wire {two.wire}", says=says)


def _leak(wire: str, other: str, *, says: str) -> Fault:
    words = f"{other.removeprefix('wire ')}-wire" if other.startswith("wire ") else other
    name = f"{wire}-leak-to-{words}"
    return Fault(name, "leak", says, wire=wire, other=other, grows=LEAKS_S, stretch=LEAKS_STRETCH)
