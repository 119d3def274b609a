"""How often a wrong reading is recorded in silence, and which rule of the dialogue prevents how much of that.

`python -m runner.safety` resamples the measured confusions (runner.safety.confusions) through the dialogue's own rules, with a
person who notices a wrong readback so many times in a hundred.
"""

import argparse
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any, cast

import numpy as np

from flows.judging import Reading
from flows.meter import Meter, load_meter
from flows.windows import Window
from runner.errors import GoBack, StopTest
from runner.record.logbook import Logbook
from runner.safety.bounds import clopper_pearson, over_groups
from runner.safety.confusions import DATA, Confusions, load
from runner.safety.otherwise import DATA as OTHERWISE
from runner.safety.otherwise import Otherwise, load_otherwise
from runner.safety.person import GaveUp, Person, truth
from runner.talk.asking import Asker, Question
from runner.talk.line import Line
from runner.talk.readings import ReadingTaker, Sure
from runner.talk.taking import REASONS, RULES, Rules
from runner.talk.weighing import reading_key

MIX: Mapping[int, float] = {20: 0.20, 10: 0.50, 5: 0.25, 0: 0.05}
NOTHING_ELSE = Otherwise({}, {})
INSIDE = 0.81
"""Share of readings in their window, of 1,589 in walks of three flows through every fault and a sound engine."""


def same(first: Reading, second: Reading) -> bool:
    """The same value in base units, so that no unit is wrong either."""
    if first.over_range or second.over_range:
        return first.over_range == second.over_range
    pairs = ((first.value, second.value), (first.high, second.high))
    return all((a is None) == (b is None) and abs((a or 0.0) - (b or 0.0)) < 1e-9 for a, b in pairs)


class _NoBook:
    """Takes events and forgets them."""

    def write(self, kind: str, /, **facts: Any) -> None: ...


@dataclass(frozen=True)
class One:
    """How one reading ended: recorded right, wrong in silence, or not at all (unsteady, cannot, given up)."""

    wrong: bool
    recorded: bool
    calls: int
    tool_s: float
    lead_s: float
    asked: int
    level: int
    cluster: int
    error: float = 0.0  # of a wrong one, as a share of what was said
    noisy: bool = False  # a call-out stood little over the noise


def one_reading(
    data: Confusions,
    *,
    rules: Rules,
    notices: float,
    level: int,
    meter: Meter,
    rng: np.random.Generator,
    otherwise: Otherwise = NOTHING_ELSE,
    only: str = "",
) -> One:
    """A reading through the dialogue, from its first call to what is recorded.

    only: "numbers", readings that can be called as a number, and called so; "known", those whose circuit is known.
    """
    inside = bool(rng.random() < INSIDE)
    pool = data.pools[level, inside] or data.pools[level, not inside]
    if only:
        pool = otherwise.calls(data, level, only)
    call = pool[int(rng.integers(len(pool)))]
    case = data.cases[call[0]]
    number = otherwise.forms.get((case.said, level), ()) if only == "numbers" else ()
    person = Person(case, call, data.answers, notices=notices, rng=rng, number=number)
    window = Window(low=case.low, high=case.high, unit=case.unit, because="", simple=case.simple)
    line = cast(Line, person)
    asker = Asker(line, cast(Logbook, _NoBook()))
    taker = ReadingTaker(line, asker, meter=meter, rules=rules)

    def ended(person: Person, *, wrong: bool, recorded: bool) -> One:
        counted = (person.calls, person.tool_s, case.lead_s, person.asked, level, call[0])
        return One(wrong, recorded, *counted, noisy=person.noisy)

    question = Question("", "reading", "reading", step="s")
    try:
        strange = otherwise.unexplained.get(case.said, ())
        sure = taker.take(
            question,
            quantity=case.quantity,
            window=window,
            grave=case.grave,
            explains=lambda reading: reading_key(reading) not in strange,
        )
    except (GoBack, StopTest, GaveUp):
        return ended(person, wrong=False, recorded=False)
    if not isinstance(sure, Sure) or sure.confirmed == "none":  # "unsteady" is on record as such, and said
        return ended(person, wrong=False, recorded=False)
    reading, said = sure.taken.reading, truth(case).reading
    wrong = not same(reading, said)
    size = abs((reading.value or 0.0) - (said.value or 0.0)) / max(abs(said.value or 0.0), 1e-3) if wrong else 0.0
    return replace(ended(person, wrong=wrong, recorded=True), error=size)


@dataclass(frozen=True)
class Row:
    """Figures of one setting of rules for one listener."""

    rules: str
    notices: float
    readings: int
    call_outs: int
    silent_wrong: int
    share: float
    low: float
    high: float
    calls_at_10_db: float
    calls_a_reading: float
    group_high: float  # upper bound when whole call-outs are drawn again
    not_recorded: float
    asked: float  # questions "is it this" a reading
    reading_s: float  # talk from the first call on, at 10 dB
    tool_s: float  # the same with what leads up to the first call, at 10 dB
    wrong_by_level: Mapping[int, int]
    small: int  # wrong ones less than 1 % off
    cases_wrong: int  # different call-outs behind them


def simulate(
    data: Confusions,
    *,
    name: str,
    rules: Rules,
    notices: float,
    call_outs: int,
    seed: int,
    otherwise: Otherwise = NOTHING_ELSE,
    only: str = "",
) -> Row:
    """Readings until so many call-outs were made, in the mix of a workshop."""
    rng, meter = np.random.default_rng(seed), load_meter("bench")
    levels, shares = list(MIX), list(MIX.values())
    ones: list[One] = []
    made = 0
    while made < call_outs:
        level = int(rng.choice(levels, p=shares))
        one = one_reading(
            data, rules=rules, notices=notices, level=level, meter=meter, rng=rng, otherwise=otherwise, only=only
        )
        ones.append(one)
        made += ones[-1].calls
    wrong = [one for one in ones if one.wrong]
    low, high = clopper_pearson(len(wrong), len(ones))
    _, group_high = over_groups([one.cluster for one in ones], [one.wrong for one in ones])
    return Row(
        name,
        notices,
        len(ones),
        made,
        len(wrong),
        len(wrong) / len(ones),
        low,
        high,
        float(np.mean([one.calls for one in ones if one.level == 10])),
        made / len(ones),
        group_high,
        float(np.mean([not one.recorded for one in ones])),
        float(np.mean([one.asked for one in ones])),
        float(np.mean([one.tool_s - one.lead_s for one in ones if one.level == 10])),
        float(np.mean([one.tool_s for one in ones if one.level == 10])),
        {level: sum(one.level == level for one in wrong) for level in levels},
        sum(one.error < 0.01 for one in wrong),
        len({one.cluster for one in wrong}),
    )


def settings() -> dict[str, Rules]:
    """The rules put on one after another, then the defaults with one of them left out or moved."""
    none = Rules(
        twice=frozenset(),
        poor_confidence=0.0,
        **dict.fromkeys(
            ("plausible", "shown", "unit_once", "n_best", "second_best", "contrast", "digits_again"), False
        ),  # type: ignore[arg-type]
        pair_sure=0.0,
        two_sure=0.0,
        quiet_db=-99.0,
        consent_db=-99.0,
    )
    shown = replace(none, plausible=True, shown=True)
    unit = replace(shown, twice=frozenset({"unit"}), unit_once=True)
    second = replace(unit, second_best=True)
    poorly = replace(second, twice=unit.twice | {"poorly_heard"}, poor_confidence=RULES.poor_confidence)
    n_best = replace(poorly, n_best=True)
    pairs = replace(n_best, pair_sure=RULES.pair_sure)
    contrast = replace(pairs, contrast=True, two_sure=RULES.two_sure)
    quiet = replace(contrast, quiet_db=RULES.quiet_db, consent_db=RULES.consent_db)
    fits = replace(unit, twice=unit.twice | {"fits_nothing"})
    decides = replace(quiet, twice=quiet.twice | {"grave", "zero", "over_range", "unsteady", "doubtful", "near_limit"})
    return {
        "implicit only": none,
        "+ what this meter can show": shown,
        "+ called again without unit": unit,
        "without unit, + what no fault left explains": fits,
        "+ the next likeliest that can be": second,
        "+ heard poorly": poorly,
        "+ rivals count as doubt": n_best,
        "+ a pair weighed together": pairs,
        "+ asked both ways round": contrast,
        "+ not below the noise limit": quiet,
        "+ twice where it decides, near a limit": decides,
        "+ and out of its window": replace(decides, twice=decides.twice | {"out"}),
        **{f"defaults, confidence {c:g}": replace(RULES, poor_confidence=c) for c in (0.6, 0.8, 0.9, 0.95, 0.98)},
        **{f"defaults, pair {c:g}": replace(RULES, pair_sure=c) for c in (0.0, 0.9, 0.97, 0.99, 0.995, 0.999)},
        **{
            f"defaults, noise limit {d:g} dB": replace(RULES, quiet_db=d) for d in (-99.0, 1.0, 3.0, 4.0, 5.0, 6.0, 8.0)
        },
        **{f"defaults, silence is consent from {d:g} dB": replace(RULES, consent_db=d) for d in (-99.0, 7.0, 8.0, 9.0)},
        **{f"defaults, lost {x:g}": replace(RULES, lost=x) for x in (0.0, 0.5, 0.6, 1.0)},
        **{f"defaults, short {x:g}": replace(RULES, short_weight=x) for x in (0.1, 0.12, 0.3, 1.0)},
        "defaults, not both ways": replace(RULES, contrast=False),
        "defaults, whatever the circuit explains": replace(RULES, twice=RULES.twice - {"fits_nothing"}),
        "defaults, numbers again as numbers": replace(RULES, digits_again=False),
        "defaults, teens and tens called once": replace(RULES, twice=RULES.twice - {"teens"}),
        "defaults, called once, again as numbers": replace(RULES, twice=RULES.twice - {"teens"}, digits_again=False),
        "defaults, all digits": replace(RULES, twice=RULES.twice | {"digits"}),
        "defaults, all twice": replace(RULES, twice=REASONS),
        "defaults": RULES,
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--call-outs", type=int, default=40000)
    parser.add_argument("--seed", type=int, default=5)
    parser.add_argument("--rules", nargs="*", help="only these settings")
    parser.add_argument("--notices", type=float, nargs="*", default=[0.6, 0.9, 0.99])
    parser.add_argument("--data", type=Path, default=DATA)
    parser.add_argument("--otherwise", type=Path, default=OTHERWISE)
    parser.add_argument(
        "--only",
        choices=("", "numbers", "known"),
        default="",
        help="readings called as a number (twelve point five); or those whose circuit is known",
    )
    parser.add_argument("--json", action="store_true")
    options = parser.parse_args()
    data, otherwise = load(options.data), load_otherwise(options.otherwise)
    print(
        "| rules | notices | readings | silent wrong | of 10,000 (95 %; drawing call-outs) | under 1 % off | at 20 10 5 0 dB "
        "| calls at 10 dB | not recorded | asked | talk at 10 dB, s |"
    )
    print("| --- |" + " ---: |" * 10)
    for name in options.rules or settings():
        for notices in options.notices:
            row = simulate(
                data,
                name=name,
                rules=settings()[name],
                notices=notices,
                call_outs=options.call_outs,
                seed=options.seed,
                otherwise=otherwise,
                only=options.only,
            )
            print(line_of(row) if not options.json else json.dumps(asdict(row)), flush=True)


def line_of(row: Row) -> str:
    """One line of the table."""
    share = f"{1e4 * row.share:.1f} ({1e4 * row.low:.1f} to {1e4 * row.high:.1f}; {1e4 * row.group_high:.1f})"
    levels = " ".join(str(n) for n in row.wrong_by_level.values())
    return (
        f"| {row.rules} | {100 * row.notices:.0f} % | {row.readings} | {row.silent_wrong} in {row.cases_wrong} cases "
        f"| {share} | {row.small} | {levels} | {row.calls_at_10_db:.2f} | {100 * row.not_recorded:.1f} % "
        f"| {row.asked:.2f} | {row.reading_s:.1f} of {row.tool_s:.1f} |"
    )
