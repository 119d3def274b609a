"""The schema files for editors are those of the models, and every shipped flow fits them."""

import json

import jsonschema
import pytest
import yaml

from flows.schema import FOLDER, MODELS, written
from flows.source import LIBRARY, PARTS


@pytest.mark.parametrize("name", MODELS)
def test_the_file_is_fresh(name: str) -> None:
    file = FOLDER / f"{name}.schema.json"
    assert file.read_text(encoding="utf-8") == written(name), "run python -m flows.schema"


def plain(text: str) -> object:
    return yaml.load(text, Loader=yaml.BaseLoader)  # as the tool reads it: every scalar is text


@pytest.mark.parametrize(
    "file", [p for p in sorted(LIBRARY.glob("*.yaml")) if p.stem != "cautions"], ids=lambda p: p.stem
)
def test_shipped_flows_have_the_keys_of_the_schema(file) -> None:
    schema = json.loads((FOLDER / "flow.schema.json").read_text())
    known = set(schema["properties"])
    data = plain(file.read_text(encoding="utf-8"))
    assert set(data) <= known and set(schema["required"]) <= set(data)
    steps = set(schema["$defs"]["WrittenStep"]["properties"])
    windows = set(schema["$defs"]["WrittenStep"]["properties"]["expect"]["propertyNames"]["enum"])
    for name, step in data["steps"].items():
        assert set(step) <= steps, name
        assert set(step.get("expect", {})) <= windows, name


def test_parts_fit_too() -> None:
    schema = json.loads((FOLDER / "part.schema.json").read_text())
    for file in sorted(PARTS.glob("*.yaml")):
        data = plain(file.read_text(encoding="utf-8"))
        assert set(data) <= set(schema["properties"]), file.name


def test_the_schema_is_a_schema_and_refuses_an_unknown_key() -> None:
    schema = json.loads((FOLDER / "flow.schema.json").read_text())
    jsonschema.Draft202012Validator.check_schema(schema)
    errors = list(jsonschema.Draft202012Validator(schema).iter_errors({"flow": "x", "stpes": {}}))
    assert any("stpes" in error.message for error in errors)
