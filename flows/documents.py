"""YAML text into plain data with the line and column of every key and value; words stay words (`yes`, `010`)."""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml

from flows.problems import FlowProblems, Problem

LIMIT_BYTES = 1_000_000
LIMIT_DEPTH = 40

Place = tuple[str | int, ...]


@dataclass(frozen=True)
class Mark:
    """A place in a text, counted from 1."""

    line: int
    column: int


@dataclass
class Document:
    """One file as data, and where each key stands."""

    file: str
    data: Any = None
    marks: dict[Place, Mark] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    files: dict[Place, str] = field(default_factory=dict)  # keys that came from another file

    def mark(self, path: Place) -> Mark:
        """Where this key stands, or the nearest thing around it."""
        path = tuple(path)
        while path and path not in self.marks:
            path = path[:-1]
        return self.marks.get(path, Mark(1, 1))

    def problem(self, path: Place, *, rule: str, what: str, fix: str) -> Problem:
        """Note a problem at this key and give it back."""
        mark = self.mark(path)
        made = Problem(self._file_of(tuple(path)), mark.line, mark.column, rule, what, fix)
        self.problems.append(made)
        return made

    def _file_of(self, path: Place) -> str:
        """The file that a key was written in."""
        while path and path not in self.files:
            path = path[:-1]
        return self.files.get(path, self.file)


def read_document(path: Path, *, name: str | None = None) -> Document:
    """A file as a Document. Raises FlowProblems when it cannot be read as text at all."""
    file = name or _shown(path)
    try:
        raw = path.read_bytes()
    except OSError as error:
        why = error.strerror or type(error).__name__
        raise FlowProblems([Problem(file, 1, 1, "file", f"cannot be read: {why.lower()}", "check the name")]) from None
    if len(raw) > LIMIT_BYTES:
        fix = f"a flow or sheet has at most {LIMIT_BYTES} bytes"
        raise FlowProblems([Problem(file, 1, 1, "file", f"has {len(raw)} bytes", fix)])
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise FlowProblems([Problem(file, line, 1, "file", "is not UTF-8 text", "save it as UTF-8")]) from None
    return parse_document(text, file=file)


def parse_document(text: str, *, file: str) -> Document:
    """Text as a Document; what is wrong is collected in its problems. Never raises."""
    document = Document(file)
    try:
        root = _composed(text)
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        where = Mark(mark.line + 1, mark.column + 1) if mark else Mark(1, 1)
        document.marks[()] = where
        what = " ".join(part for part in (error.context, error.problem) if part) or "is not YAML"
        document.problem(
            (), rule="yaml", what=f"not YAML: {what}", fix="indent with spaces, put a space after each colon"
        )
        return document
    except (yaml.YAMLError, ValueError) as error:
        document.problem((), rule="yaml", what=f"not YAML: {str(error).splitlines()[0]}", fix="use plain text")
        return document
    except RecursionError:
        document.problem((), rule="yaml", what="is nested too deeply", fix="a flow or sheet needs no such depth")
        return document
    if root is None:
        document.problem((), rule="empty", what="is empty", fix="write a flow or a machine sheet")
        return document
    document.data = _plain(root, (), document, seen=set())
    if not isinstance(document.data, dict) and not document.problems:
        document.problem(
            (),
            rule="shape",
            what="is not a list of keys",
            fix="start with `flow: name`, `part: name` or `machine: name`",
        )
    return document


def _composed(text: str) -> yaml.Node | None:
    """The tree of a text, ten times quicker where libyaml is there; what is wrong is told in PyYAML's own words."""
    fast = getattr(yaml, "CBaseLoader", None)
    try:
        if fast is not None and _shallow(text, fast):
            return yaml.compose(text, Loader=fast)
    except yaml.YAMLError:
        pass
    return yaml.compose(text, Loader=yaml.BaseLoader)


def _shallow(text: str, loader: Any) -> bool:
    """No deeper than a flow needs: libyaml's trees are built by calls that nothing stops."""
    depth = 0
    for event in yaml.parse(text, Loader=loader):
        depth += isinstance(event, yaml.CollectionStartEvent) - isinstance(event, yaml.CollectionEndEvent)
        if depth > 2 * LIMIT_DEPTH:
            return False
    return True


def _plain(node: yaml.Node, path: Place, document: Document, *, seen: set[int]) -> Any:
    document.marks.setdefault(path, Mark(node.start_mark.line + 1, node.start_mark.column + 1))
    if id(node) in seen:
        document.problem(
            path, rule="alias", what="points back to a piece written elsewhere (`*name`)", fix="write it out here"
        )
        return ""
    seen.add(id(node))
    if isinstance(node, yaml.ScalarNode):
        return str(node.value)
    if len(path) > LIMIT_DEPTH:
        document.problem(path, rule="yaml", what="is nested too deeply", fix="a flow or sheet needs no such depth")
        return ""
    if isinstance(node, yaml.SequenceNode):
        return [_plain(item, (*path, i), document, seen=seen) for i, item in enumerate(node.value)]
    return _mapping(node, path, document, seen=seen)


def _mapping(node: yaml.Node, path: Place, document: Document, *, seen: set[int]) -> dict[str, Any]:
    made: dict[str, Any] = {}
    for key_node, value_node in node.value:
        mark = Mark(key_node.start_mark.line + 1, key_node.start_mark.column + 1)
        if not isinstance(key_node, yaml.ScalarNode):
            document.marks[(*path, "?")] = mark
            document.problem(
                (*path, "?"), rule="key", what="a key is not a plain word", fix="write a word before the colon"
            )
            continue
        key = str(key_node.value)
        if key in made:
            first = document.mark((*path, key))
            document.marks[(*path, key, "?again")] = mark
            what = f"key '{key}' is given twice, first on line {first.line}"
            document.problem((*path, key, "?again"), rule="duplicate-key", what=what, fix="keep one of the two")
            continue
        document.marks[(*path, key)] = mark
        made[key] = _plain(value_node, (*path, key), document, seen=seen)
    return made


def _shown(path: Path) -> str:
    try:
        return str(path.resolve().relative_to(Path.cwd()))
    except (ValueError, OSError):
        return str(path)
