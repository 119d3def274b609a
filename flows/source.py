"""Flows, shared parts, cautions and machine sheets from files; every mistake is placed before anything is used."""

import re
from functools import cache
from pathlib import Path
from typing import Any

from flows.documents import Document, read_document
from flows.expanding import expand
from flows.filling import Filling, sheet_words
from flows.model import Caution, Flow
from flows.problems import FlowProblems, Problem, did_you_mean
from flows.sheet import MachineSheet, Place
from flows.sheet_parts import is_part, read_sheet
from flows.validation import validated
from flows.written import WrittenFlow, WrittenPart

NOWHERE = Place(spoken="nowhere", view="nowhere", access_minutes=0)
HERE = Path(__file__).parent
LIBRARY = HERE / "library"
PARTS = LIBRARY / "parts"
MACHINES = HERE / "machines"
CAUTIONS = LIBRARY / "cautions.yaml"


def load_sheet(path_or_name: str | Path = "th2") -> MachineSheet:
    """A machine sheet by file or by name of one we ship. Raises FlowProblems."""
    document = read_sheet(_find(path_or_name, MACHINES, what="machine sheet"))
    sheet = _sheet(document)
    if document.problems or sheet is None:
        raise FlowProblems(document.problems)
    return sheet


def load_flow(path_or_name: str | Path, sheet: MachineSheet) -> Flow:
    """A flow by file or by name of one we ship, filled from this sheet. Raises FlowProblems with all its mistakes."""
    flow, problems, _ = read_flow(path_or_name, sheet)
    if problems or flow is None:
        raise FlowProblems(problems)
    return flow


def read_flow(path_or_name: str | Path, sheet: MachineSheet) -> tuple[Flow | None, list[Problem], Filling | None]:
    """A flow with its problems instead of an exception; the filling knows where each step was written."""
    document = read_document(_find(path_or_name, LIBRARY, what="flow"))
    if document.problems:
        return None, document.problems, None
    written = validated(document, WrittenFlow)
    if written is None:
        return None, document.problems, None
    expanded = expand(document, written, parts=PARTS, words=sheet_words(sheet))
    filling = Filling(expanded, sheet=sheet, cautions=load_cautions())
    flow = filling.flow()
    problems = [*expanded.problems]
    return (None if problems else flow), problems, filling


@cache
def load_cautions() -> dict[str, Caution]:
    """The cautions we ship, by name."""
    document = read_document(CAUTIONS)
    _check_cautions(document)
    if document.problems:
        raise FlowProblems(document.problems)
    return {name: Caution(name=name, text=" ".join(str(text).split())) for name, text in document.data.items()}


def shipped_flows() -> list[str]:
    """Names of the flows in the library."""
    return sorted(p.stem for p in LIBRARY.glob("*.yaml") if p.stem != "cautions")


def check_document(path: Path, sheet: MachineSheet) -> tuple[Flow | None, list[Problem], Filling | None]:
    """What is wrong with a flow, a part or a machine sheet, without the rules of lint."""
    try:
        document = read_sheet(path.parent.with_suffix(".yaml") if is_part(path) else path)
    except FlowProblems as error:
        return None, list(error.problems), None
    data = document.data if isinstance(document.data, dict) else {}
    if document.problems:
        return None, document.problems, None
    if "machine" in data:
        _sheet(document)
        return None, document.problems, None
    if path.name == CAUTIONS.name and not {"flow", "part"} & set(data):
        _check_cautions(document)
        return None, document.problems, None
    if "part" in data and "flow" not in data:
        validated(document, WrittenPart)
        return None, document.problems, None
    return read_flow(path, sheet)


def _find(path_or_name: str | Path, folder: Path, *, what: str) -> Path:
    text = str(path_or_name)
    if re.fullmatch(r"[A-Za-z0-9_-]+", text) and (folder / f"{text}.yaml").is_file():
        return folder / f"{text}.yaml"
    path = Path(path_or_name)
    try:
        found = path.is_file()
    except (OSError, ValueError):
        found = False
    if found:
        return path
    known = [p.stem for p in folder.glob("*.yaml") if p.stem != "cautions"]
    raise FlowProblems(
        [Problem(text, 1, 1, "file", f"there is no {what} of this name and no such file", did_you_mean(text, known))]
    )


def _sheet(document: Document) -> MachineSheet | None:
    if document.problems:
        return None
    sheet = validated(document, MachineSheet)
    if sheet is None:
        return None
    _check_sheet(document, sheet)
    return None if document.problems else sheet


def _check_cautions(document: Document) -> None:
    for name, text in (document.data if isinstance(document.data, dict) else {}).items():
        if not isinstance(text, str) or not text.strip():
            fix = "write the sentence that is spoken"
            document.problem((name,), rule="value", what=f"caution '{name}' has no text", fix=fix)


def _check_sheet(document: Document, sheet: MachineSheet) -> None:
    def known(path: tuple[Any, ...], word: str, names: Any, what: str) -> None:
        if word not in names:
            document.problem(
                path, rule=f"unknown-{what}", what=f"there is no {what} '{word}'", fix=did_you_mean(word, names)
            )

    for name, wire in sheet.wires.items():
        for place, pin in wire.pins.items():
            path = ("wires", name, "pins", place)
            known(path, place, sheet.places, "place")
            if not pin.position.strip() or not sheet.places.get(place, NOWHERE).view.strip():
                what = f"wire '{name}' at '{place}' is given by its colour alone"
                fix = "give the pin a `position:` and the place a `view:`, so that left has a meaning"
                document.problem(path, rule="place-by-colour", what=what, fix=fix)
    for name, spot in sheet.spots.items():
        known(("spots", name, "place"), spot.place, sheet.places, "place")
    for name, entry in sheet.control_unit.inputs.items():
        known(("control_unit", "inputs", name, "wire"), entry.wire, sheet.wires, "wire")
        known(("control_unit", "inputs", name), name, sheet.sensors, "sensor")
    for name, jumper in sheet.jumpers.items():
        for i, point in enumerate(jumper.between):
            known(("jumpers", name, "between", i), point, sheet.points, "point")
