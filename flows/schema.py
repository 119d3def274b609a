"""JSON Schema of a flow, a shared part and a machine sheet, for editors: `python -m flows.schema` writes the files anew."""

import json
from pathlib import Path
from typing import Any

from pydantic import BaseModel

from flows.sheet import MachineSheet
from flows.windows import WINDOWS
from flows.written import WrittenFlow, WrittenPart

FOLDER = Path(__file__).parent / "schema"
MODELS: dict[str, type[BaseModel]] = {"flow": WrittenFlow, "part": WrittenPart, "machine": MachineSheet}


def schema_of(name: str) -> dict[str, Any]:
    """The schema of one kind of file, as pydantic gives it, with the names of the window functions filled in."""
    schema = MODELS[name].model_json_schema(by_alias=True)
    step = schema.get("$defs", {}).get("WrittenStep")
    if step is not None:
        step["properties"]["expect"] = {
            "type": "object",
            "minProperties": 1,
            "maxProperties": 1,
            "propertyNames": {"enum": sorted(WINDOWS)},
            "additionalProperties": {"type": "object"},
            "description": "one window function and its arguments",
        }
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}


def written(name: str) -> str:
    """The text of the schema file."""
    return json.dumps(schema_of(name), indent=1, sort_keys=True, ensure_ascii=False) + "\n"


def main() -> None:
    """Write all schema files."""
    FOLDER.mkdir(exist_ok=True)
    for name in MODELS:
        (FOLDER / f"{name}.schema.json").write_text(written(name), encoding="utf-8")


if __name__ == "__main__":
    main()
