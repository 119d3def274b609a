"""Every example in a docstring of the physics, units, meter and windows is run."""

import doctest
import importlib
import pkgutil
from types import ModuleType

import pytest

import flows.physics
import flows.windows

NAMES = [
    "flows.units",
    "flows.meter",
    "flows.windows",
    *(
        m.name
        for package in (flows.physics, flows.windows)
        for m in pkgutil.iter_modules(package.__path__, package.__name__ + ".")
    ),
]


@pytest.mark.parametrize("name", NAMES)
def test_examples_hold(name: str) -> None:
    result = doctest.testmod(importlib.import_module(name), optionflags=doctest.IGNORE_EXCEPTION_DETAIL)
    assert result.failed == 0


@pytest.mark.parametrize("name", [n for n in NAMES if n.startswith("flows.physics.")])
def test_every_public_function_has_units_or_source_and_an_example(name: str) -> None:
    for function in _public_functions(importlib.import_module(name)):
        doc = function.__doc__ or ""
        if function.__name__ == "expanded_u":  # one product, shown where it is used
            continue
        assert ">>>" in doc, f"{name}.{function.__name__} has no example"


def _public_functions(module: ModuleType) -> list:
    return [
        value
        for key, value in vars(module).items()
        if callable(value) and not key.startswith("_") and getattr(value, "__module__", "") == module.__name__
    ]
