"""The trial beyond single faults that stay: what comes and goes, and two at once. Counts, worst first; no target but one."""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from multiprocessing import get_context
from typing import Any

from rich import box
from rich.markup import escape
from rich.table import Table

from flows.network.conditions import WORDS
from flows.trial import comings, twos
from flows.trial.engines import draw_engines
from flows.trial.tally import upper_bound
from flows.trial.walk import Walker
from runner.trial.tables import percent
from runner.trial.trialling import BLOCK, Lot, course_of, workers_wanted

COMINGS, PAIRS = "comings", "pairs"
SAID = {COMINGS: comings.SAID, PAIRS: twos.SAID}
WORST = {COMINGS: comings.WRONG, PAIRS: twos.OUTSIDE}  # what must never be
TITLES = {
    COMINGS: "Faults that come and go, in percent of walks",
    PAIRS: "Two faults at once, in percent of walks",
}


@dataclass
class Beyond:
    """What one flow came to. by: condition -> what was said. worst: fault, finding -> walks that condemned another part."""

    flow: str
    faults: int = 0
    said: Counter[str] = field(default_factory=Counter)
    by: dict[str, Counter[str]] = field(default_factory=dict)
    worst: Counter[tuple[str, str]] = field(default_factory=Counter)


def try_beyond(lot: Lot, what: str) -> Beyond:
    """All draws of a lot's flow."""
    course = course_of(lot)
    made = Beyond(course.flow.name)
    names: set[str] = set()
    for block in draw_engines(lot.draws, seed=lot.seed, beyond_reach=lot.beyond_reach).blocks(BLOCK):
        walker = Walker(course, block)
        if what == COMINGS:
            rows = [(c.fault, WORDS[c.fault.when], c.said, c.wrong) for c in comings.walk_comings(walker)]
        else:
            rows = [(two.pair, "two at once", two.said, two.outside) for two in twos.walk_pairs(walker)]
        for fault, condition, said, worst in rows:
            names.add(fault.name)
            made.said += said
            made.by.setdefault(condition, Counter()).update(said)
            made.worst.update({(fault.name, finding): count for finding, count in worst.items()})
    made.faults = len(names)
    return made


def run_beyond(lots: Iterable[Lot], what: str, *, workers: int | None = None) -> Iterator[Beyond]:
    """Each flow's, in order; a flow to a process."""
    lots, workers = list(lots), workers or workers_wanted()
    if workers == 1 or len(lots) == 1:
        yield from (try_beyond(lot, what) for lot in lots)
        return
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        yield from pool.map(try_beyond, lots, [what] * len(lots))


def beyond_table(rows: Sequence[Beyond], what: str) -> Table:
    """One row a flow, and all together by condition."""
    table = Table(title=TITLES[what], box=box.SIMPLE, title_justify="left", title_style="bold")
    table.add_column("flow", no_wrap=True)
    for name in ("faults", "walks", *SAID[what]):
        table.add_column(name, justify="right")
    for row in rows:
        table.add_row(row.flow, str(row.faults), *_shares(row.said, what))
    table.add_section()
    conditions = list(dict.fromkeys(condition for row in rows for condition in row.by))
    for condition in conditions if len(conditions) > 1 else ():
        table.add_row(f"all, {condition}", "", *_shares(_sum(r.by.get(condition, Counter()) for r in rows), what))
    table.add_row("all", str(sum(row.faults for row in rows)), *_shares(_sum(row.said for row in rows), what))
    return table


def _sum(counts: Iterable[Counter[str]]) -> Counter[str]:
    made: Counter[str] = Counter()
    for count in counts:
        made.update(count)
    return made


def _shares(said: Counter[str], what: str) -> list[str]:
    walks = said.total()
    return [str(walks), *(percent(said[name] / max(walks, 1)) for name in SAID[what])]


def worst_of(rows: Sequence[Beyond], what: str) -> Iterator[str]:
    """Which parts were condemned for another, and the rate with its bound."""
    for row in rows:
        for (fault, finding), count in row.worst.most_common():
            yield f"[red]Condemned for another[/] {row.flow}: {escape(fault)} ends {count} times in {escape(finding)}."
    said = _sum(row.said for row in rows)
    hits, walks = said[WORST[what]], said.total()
    yield f"{WORST[what]}: {percent(hits / max(walks, 1))} % (95 %: at most {percent(upper_bound(hits, walks))} %)."


def beyond_line(row: Beyond, what: str) -> dict[str, Any]:
    """The flow's JSON line: walks by what was said, and by condition."""
    return {
        "flow": row.flow,
        "trial": what,
        "faults": row.faults,
        "walks": row.said.total(),
        **{name: row.said[name] for name in SAID[what]},
        "by": {condition: dict(said) for condition, said in row.by.items()},
        "worst": [[fault, finding, count] for (fault, finding), count in row.worst.most_common()],
    }
