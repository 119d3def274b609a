"""A machine sheet in several files: `th2.yaml`, and beside it `th2/*.yaml` with the parts of one circuit each."""

from pathlib import Path

from flows.documents import Document, Place, read_document

SECTIONS: tuple[Place, ...] = (  # what a part of a sheet may add to
    ("sensors",),
    ("control_unit", "inputs"),
    ("wires",),
    ("places",),
    ("spots",),
    ("jumpers",),
    ("settings",),
    ("codes",),
)
BELOW = {str(section[0]) for section in SECTIONS}


def read_sheet(path: Path) -> Document:
    """A machine sheet with its parts put in; what does not fit is noted as a problem of the part's own file."""
    document = read_document(path)
    if document.problems or not isinstance(document.data, dict) or "machine" not in document.data:
        return document
    for part in sorted(path.with_suffix("").glob("*.yaml")):
        _put_in(document, read_document(part))
    return document


def is_part(path: Path) -> bool:
    """Whether a file is a part of a machine sheet: it lies in a folder beside a sheet of the folder's name."""
    return path.suffix == ".yaml" and path.resolve().parent.with_suffix(".yaml").is_file()


def _put_in(document: Document, part: Document) -> None:
    document.problems.extend(part.problems)
    if part.problems:
        return
    for key in part.data:
        if key not in BELOW:
            fix = f"a part of a sheet has {', '.join(sorted(BELOW))}"
            document.problems.append(
                part.problem((key,), rule="unknown-key", what=f"a part of a sheet has no key '{key}'", fix=fix)
            )
    for section in SECTIONS:
        _section(document, part, section)


def _section(document: Document, part: Document, section: Place) -> None:
    found, there = part.data, document.data
    for key in section:
        found = found.get(key, {}) if isinstance(found, dict) else {}
        there = there.setdefault(key, {})
    for name, value in (found if isinstance(found, dict) else {}).items():
        path = (*section, name)
        if name in there:
            what = f"'{name}' is on this machine's sheet already, in {document.files.get(path, document.file)}"
            document.problems.append(
                part.problem(path, rule="duplicate-key", what=what, fix="give it a name of its own, or use that one")
            )
            continue
        there[name] = value
        document.files[path] = part.file
        for length in range(1, len(section) + 1):  # a section that only parts have is known by the first of them
            document.marks.setdefault(section[:length], part.mark(section[:length]))
        document.marks |= {mark: at for mark, at in part.marks.items() if mark[: len(path)] == path}
