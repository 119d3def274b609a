"""What may be said after this step: the next step of each branch, so that a voice can make it while the person measures."""

from collections.abc import Collection, Iterator

from flows.bench import Bench
from flows.model import Flow, Step
from flows.sheet import MachineSheet
from flows.staging import stages
from runner.talk import wording

MOST = 16  # sentences; more would push out of memory what was prepared before


def may_follow(
    flow: Flow, step: Step, bench: Bench, sheet: MachineSheet, *, acknowledged: Collection[str]
) -> list[str]:
    """First sentences of every branch of a step, each once.

    bench: as it stands while the step's reading is taken. acknowledged: cautions that were heard already.
    """
    found: dict[str, None] = {}
    for to in flow.steps[step.name].outcomes.values():
        for text in _first_words(flow, to, bench, sheet, acknowledged):
            found.setdefault(text)
    return list(found)[:MOST]


def _first_words(
    flow: Flow, name: str, bench: Bench, sheet: MachineSheet, acknowledged: Collection[str]
) -> Iterator[str]:
    if name in flow.findings:
        finding = flow.findings[name]
        yield from (text for text in (finding.say, finding.do) if text)
        return
    step = flow.steps[name]
    for caution in step.cautions:
        if caution not in acknowledged:
            yield wording.caution(flow.cautions[caution].text)
    first = next(iter(stages(bench, step, sheet)), None)
    yield f"{step.say} {first.say}" if first else step.say
