"""Faults that come and go: under movement, heat, cold, wet or vibration, generated from the faults that stay.

What each condition does to wires, plugs and parts is common practice, no source: a chafed wire touches when it is moved or
shaken, a poor terminal opens or gains resistance when it is moved, warm or cold, a plug leaks when it is wet, a part opens
or drifts when it is warm or cold. Opens under movement are among the circuit's own faults, since flows look for them.
"""

from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING

from flows.network.faults import Fault

if TYPE_CHECKING:
    from flows.network.description import Description

MOVED, WARMED, CHILLED, WET, SHAKEN = "moving", "warmed", "chilled", "wet", "shaken"
ON_THE_BENCH = (MOVED, WARMED, CHILLED, WET)  # what a technician can do to a place
WORDS = {MOVED: "moved", WARMED: "hot", CHILLED: "cold", WET: "wet", SHAKEN: "shaken"}
RUNS = ("idle", "fast")  # an engine that runs shakes everything, and warms it after a while
# what a fault of this kind comes under: at the plug, and in the loom
AT_PLUG = {"open": (WARMED, CHILLED), "resistance": (MOVED, WARMED), "leak": (WET,)}
IN_LOOM = {"open": (SHAKEN,), "resistance": (SHAKEN,), "short": (MOVED, SHAKEN)}
OF_PARTS = ("open", "dead", "drift-high", "drift-low")  # what parts do when they are warm or cold


def come_and_go(d: "Description", faults: Iterable[Fault]) -> Iterator[Fault]:
    """Every fault under a condition; each does what one of these faults does while it is brought out."""
    plugs = {run.wire: next((end.place for end in run.ends if end.place in d.sheet.places), "") for run in d.runs}
    movable = {run.wire for run in d.runs if "intermittent" in run.kinds}
    roles = {run.wire: run.role for run in d.runs}
    for fault in faults:
        if fault.kind == "part" and fault.where in d.sheet.places and fault.name.endswith(OF_PARTS):
            yield from (_under(fault, when, fault.where) for when in (WARMED, CHILLED))
        elif fault.wire in movable and not _blows_a_fuse(fault, roles):
            if plugs[fault.wire]:
                yield from (_under(fault, when, plugs[fault.wire]) for when in AT_PLUG.get(fault.kind, ()))
            yield from (_under(fault, when, "harness") for when in IN_LOOM.get(fault.kind, ()))


def _blows_a_fuse(fault: Fault, roles: Mapping[str, str]) -> bool:
    """A feed that touches ground once blows its fuse, and that stays: no fault that comes and goes."""
    return fault.kind == "short" and fault.other == "ground" and roles[fault.wire] == "feed"


def _under(fault: Fault, when: str, where: str) -> Fault:
    words = WORDS[when]
    return Fault(
        f"{fault.name}-when-{words}",
        "intermittent",
        f"{fault.says} when {words}",
        wire=fault.wire,
        other=fault.other,
        where=where,
        part=fault.part,
        of=(fault,),
        when=when,
    )


def brought_out(fault: Fault, state: Mapping[str, str]) -> bool:
    """Whether this state of the bench brings an intermittent fault out."""
    if state.get(fault.when, "") == fault.where:
        return True
    if fault.when == SHAKEN:
        return state.get("engine") in RUNS
    return fault.when == WARMED and state.get("warmth") == "warm"


def without_effect(fault: Fault | None, state: Mapping[str, str]) -> frozenset[str]:
    """What is done to a place in this state and brings nothing out of this fault: the network is as it is without."""
    felt = {one.when for one in _intermittent(fault) if state.get(one.when) == one.where} if fault else set()
    return frozenset(ON_THE_BENCH) - felt


def _intermittent(fault: Fault) -> Iterator[Fault]:
    """Those of a fault, itself or of a pair, that come and go."""
    if fault.kind == "intermittent":
        yield fault
    for one in fault.of:
        yield from _intermittent(one)
