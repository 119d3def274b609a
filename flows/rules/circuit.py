"""The flow's circuit can be built from the sheet, and every check of the flow can be read on it."""

import traceback
from pathlib import Path

import flows.circuits
from flows.circuits import CIRCUITS, NOMINAL
from flows.model import Measure
from flows.network.crowd import alone
from flows.problems import did_you_mean
from flows.rules.subject import Subject
from flows.site import Site

HERE = Site()
FOLDER = Path(flows.circuits.__file__).parent


def circuit(subject: Subject) -> None:
    """unknown-circuit, broken-circuit, unread-point: the circuit is there, can be built, and has what is probed."""
    name = subject.flow.circuit
    if name not in CIRCUITS:
        what = f"there is no circuit '{name}'"
        subject.file_problem(("circuit",), rule="unknown-circuit", what=what, fix=did_you_mean(name, CIRCUITS))
        return
    try:
        built = CIRCUITS[name](subject.sheet)
        built.faults()
    except Exception as error:  # whatever an author's module raises is told with its line, not thrown
        what = f"circuit '{name}' cannot be built from this sheet: {_told(error)}"
        fix = "mend the circuit's module, or use a sheet that has its parts"
        subject.file_problem(("circuit",), rule="broken-circuit", what=what, fix=fix)
        return
    subject.circuit = built
    _unread(subject)


def _unread(subject: Subject) -> None:
    """A point, display or quantity that the sheet has and the circuit cannot read."""
    for name, step in subject.flow.steps.items():
        why = "" if step.measure is None else _why_unread(subject, step.measure)
        if why:
            what = f"step '{name}' cannot be read on circuit '{subject.flow.circuit}': {why}"
            fix = "probe what the circuit has: a wire of its runs, an input, or a name in its `displays` or `gauges`"
            subject.problem(name, "watch" if step.watch else "measure", rule="unread-point", what=what, fix=fix)


def _why_unread(subject: Subject, m: Measure) -> str:
    try:
        subject.circuit.reading(None, m.red, m.black, m.quantity, m.state)
        network = subject.circuit.solved(None, m.state, alone(HERE, NOMINAL)).first
    except Exception as error:
        return _told(error)
    if m.black is None or m.red == m.black:
        return ""
    return next((f"it has no '{point}'" for point in (m.red, m.black) if not network.has(point)), "")


def _told(error: Exception) -> str:
    """What went wrong and, where it is in a circuit's module, the file and line."""
    text = f"{type(error).__name__}: {error}"
    if isinstance(error, SyntaxError):
        return f"{error.msg} ({Path(error.filename or '').name}:{error.lineno})"
    inside = [f for f in traceback.extract_tb(error.__traceback__) if Path(f.filename).parent == FOLDER]
    modules = [f for f in inside if 'CIRCUIT = "' in Path(f.filename).read_text(encoding="utf-8")]
    return f"{text} ({Path(modules[-1].filename).name}:{modules[-1].lineno})" if modules else text
