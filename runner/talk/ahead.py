"""What may be said after this step: the next step of each branch, so that a voice can make it while the person measures."""

from collections.abc import Collection, Iterator

from flows.bench import Bench
from flows.model import Flow, Step
from flows.sheet import MachineSheet
from flows.staging import stages
from runner.talk import wording
from runner.talk.cautions import breaths
from runner.talk.workbench import led

MOST = 16  # sentences; more would push out of memory what was prepared before


def may_follow(
    flow: Flow,
    step: Step,
    bench: Bench,
    sheet: MachineSheet,
    *,
    acknowledged: Collection[str],
    known: Collection[str] = (),
    brief: bool = False,
) -> list[str]:
    """First sentences of every branch of a step, each once.

    bench: as it stands while the step's reading is taken. acknowledged: cautions that were heard already. known: see
    flows.acts.known_after.
    """
    found: dict[str, None] = {}
    for to in flow.steps[step.name].outcomes.values():
        if to in flow.findings:
            texts = [text for text in (flow.findings[to].say, flow.findings[to].do) if text]
        else:
            due = [flow.cautions[name] for name in flow.steps[to].cautions if name not in acknowledged]
            texts = [breath.text for breath in breaths(due, told=wording.DEFERS in known)]
            texts += _first_words(flow.steps[to], bench, sheet, known, brief=brief)
        found.update(dict.fromkeys(texts))
    return list(found)[:MOST]


def _first_words(
    step: Step, bench: Bench, sheet: MachineSheet, known: Collection[str], *, brief: bool
) -> Iterator[str]:
    first = next(iter(stages(bench, step, sheet, known=known)), None)
    yield led(step, first, bench, sheet, known=known, brief=brief) if first else step.say
