"""What is wrong with a file, where, and what to do about it."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from difflib import get_close_matches

from flows.model import FlowError


@dataclass(frozen=True, order=True)
class Problem:
    """One mistake in one file."""

    file: str
    line: int
    column: int
    rule: str
    what: str
    fix: str

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}: {self.what} [{self.rule}]\n    fix: {self.fix}"


class FlowProblems(FlowError):  # noqa: N818  (the name is the interface)
    """A file that cannot be used, with everything that is wrong with it."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(sorted(set(problems)))
        super().__init__("\n".join(str(p) for p in self.problems))


FEW = 12  # known words that are listed even though one is near


def did_you_mean(word: str, known: Collection[str]) -> str:
    """A sentence that offers the nearest known word, and lists them where they are few or none is near.

    >>> did_you_mean("nxt", ["next", "say"])
    "did you mean 'next'? Known: next, say."
    """
    near = get_close_matches(word, list(known), n=1)
    names = sorted(known)
    if near and len(names) > FEW:
        return f"did you mean '{near[0]}'?"
    start = f"did you mean '{near[0]}'? " if near else ""
    return f"{start}Known: {', '.join(names[:20]) or 'none'}{' and more' * (len(names) > 20)}."
