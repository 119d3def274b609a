"""The page of a trial: figures, each flow as a drawn graph, and the tables; self-contained, nothing fetched, no script."""

from collections.abc import Iterable, Iterator, Sequence
from html import escape
from importlib.resources import files

from flows.trial.tally import FaultTally, upper_bound
from runner.trial.drawing import draw_flow, never_taken
from runner.trial.tables import confusions, ends_of, missed, percent
from runner.trial.trialling import Trial

HEAD = """<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<title>Trial</title><style>{css}</style></head><body><main>
<p class="eyebrow">Leadsman</p><h1>Trial of {count}</h1>
<p class="lead">{draws} simulated engines a fault, anywhere from 300 metres below to 4,500 above the sea, from minus 20 to 50
degrees, every healthy tolerance and meter error by lot, fault sizes from {least} to ten times the least. {hands}</p>
"""
LEGEND = """<figure class="legend"><svg width="340" height="20" viewBox="0 0 340 20" role="img" aria-label="Legend">
<path class="b b1" d="M4 10H44"/><path class="b b3" d="M94 10H134"/>
<path class="b b5" d="M184 10H224"/><path class="b b2 back" d="M274 10H314"/></svg>
<figcaption><span>seldom</span><span>at times</span><span>mostly</span><span>back up</span></figcaption></figure>
"""


def render_trials(trials: Sequence[Trial]) -> str:
    """The whole page."""
    css = files("runner").joinpath("templates", "trial.css").read_text(encoding="utf-8")
    lot = trials[0].lot if trials else None
    count = "one flow" if len(trials) == 1 else f"{len(trials)} flows"
    head = HEAD.format(
        css=css, count=count, draws=f"{lot.draws:,}" if lot else "0", hands=_hands(trials), least=_least(trials)
    )
    return "".join([head, _summary(trials), *(_flow(trial) for trial in trials), "</main></body></html>\n"])


def _least(trials: Sequence[Trial]) -> str:
    times = trials[0].lot.least if trials else 1.0
    return "the least that counts" if times == 1 else f"{times:g} times the least that counts"


def _hands(trials: Sequence[Trial]) -> str:
    if not trials or not trials[0].lot.slips:
        return "The hands do not slip."
    lot = trials[0].lot
    reach = (
        f" In {percent(lot.beyond_reach)} % of sessions the control unit is out of reach." if lot.beyond_reach else ""
    )
    return f"In {percent(lot.slips)} % of checks the hands slip.{reach}"


def _row(cells: Iterable[str], *, tag: str = "td", words: int = 1) -> str:
    made = [f"<{tag}{'' if i < words else ' class=n'}>{cell}</{tag}>" for i, cell in enumerate(cells)]
    return f"<tr>{''.join(made)}</tr>"


def _table(head: Sequence[str], rows: Iterable[Sequence[str]], *, words: int = 1) -> str:
    body = "".join(_row(row, words=words) for row in rows)
    return f'<div class="scroll"><table><thead>{_row(head, tag="th", words=words)}</thead><tbody>{body}</tbody></table></div>'


def _summary(trials: Sequence[Trial]) -> str:
    head = ("flow", "faults", "right", "wrong", "wrong, at most", "undecided", "checks", "minutes", "best", "ratio")
    rows = []
    for trial in trials:
        made, counts, best = trial.made, trial.made.counts(), trial.best
        rows.append((
            f'<a href="#{escape(made.flow)}">{escape(made.flow)}</a>',
            str(len(made.faulty())),
            f"{percent(made.rate('right'))} %",
            f"{percent(made.rate('wrong'))} %",
            f"{percent(upper_bound(counts['wrong'], counts.total()))} %",
            f"{percent(made.rate('undecided'))} %",
            f"{made.mean('checks'):.1f}",
            f"{made.mean('minutes'):.1f}",
            f"{'' if best.exact else '≥ '}{best.lower_minutes:.1f}" if best else "",
            f"{'' if best and best.exact else '≤ '}{trial.ratio:.2f}" if trial.ratio else "",
        ))  # fmt: skip
    note = (
        "Shares of all walks with a fault. Right: the fault is blamed and nothing outside its class. Wrong: something is "
        "blamed, and not the fault. At most: 95 % upper bound. Best: the least minutes any order of the checks could need."
    )
    return f'{_table(head, rows)}<p class="soft small">{note}</p>'


def _flow(trial: Trial) -> str:
    made = trial.made
    parts = [
        f'<section id="{escape(made.flow)}"><h2>{escape(trial.course.flow.title)}</h2>',
        _short(trial),
        f'<p class="soft small">{escape(_best_words(trial))}</p></section></main>',
        f'<div class="plate">{LEGEND}<div class="scroll graphs">{draw_flow(trial)}</div></div><main>',
        _never(trial),
        f"<h3>Faults of {escape(made.flow)}</h3>",
        _faults(made.faults.values()),
        *_confusions(trial),
    ]
    return "".join(parts)


def _never(trial: Trial) -> str:
    rows = [(escape(step), escape(outcomes), escape(target)) for step, outcomes, target in never_taken(trial)]
    if not rows:
        return ""
    table = _table(("step", "outcomes", "would lead to"), rows, words=3)
    return f"<details><summary>{len(rows)} branches that no walk took</summary>{table}</details>"


def _short(trial: Trial) -> str:
    sentences = missed(trial)
    if not sentences:
        return '<p class="met">All targets are met.</p>'
    items = "".join(f"<li>{escape(sentence)}</li>" for sentence in sentences)
    return f'<div class="short"><p>Falls short:</p><ul>{items}</ul></div>'


def _best_words(trial: Trial) -> str:
    best = trial.best
    if best is None:
        return "The best possible was not sought."
    bound = "The search was finished." if best.exact else "The search was cut off, so this is a lower bound."
    return (
        f"Best possible: {best.lower_minutes:.2f} minutes, {best.opening_minutes:.2f} of them the opening that both sides "
        f"pay for; an order was found that takes {best.found_minutes:.2f}. {bound} {best.suspects} suspects, "
        f"{best.checks} checks that tell something no cheaper one tells."
    )


def _faults(rows: Iterable[FaultTally]) -> str:
    head = ("fault", "ends", "right", "wrong", "undecided", "typical size, all in reach", "checks", "minutes")
    made = []
    for row in sorted(rows, key=lambda r: (-r.share("wrong"), r.share("right"), r.fault)):
        typical, n = row.typical_reached, max(row.draws, 1)
        made.append((
            escape(row.fault),
            escape(ends_of(row)),
            f"{percent(row.share('right'))} %",
            f"{percent(row.share('wrong'))} %",
            f"{percent(row.share('undecided'))} %",
            f"{percent(typical['right'] / max(typical.total(), 1))} %",
            f"{row.checks / n:.1f}",
            f"{row.minutes / n:.1f}",
        ))  # fmt: skip
    return _table(head, made, words=2)


def _confusions(trial: Trial) -> Iterator[str]:
    rows = [(escape(f), escape(other), str(times), str(of)) for f, other, times, of in confusions(trial)]
    if rows:
        yield "<h3>Taken for another</h3>"
        yield _table(("fault", "blamed instead", "times", "of"), rows, words=2)
