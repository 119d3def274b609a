"""What a rule looks at: a loaded flow, the sheet it was filled from, and where each word of it was written."""

from dataclasses import dataclass
from functools import cached_property
from typing import Any

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
    circuit: Any = None  # built by the first rule; None where it cannot be

    def problem(self, name: str, *below: str | int, rule: str, what: str, fix: str) -> None:
        """Note a problem at a step or finding."""
        self.filling.expanded.problem(name, tuple(below), rule=rule, what=what, fix=fix)

    def file_problem(self, path: Place, *, rule: str, what: str, fix: str) -> None:
        """Note a problem at a key of the flow's own file."""
        self.filling.expanded.document.problem(path, rule=rule, what=what, fix=fix)

    @cached_property
    def reached(self) -> frozenset[str]:
        """Steps and findings that are of use: walked, or run to prove a repair or to close the job.

        What is run as a proof or at the close passes or does not: its outcomes lead nowhere.
        """
        proofs = (step for finding in self.flow.findings.values() for step in finding.proof)
        return self.walked | {*self.flow.closing, *proofs}

    @cached_property
    def walked(self) -> frozenset[str]:
        """Steps and findings that some walk comes to from the start."""
        led: set[str] = set()
        todo = [self.flow.start]
        while todo:
            name = todo.pop()
            if name in led:
                continue
            led.add(name)
            todo += list(self.flow.table.get(name, {}).values())
        return frozenset(led)
