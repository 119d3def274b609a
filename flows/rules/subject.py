"""What a rule looks at: a loaded flow, the sheet it was filled from, and where each word of it was written."""

from dataclasses import dataclass
from functools import cached_property

from flows.documents import Place
from flows.filling import Filling
from flows.model import Flow
from flows.sheet import MachineSheet


@dataclass
class Subject:
    """One flow under lint; rules note what they find."""

    flow: Flow
    sheet: MachineSheet
    filling: Filling

    def problem(self, name: str, *below: str | int, rule: str, what: str, fix: str) -> None:
        """Note a problem at a step or finding."""
        self.filling.expanded.problem(name, tuple(below), rule=rule, what=what, fix=fix)

    def file_problem(self, path: Place, *, rule: str, what: str, fix: str) -> None:
        """Note a problem at a key of the flow's own file."""
        self.filling.expanded.document.problem(path, rule=rule, what=what, fix=fix)

    @cached_property
    def roots(self) -> tuple[str, ...]:
        """Where a walk can begin: the start, closing checks, and checks that prove a repair."""
        proofs = [step for finding in self.flow.findings.values() for step in finding.proof]
        return tuple(dict.fromkeys((self.flow.start, *self.flow.closing, *proofs)))

    @cached_property
    def reached(self) -> frozenset[str]:
        """Steps and findings that some walk comes to."""
        seen: set[str] = set()
        todo = list(self.roots)
        while todo:
            name = todo.pop()
            if name in seen:
                continue
            seen.add(name)
            todo += list(self.flow.table.get(name, {}).values())
        return frozenset(seen)
