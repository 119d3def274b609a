"""Data against a model: every complaint of pydantic becomes a Problem with a line and a way out."""

import re
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ValidationError

from flows.documents import Document
from flows.problems import did_you_mean

ModelT = TypeVar("ModelT", bound=BaseModel)


def validated(document: Document, model: type[ModelT], *, data: Any = None) -> ModelT | None:
    """The document as this model, or None with the problems noted in the document."""
    try:
        return model.model_validate(document.data if data is None else data)
    except ValidationError as error:
        for item in error.errors(include_url=False, include_input=False):
            _note(document, model, item)
        return None


def _note(document: Document, model: type[BaseModel], item: Any) -> None:
    loc = tuple(item["loc"])
    path = _in_file(document, loc)
    kind = item["type"]
    last = str(loc[-1]) if loc else ""
    holder = _said(path if kind == "missing" else path[:-1])
    if kind == "extra_forbidden":
        known = fields_at(model, loc[:-1])
        document.problem(path, rule="unknown-key", what=f"{holder} has no key '{last}'", fix=did_you_mean(last, known))
    elif kind == "missing":
        document.problem(path, rule="missing-key", what=f"{holder} lacks the key '{last}'", fix=f"add `{last}:`")
    elif kind.startswith("union_tag"):
        _note_kind(document, path, item.get("ctx", {}))
    else:
        message = item["msg"].removeprefix("Value error, ")
        message, _, fix = (message[:1].lower() + message[1:]).partition(" | ")
        document.problem(path, rule="value", what=f"{_said(path)}: {message}", fix=fix or _fix(kind))


def _note_kind(document: Document, path: tuple[Any, ...], context: Any) -> None:
    """A union's tag that is missing or unknown."""
    known = re.findall(r"'(\w+)'", str(context.get("expected_tags", "")))
    tag = context.get("tag")
    if tag is None:
        fix = f"add `kind:`, one of {', '.join(known)}" if known else "add `kind:`"
        document.problem(path, rule="missing-key", what=f"{_said(path)} lacks the key 'kind'", fix=fix)
        return
    what = f"{_said(path)} is of kind '{tag}', which is not known"
    document.problem((*path, "kind"), rule="unknown-kind", what=what, fix=did_you_mean(str(tag), known))


def _fix(kind: str) -> str:
    if kind.startswith(("float", "int", "finite")):
        return "write a plain number"
    if kind.startswith(("model", "dict")):
        return "write keys below it, indented"
    if kind.startswith(("tuple", "list")):
        return "write a list: [one, two]"
    return "change the value"


def _in_file(document: Document, loc: tuple[Any, ...]) -> tuple[Any, ...]:
    """pydantic's path without what it adds itself (union tags, key markers)."""
    path: tuple[Any, ...] = ()
    for step in loc:
        if (*path, step) in document.marks:
            path = (*path, step)
    return path


def _said(path: tuple[Any, ...]) -> str:
    singular = {"steps": "step", "findings": "finding", "wires": "wire", "sensors": "sensor", "places": "place"}
    if len(path) >= 2 and path[0] in singular:
        rest = "".join(f", {part}" for part in path[2:])
        return f"{singular[path[0]]} '{path[1]}'{rest}"
    return f"'{'.'.join(map(str, path))}'" if path else "the file"


def fields_at(model: type[BaseModel], loc: tuple[Any, ...]) -> set[str]:
    """Names of the keys a model knows at this path."""
    current: list[Any] = [model]
    for step in loc:
        following: list[Any] = []
        for kind in current:
            following += _below(kind, step)
        current = following
    return {_alias(m, n) for m in current for n in m.model_fields if isinstance(m, type)}


def _alias(model: type[BaseModel], name: str) -> str:
    return model.model_fields[name].alias or name


def _below(kind: type[BaseModel], step: Any) -> list[type[BaseModel]]:
    for name, info in kind.model_fields.items():
        if (info.alias or name) == step:
            return _models(info.annotation)
    return [kind]  # a key of a dict, an index, a union's tag: the models stay the same


def _models(annotation: Any) -> list[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [found for part in get_args(annotation) for found in _models(part)]
