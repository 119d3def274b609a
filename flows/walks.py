"""Any flow walked without audio on every generated fault of its circuit: `python -m flows.walks coolant-temperature`.

Every variant of the sheet, with and without the control unit's plug in reach, the nominal engine and random ones.
"""

import argparse
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from flows.circuits import CIRCUITS, variants
from flows.meter import load_meter
from flows.model import Flow
from flows.network.described import DescribedCircuit
from flows.source import load_flow, load_sheet
from flows.trial.comings import FOUND, WRONG, said_of
from flows.walker import SLIPS, Walked, World, drawn, verdict, walk


@dataclass(frozen=True)
class Told:
    """One walk and what it is worth."""

    fault: str
    variant: str
    reaches: bool
    draw: int
    verdict: str  # right, wrong, undecided
    walked: Walked

    def __str__(self) -> str:
        where = "reaches the control unit" if self.reaches else "does not reach the control unit"
        path = " ".join(f"{s}:{o}" for s, o in self.walked.path if s.partition("/")[0] not in ("opening", "meter"))
        end = self.walked.finding or self.walked.problem
        read = {k: round(v, 4) for k, v in self.walked.readings.items() if not k.startswith("meter")}
        return f"{self.verdict}: {self.fault}, {self.variant}, {where}, draw {self.draw} -> {end}\n   {path}\n   {read}"


def walks(
    flow_name: str,
    *,
    draws: int = 0,
    seed: int = 1,
    faults: tuple[str, ...] = (),
    slips: float = 0.0,
    later: bool = False,
) -> Iterator[Told]:
    """Every walk of a flow: each variant, fault, draw, with and without access.

    slips: chance a reading goes wrong. later: also faults that the flow does not look for yet.
    """
    base, meter = load_sheet(), load_meter()
    circuit_name = load_flow(flow_name, base).circuit
    for label, sheet in variants(circuit_name, base):
        flow, circuit = load_flow(flow_name, sheet), CIRCUITS[circuit_name](sheet)
        classes = circuit.classes()
        comings = {name: fault for name, fault in circuit.come_and_go().items() if name in faults}
        for number, name in enumerate(("none", *circuit.faults(later=later), *comings)):
            if faults and name not in faults:
                continue
            fault = None if name == "none" else name
            for draw in range(draws + 1):
                rng = np.random.default_rng([seed, draw, number])
                for reaches in (True, False):
                    world = World(sheet, circuit, flow, meter, reaches_unit=reaches)
                    if draw:
                        engine, site, gain, offset = drawn(rng)
                        world = replace(world, draw=engine, site=site, gain=gain, offset=offset)
                    world = _slipping(world, fault, rng, rate=slips) if slips else world
                    walked = walk(world, fault)
                    here = replace(walked, blames=tuple(b for b in walked.blames if b in classes))  # of this variant
                    said = (
                        verdict(here, fault, classes) if name not in comings else _of_coming(here, flow, circuit, name)
                    )
                    yield Told(name, label, reaches, draw, said, walked)


def _of_coming(walked: Walked, flow: Flow, circuit: DescribedCircuit, name: str) -> str:
    """Of a fault that comes and goes: right when it is found, undecided when it is left open, wrong as the trial has it."""
    comings = circuit.come_and_go()
    classes = circuit.classes() | circuit.classes_come_and_go()
    faults = circuit.faults(later=True) | comings
    said = said_of(flow, walked.finding, comings[name], faults=faults, classes=classes)
    return {FOUND: "right", WRONG: "wrong"}.get(said, "undecided")


def _slipping(world: World, fault: str | None, rng: np.random.Generator, *, rate: float) -> World:
    """One measurement goes wrong, with this chance for each that is made."""
    hits = np.flatnonzero(rng.random(max(walk(world, fault).measured, 1)) < rate)
    if not len(hits):
        return world
    return replace(world, slip_at=int(hits[0]), slip=str(rng.choice(SLIPS)), ghost_v=float(rng.uniform(0.1, 2.0)))


@dataclass
class Row:
    """One fault's walks."""

    fault: str
    counts: Counter[str] = field(default_factory=Counter)
    findings: Counter[str] = field(default_factory=Counter)
    reached: dict[str, Counter[str]] = field(default_factory=lambda: defaultdict(Counter))
    measured: list[int] = field(default_factory=list)
    minutes: list[float] = field(default_factory=list)

    def take(self, told: Told) -> None:
        """Count one more walk."""
        self.counts[told.verdict] += 1
        self.reached["access" if told.reaches else "no access"][told.verdict] += 1
        self.findings[told.walked.finding or told.walked.problem] += 1
        self.measured.append(told.walked.measured)
        self.minutes.append(told.walked.minutes)


def table(rows: Mapping[str, Row]) -> str:
    """The table as text."""
    lines = [f"{'fault':34s} right wrong undec  checks minutes  findings"]
    for row in rows.values():
        found = ", ".join(f"{name} {n}" for name, n in row.findings.most_common(4))
        c = row.counts
        lines.append(
            f"{row.fault:34s} {c['right']:5d} {c['wrong']:5d} {c['undecided']:5d}  "
            f"{np.mean(row.measured):6.1f} {np.mean(row.minutes):7.1f}  {found}"
        )
    total = sum((row.counts for row in rows.values()), Counter())
    walks = sum(total.values())
    for reach in ("access", "no access"):
        part = sum((row.reached[reach] for row in rows.values()), Counter())
        lines.append(f"{reach:9s} to the control unit's plug: {_shares(part)}")
    lines.append(f"{walks} walks: {_shares(total)}")
    return "\n".join(lines)


def _shares(counts: Counter[str]) -> str:
    walks = max(1, sum(counts.values()))
    return ", ".join(
        f"{said} {counts[said]} ({100 * counts[said] / walks:.2f} %)" for said in ("right", "wrong", "undecided")
    )


def main() -> None:
    """Print a line a fault, and every walk that was not right."""
    parser = argparse.ArgumentParser(prog="python -m flows.walks", description=__doc__.splitlines()[0])
    parser.add_argument("flow")
    parser.add_argument("--draws", type=int, default=0, help="random engines beside the nominal one")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--slips", type=float, default=0.0, help="chance that a reading goes wrong")
    parser.add_argument("--faults", nargs="*", default=[])
    parser.add_argument("--unserved", action="store_true", help="also faults that the flow does not look for yet")
    parser.add_argument("--misses", action="store_true", help="print the path of every walk that was not right")
    args = parser.parse_args()
    rows: dict[str, Row] = {}
    chosen = {"draws": args.draws, "seed": args.seed, "faults": tuple(args.faults), "slips": args.slips}
    for told in walks(args.flow, **chosen, later=args.unserved):
        rows.setdefault(told.fault, Row(told.fault)).take(told)
        if told.verdict == "wrong" or (args.misses and told.verdict != "right"):
            print(told)
    print(table(rows))


if __name__ == "__main__":
    main()
