"""Findings blame faults that exist, and every fault is blamed by one."""

from flows.problems import did_you_mean
from flows.rules.subject import Subject


def blame(subject: Subject) -> None:
    """unknown-fault, unblamed-fault."""
    flow = subject.flow
    if subject.circuit is None:
        return
    wanted = set(subject.circuit.faults())
    known = wanted | set(subject.circuit.come_and_go())  # these may be blamed, and need not be
    for name, finding in flow.findings.items():
        for i, fault in enumerate(finding.blames):
            if fault not in known:
                what = f"finding '{name}' blames '{fault}', which is no fault of circuit '{flow.circuit}'"
                subject.problem(name, "blames", i, rule="unknown-fault", what=what, fix=did_you_mean(fault, known))
    blamed = {fault for finding in flow.findings.values() for fault in finding.blames}
    for fault in sorted(wanted - blamed):
        fix = "add a finding that blames it, or name it in one that cannot tell it apart"
        subject.file_problem(("findings",), rule="unblamed-fault", what=f"no finding blames '{fault}'", fix=fix)


def finding(subject: Subject) -> None:
    """finding-without-proof, finding-blames: what a finding claims and what proves the repair."""
    for name, end in subject.flow.findings.items():
        if end.status == "found" and not end.blames:
            fix = "name the faults, or give it `status: cannot_decide`"
            subject.problem(name, rule="finding-blames", what=f"finding '{name}' blames nothing", fix=fix)
        if end.status == "not_found" and end.blames:
            fix = "blame nothing, or give it another status"
            what = f"finding '{name}' found nothing and blames {', '.join(end.blames)}"
            subject.problem(name, "blames", rule="finding-blames", what=what, fix=fix)
        if end.status == "found" and not end.proof:
            fix = "name the checks to run again after the repair: `proof: [...]`"
            what = f"finding '{name}' names no check that proves the repair"
            subject.problem(name, rule="finding-without-proof", what=what, fix=fix)
        if end.status == "found" and not end.do:
            what = f"finding '{name}' does not say what to do"
            subject.problem(name, rule="finding-without-do", what=what, fix="add `do:`")
