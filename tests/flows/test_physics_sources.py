"""Every public function of the physics says what it takes and gives, where that is from, and what it refuses."""

import ast
import re
from pathlib import Path

import pytest

import flows.physics

FILES = sorted(Path(flows.physics.__file__).parent.glob("[a-z]*.py"))
FUNCTIONS = [
    pytest.param(node, id=f"{file.stem}.{node.name}")
    for file in FILES
    for node in ast.parse(file.read_text(encoding="utf-8")).body
    if isinstance(node, ast.FunctionDef) and not node.name.startswith("_")
]


@pytest.mark.parametrize("function", FUNCTIONS)
def test_it_says_its_source_and_what_it_refuses(function: ast.FunctionDef) -> None:
    said = ast.get_docstring(function) or ""
    assert "Source:" in said
    raises = any(isinstance(node, ast.Raise) for node in ast.walk(function))
    assert "ValueError" in said or not raises
    assert ">>>" in said


@pytest.mark.parametrize("function", FUNCTIONS)
def test_a_unit_in_a_name_is_given_in_words(function: ast.FunctionDef) -> None:
    """volts, ohms and degrees in brackets; what has no unit (a share, a gravity, a ratio) has none."""
    said = ast.get_docstring(function) or ""
    brackets = " ".join(re.findall(r"\[(.*?)\]", said))
    for suffix, word in (("_v", "V"), ("_a", "A"), ("_kpa", "kPa"), ("_ohm", "ohm"), ("_hz", "Hz"), ("_mv", "mV")):
        if function.name.endswith(suffix):
            assert re.search(rf"\b{word}\b", brackets), f"{function.name} gives {word}, which it does not say"
    if function.name.endswith("_c") or any(a.arg == "temperature_c" for a in function.args.args):
        assert "degC" in said
