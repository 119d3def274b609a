"""Every step is come to, and from every step an end can be come to."""

from flows.rules.subject import Subject


def unreachable(subject: Subject) -> None:
    """unreachable-step, unreachable-finding: nothing leads there."""
    for kind, names in (("step", subject.flow.steps), ("finding", subject.flow.findings)):
        for name in names:
            if name not in subject.reached and not _of_a_part_run_in_pieces(name, subject):
                what = f"nothing leads to {kind} '{name}'"
                subject.problem(
                    name, rule=f"unreachable-{kind}", what=what, fix="lead an outcome to it, or take it out"
                )


def _of_a_part_run_in_pieces(name: str, subject: Subject) -> bool:
    """Whether no walk comes into this shared part at all: single checks of it prove a repair or close the job."""
    part = name.rpartition("/")[0]
    return bool(part) and not any(other.startswith(f"{part}/") for other in subject.walked)


def no_end(subject: Subject) -> None:
    """no-end: from this step no outcome ever comes to a finding."""
    table = subject.flow.table
    ending = set(subject.flow.findings)
    while True:
        more = {name for name, outcomes in table.items() if name not in ending and ending & set(outcomes.values())}
        if not more:
            break
        ending |= more
    for name in table:
        if name not in ending:
            what = f"from step '{name}' no outcome ever comes to a finding"
            subject.problem(name, "outcomes", rule="no-end", what=what, fix="lead one outcome out of the circle")
