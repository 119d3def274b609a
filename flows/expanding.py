"""Shared parts put into a flow: steps get the use's name in front, exits lead to the flow's own steps."""

import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from flows.documents import Document, Place, read_document
from flows.model import BRACES
from flows.problems import FlowProblems, Problem, did_you_mean
from flows.validation import validated
from flows.written import Use, WrittenFinding, WrittenFlow, WrittenPart, WrittenStep

GIVEN = re.compile(r"\$([A-Za-z][A-Za-z0-9_-]*)")


@dataclass(frozen=True)
class Origin:
    """Where a step or finding was written."""

    document: Document
    path: Place


@dataclass
class Expanded:
    """A flow with its parts put in; still as written."""

    written: WrittenFlow
    start: str
    document: Document
    steps: dict[str, WrittenStep] = field(default_factory=dict)
    findings: dict[str, WrittenFinding] = field(default_factory=dict)
    origins: dict[str, Origin] = field(default_factory=dict)
    more: list[Document] = field(default_factory=list)

    @property
    def problems(self) -> list[Problem]:
        """Everything noted in the flow's file and in those of its parts."""
        return [p for document in (self.document, *self.more) for p in document.problems]

    def problem(self, name: str, below: Place = (), *, rule: str, what: str, fix: str) -> None:
        """Note a problem at a step or finding, in the file that wrote it."""
        origin = self.origins.get(name, Origin(self.document, ()))
        origin.document.problem((*origin.path, *below), rule=rule, what=what, fix=fix)


def expand(document: Document, written: WrittenFlow, *, parts: Path, words: dict[str, str]) -> Expanded:
    """The flow with every `use` expanded; problems are noted in the documents.

    words: what braces in a part's name stand for, so that the machine sheet can choose the part.
    """
    starts: dict[str, str] = {}
    made = Expanded(written, written.start, document)
    pending: list[tuple[str, Use, WrittenPart, Document]] = []
    for name, use in written.use.items():
        part, source = _part(document, name, use, parts=parts, words=words)
        if source is not None and source is not document:
            made.more.append(source)
        if part is not None and source is not None:
            starts[name] = f"{name}/{part.start}"
            pending.append((name, use, part, source))
    for name, step in written.steps.items():
        made.steps[name] = _led(step, lambda t: starts.get(t, t))
        made.origins[name] = Origin(document, ("steps", name))
    for name, finding in written.findings.items():
        _add_finding(made, name, finding, Origin(document, ("findings", name)))
    for name, use, part, source in pending:
        _put_in(made, name, use, part, source=source, starts=starts)
    made.start = starts.get(written.start, written.start)
    _check_targets(made, known_uses=written.use)
    return made


def _part(
    document: Document, name: str, use: Use, *, parts: Path, words: dict[str, str]
) -> tuple[WrittenPart | None, Document | None]:
    wanted = BRACES.sub(lambda found: words.get(found.group(1), found.group(0)), use.part)
    path = parts / f"{wanted}.yaml"
    known = [p.stem for p in parts.glob("*.yaml")]
    if wanted not in known:
        what = f"there is no shared part '{wanted}'"
        document.problem(("use", name, "part"), rule="unknown-part", what=what, fix=did_you_mean(wanted, known))
        return None, None
    try:
        source = read_document(path)
    except FlowProblems as error:
        document.problems.extend(error.problems)
        return None, None
    if source.problems:
        return None, source
    part = validated(source, WrittenPart, data=_given(source.data, use.given))
    if part is None:
        return None, source
    _match(document, ("use", name, "exits"), use.exits, part.exits, what="exit")
    _match(document, ("use", name, "with"), use.given, part.needs, what="value")
    return part, source


def _match(document: Document, path: Place, given: dict[str, str], wanted: tuple[str, ...], *, what: str) -> None:
    for key in given:
        if key not in wanted:
            text = f"the part has no {what} '{key}'"
            document.problem((*path, key), rule=f"unknown-{what}", what=text, fix=did_you_mean(key, wanted))
    for key in wanted:
        if key not in given:
            text = f"the part's {what} '{key}' is not given"
            document.problem(path, rule=f"missing-{what}", what=text, fix=f"add `{key}:` here")


def _given(data: Any, given: dict[str, str]) -> Any:
    """`$name`, alone, in a key or inside a sentence, becomes what the flow gives; anything else stays."""
    if isinstance(data, dict):
        return {_put(key, given): _given(value, given) for key, value in data.items()}
    if isinstance(data, list):
        return [_given(value, given) for value in data]
    return _put(data, given) if isinstance(data, str) else data


def _put(text: str, given: dict[str, str]) -> str:
    """Names are letters, digits, `_` and `-`; `$plug.` is `$plug` and a dot.

    >>> _put("$plug.$signal", {"plug": "coolant_plug", "signal": "coolant-signal"}), _put("$5", {})
    ('coolant_plug.coolant-signal', '$5')
    """
    return GIVEN.sub(lambda found: given.get(found.group(1), found.group(0)), text)


def _put_in(
    made: Expanded, name: str, use: Use, part: WrittenPart, *, source: Document, starts: dict[str, str]
) -> None:
    own = {*part.steps, *part.findings}

    def target(word: str) -> str:
        if word in part.exits:
            there = use.exits.get(word, made.start)  # a missing exit has been noted; any known step will do
            return starts.get(there, there)
        return f"{name}/{word}" if word in own else word

    for local, step in part.steps.items():
        full = f"{name}/{local}"
        made.steps[full] = _led(_prefixed(step, name=name, own=own), target)
        made.origins[full] = Origin(source, ("steps", local))
    for local, finding in part.findings.items():
        proof = tuple(f"{name}/{s}" if s in own else s for s in finding.proof)
        full = f"{name}/{local}"
        _add_finding(made, full, finding.model_copy(update={"proof": proof}), Origin(source, ("findings", local)))


def _add_finding(made: Expanded, name: str, finding: WrittenFinding, origin: Origin) -> None:
    if name in made.steps:
        path = origin.path
        origin.document.problem(path, rule="name", what=f"'{name}' is a step and a finding", fix="rename one of them")
    made.findings[name] = finding
    made.origins.setdefault(name, origin)


def _led(step: WrittenStep, target: Any) -> WrittenStep:
    """Outcomes with their targets' full names; `low, high: x` stands for both."""
    outcomes: dict[str, str] = {}
    for words, to in step.outcomes.items():
        for word in words.split(","):
            outcomes[word.strip()] = target(to)
    return step.model_copy(update={"outcomes": outcomes})


def _prefixed(step: WrittenStep, *, name: str, own: set[str]) -> WrittenStep:
    """Arguments of a window that are steps of the part get the part's name in front."""
    if step.expect is None:
        return step
    expect = {
        function: {
            key: f"{name}/{value}" if isinstance(value, str) and value in own else value for key, value in args.items()
        }
        for function, args in step.expect.items()
    }
    return step.model_copy(update={"expect": expect})


def _check_targets(made: Expanded, *, known_uses: dict[str, Use]) -> None:
    names = {*made.steps, *made.findings}
    if made.start not in made.steps and made.start not in known_uses:
        fix = did_you_mean(made.start, names)
        made.document.problem(("start",), rule="unknown-step", what=f"there is no step '{made.start}'", fix=fix)
    for name, step in made.steps.items():
        for outcome, to in step.outcomes.items():
            if to not in names and to not in known_uses:
                below = ("outcomes", _written_key(made, name, outcome))
                what = f"step '{name}' sends '{outcome}' to '{to}', which is no step and no finding"
                made.problem(name, below, rule="unknown-step", what=what, fix=did_you_mean(to, names))
    for i, step_name in enumerate(made.written.closing):
        if step_name not in made.steps:
            what = f"'{step_name}' is no step to close with"
            fix = did_you_mean(step_name, made.steps)
            made.document.problem(("closing", i), rule="unknown-step", what=what, fix=fix)
    for name, finding in made.findings.items():
        for i, step_name in enumerate(finding.proof):
            if step_name not in made.steps:
                what = f"finding '{name}' is proved by '{step_name}', which is no step"
                made.problem(
                    name, ("proof", i), rule="unknown-step", what=what, fix=did_you_mean(step_name, made.steps)
                )


def _written_key(made: Expanded, name: str, outcome: str) -> str:
    origin = made.origins[name]
    path = (*origin.path, "outcomes")
    for key in (p[-1] for p in origin.document.marks if p[:-1] == path):
        if isinstance(key, str) and outcome in [word.strip() for word in key.split(",")]:
            return key
    return outcome
