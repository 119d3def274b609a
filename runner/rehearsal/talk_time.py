"""How long the tool talks for a check: every fault of every flow walked as text, each sentence timed as the voice says it.

`python -m runner.rehearsal.talk_time [FLOW...]` prints a line for each flow, in full wording and in brief.
"""

import argparse
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from statistics import mean, median, quantiles

from flows.circuits import CIRCUITS
from flows.meter import load_meter
from flows.site import Site
from flows.source import load_flow, load_sheet, shipped_flows
from runner.job import Job
from runner.record.session import Event
from runner.rehearsal.by_text import walk
from runner.rehearsal.rehearsal import TECHNICIAN_VOICES, TOOL_VOICE
from runner.talk.people import Manner
from speech.pyttsx3_voice import Synthesiser

WANTED_S = 12.0
Seconds = Callable[[str], float]  # how long a sentence takes to say


@dataclass(frozen=True)
class Check:
    """One check of a session: from the end of the step before to the end of this one."""

    step: str
    tool_s: float  # what the tool says, its cautions and readbacks among it
    person_s: float  # what the technician says
    turns: int  # answers of the technician
    cautions: int  # spoken acknowledgements


def checks_of(events: Iterable[Event], kinds: Mapping[str, str], *, tool: Seconds, person: Seconds) -> Iterator[Check]:
    """Every check in a session's events, those after the finding among them. kinds: step -> kind.

    A check begins where the first thing is asked for it, be it to acknowledge a caution, and ends where the flow goes on.
    """
    step: str | None = None
    now = _Talk()
    for event in events:
        kind = event["type"]
        if kind == "asked":
            if event["step"] not in (None, step):
                step, now = event["step"], _Talk()
            now.cautions += event["want"] == "acknowledge"
        elif kind in ("said", "read_back"):
            now.tool_s += tool(event["text"])
        elif kind == "heard":
            now.person_s += person(event["words"])
            now.turns += 1
        elif kind == "measured":
            now.measured = True
        elif kind in ("branched", "checked_at_end"):
            if now.measured and step is not None and kinds[step] == "check":
                yield Check(step, now.tool_s, now.person_s, now.turns, now.cautions)
            step, now = None, _Talk()


@dataclass
class _Talk:
    """What was said of a check so far."""

    tool_s: float = 0.0
    person_s: float = 0.0
    turns: int = 0
    cautions: int = 0
    measured: bool = False


@dataclass(frozen=True)
class Row:
    """Figures of one flow in one wording, over all its walks."""

    flow: str
    checks: int
    mean_s: float
    median_s: float
    most_s: float  # 95 in 100 checks take no more
    within: float  # share of checks within WANTED_S
    person_s: float  # the technician's part of a check
    turns: float
    before_first: float  # spoken acknowledgements before the first reading of a session
    session_s: float  # all that the tool says, by checks of the session


def measured(flow: str, manner: Manner, *, tool: Seconds, person: Seconds, seed: int = 0, every: int = 1) -> Row:
    """Walk every fault (one in `every`) and the sound engine."""
    sheet = load_sheet("th2")
    job = Job(load_flow(flow, sheet), sheet, Site(), load_meter("bench"))
    circuit = CIRCUITS[job.flow.circuit](sheet)
    kinds = {name: step.kind for name, step in job.flow.steps.items()}
    checks: list[Check] = []
    firsts: list[int] = []
    whole_s = 0.0
    for fault in (None, *list(circuit.faults().values())[::every]):
        events = walk(job, circuit, fault, seed=seed, manner=manner)
        checks += checks_of(events, kinds, tool=tool, person=person)
        first = next((n for n, event in enumerate(events) if event["type"] == "measured"), len(events))
        firsts.append(sum(e["type"] == "asked" and e["want"] == "acknowledge" for e in events[:first]))
        whole_s += sum(tool(e["text"]) for e in events if e["type"] in ("said", "read_back"))
    seconds = [check.tool_s for check in checks]
    return Row(
        flow,
        len(checks),
        mean(seconds),
        median(seconds),
        quantiles(seconds, n=20)[-1],
        mean(second <= WANTED_S for second in seconds),
        mean(check.person_s for check in checks),
        mean(check.turns for check in checks),
        mean(firsts),
        whole_s / len(checks),
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("flows", nargs="*", help="these flows; none given: all that are shipped")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--every", type=int, default=1, help="one in so many faults")
    options = parser.parse_args()
    print(
        "| flow, wording | checks | talk a check, s | median | 95 of 100 within | within 12 s "
        "| technician, s | answers | acknowledged before the first reading | all talk by checks, s |"
    )
    print("| --- |" + " ---: |" * 9)
    with Synthesiser(TOOL_VOICE, cache=None) as tool, Synthesiser(TECHNICIAN_VOICES[0], cache=None) as person:
        timed = {"tool": _seconds(tool), "person": _seconds(person)}
        for brief in (False, True):
            rows = []
            for flow in options.flows or shipped_flows():
                rows.append(measured(flow, Manner(brief=brief), **timed, seed=options.seed, every=options.every))
                print(_line(flow, rows[-1], brief=brief), flush=True)
            print(_line("all", _all(rows), brief=brief), flush=True)


def _seconds(voice: Synthesiser) -> Seconds:
    @cache
    def seconds(text: str) -> float:
        return voice.synthesise(text).duration_s

    return seconds


def _all(rows: list[Row]) -> Row:
    """All flows together, each check counted once; the last figures are means of the flows' own."""
    checks = sum(row.checks for row in rows)
    of_checks = {
        name: sum(getattr(row, name) * row.checks for row in rows) / checks
        for name in ("mean_s", "within", "person_s", "turns", "session_s")
    }
    of_flows = {name: mean(getattr(row, name) for row in rows) for name in ("median_s", "most_s", "before_first")}
    return Row("all", checks, **of_checks, **of_flows)


def _line(name: str, row: Row, *, brief: bool) -> str:
    return (
        f"| {name}{', brief' if brief else ''} | {row.checks} | {row.mean_s:.1f} | {row.median_s:.1f} | {row.most_s:.1f} "
        f"| {100 * row.within:.0f} % | {row.person_s:.1f} | {row.turns:.1f} | {row.before_first:.1f} "
        f"| {row.session_s:.1f} |"
    )


if __name__ == "__main__":
    main()
