"""Every import in the rooms is parsed: a room that reaches where it may not fails here, directly or by a detour."""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
ROOMS = ("flows", "speech", "runner")
OWN = frozenset({*ROOMS, "tests", "recordings"})

# What each room may import beside the standard library. speech.training is an extra and brings its own.
OUTSIDE = {
    "flows": {"pydantic", "yaml", "numpy"},
    "speech": {"numpy", "vosk", "pyttsx3", "sounddevice", "espeakng_loader"},
    "runner": {"flows", "speech", "transitions", "click", "rich", "jinja2", "numpy", "pydantic", "yaml"}
    | {"schemdraw"}
    | {"starlette", "uvicorn", "argon2", "itsdangerous"}
    | {"cryptography", "soundfile", "weasyprint", "sqlalchemy", "alembic", "fsspec"},
}
# Packages that only these modules may touch.
ONLY = {
    "transitions": {"runner.talk.machine"},
    "sqlite3": {"runner.record.database"},
    "vosk": {"speech.recogniser", "speech.vosk_ears"},
    "pyttsx3": {"speech.pyttsx3_voice", "speech.pyttsx3_child"},
    "sounddevice": {"speech.sound_devices"},
    "jinja2": {"runner.report.paper", "runner.web.paper"},
    "schemdraw": {"runner.schematic.symbols"},
    "uvicorn": {"runner.web.serving", "runner.web.follow_serving"},
    "argon2": {"runner.web.users"},
    "itsdangerous": {"runner.web.visitors"},
    "cryptography": {"runner.record.signing"},
    "weasyprint": {"runner.record.exporting"},
    "sqlalchemy": {f"runner.sharing.{name}" for name in ("schema", "database", "sending", "reading", "benchmark")}
    | {"runner.sharing.migrations.versions.0001_sessions_events_readings"},
    "alembic": {"runner.sharing.database", "runner.sharing.migrations.env"}
    | {"runner.sharing.migrations.versions.0001_sessions_events_readings"},
    "fsspec": {"runner.sharing.audio"},
    "soundfile": {"runner.record.sounds"},
}
# What asks, hears, judges and decides may not know that a technician could be simulated.
HONEST = (
    "runner.talk.dialogue",
    "runner.talk.advice",
    "runner.talk.steps",
    "runner.talk.workbench",
    "runner.talk.readings",
    "runner.talk.taking",
    "runner.talk.answers",
    "runner.talk.asking",
    "runner.talk.line",
    "runner.record.logbook",
    "runner.record.session",
    "runner.talk.machine",
    "runner.record.journal",
    "runner.talk.live",
    "flows.judging",
    "flows.windows",
)
REHEARSAL = (
    "runner.rehearsal.rehearsal",
    "runner.rehearsal.wishes",
    "runner.rehearsal.technician",
    "runner.rehearsal.engine",
)
# Nor may it solve an engine. Advice does, over sampled engines: it is told and recorded, and never branches.
ENGINES = ("flows.circuits", "flows.network", "flows.trial")
ADVICE = "runner.talk.advice"
STANDARD_LIBRARY_ONLY = ("runner", "runner.__main__", "runner.bootstrap", "runner.environment", "runner.installing")


def module_name(file: Path) -> str:
    parts = file.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


MODULES = {module_name(file): file for room in ROOMS for file in sorted((ROOT / room).rglob("*.py"))}


def imports(name: str, text: str, *, package: bool = False) -> Iterator[str]:
    """Full names of all that a module imports, wherever in it; importlib by name counts as well."""
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                up = name.split(".")[: None if package and node.level == 1 else -(node.level - package)]
                base = ".".join([*up, *([base] if base else [])])
            yield base
            yield from (f"{base}.{alias.name}" for alias in node.names)
        elif isinstance(node, ast.Call) and getattr(node.func, "attr", getattr(node.func, "id", "")) in (
            "import_module",
            "__import__",
        ):
            yield from (str(arg.value) for arg in node.args[:1] if isinstance(arg, ast.Constant))


IMPORTS = {
    name: set(imports(name, file.read_text(encoding="utf-8"), package=file.name == "__init__.py"))
    for name, file in MODULES.items()
}


def own_module(name: str) -> str | None:
    """The module of ours that an imported name lies in."""
    while name:
        if name in MODULES:
            return name
        name = name.rpartition(".")[0]
    return None


def reached(start: str, *, past: str = "") -> set[str]:
    """All modules of ours that load when this one does or when something in it is used, and the packages around them.

    past: a module that is not looked into.
    """
    seen: set[str] = set()
    todo = [start]
    while todo:
        name = todo.pop()
        if name in seen or name == past:
            continue
        seen.add(name)
        todo += [each for each in map(own_module, IMPORTS[name]) if each]
        parent = name.rpartition(".")[0]
        todo += [parent] if parent in MODULES else []
    return seen


@pytest.mark.parametrize("name", sorted(MODULES))
def test_module_imports_only_what_its_room_may(name: str) -> None:
    room = name.split(".")[0]
    allowed = OUTSIDE[room] | {room}
    if name.startswith("speech.training"):
        forbidden = {each for each in IMPORTS[name] if each.split(".")[0] in OWN - {"speech"}}
    else:
        tops = {each.split(".")[0] for each in IMPORTS[name]}
        forbidden = {top for top in tops if top not in sys.stdlib_module_names and top not in allowed}
    assert not forbidden, (
        f"{name} imports {', '.join(sorted(forbidden))}; {room} may import {', '.join(sorted(allowed))}"
    )


@pytest.mark.parametrize("package", sorted(ONLY))
def test_package_is_touched_in_one_place(package: str) -> None:
    found = {
        name
        for name, names in IMPORTS.items()
        if package in {each.split(".")[0] for each in names} and not name.startswith("speech.training")
    }
    assert found <= ONLY[package], f"{package} is imported by {', '.join(sorted(found - ONLY[package]))}"


def test_training_is_not_needed_to_run() -> None:
    found = {
        name
        for name, names in IMPORTS.items()
        if not name.startswith("speech.training") and any(each.startswith("speech.training") for each in names)
    }
    assert not found, f"speech.training is an extra, yet imported by {', '.join(sorted(found))}"


def inside(name: str, packages: tuple[str, ...]) -> bool:
    return any(name == each or name.startswith(each + ".") for each in packages)


@pytest.mark.parametrize("name", HONEST)
def test_what_decides_cannot_reach_the_rehearsal(name: str) -> None:
    """No step of a rehearsal may be short-cut: what the judge gets is what the recogniser heard."""
    assert name in MODULES, f"{name} is gone; name its successor in HONEST"
    peeks = {each for each in reached(name) if inside(each, REHEARSAL)}
    assert not peeks, f"{name} reaches {', '.join(sorted(peeks))}"


@pytest.mark.parametrize("name", sorted(set(HONEST) - {ADVICE}))
def test_what_decides_solves_no_engine_but_for_advice(name: str) -> None:
    peeks = {each for each in reached(name, past=ADVICE) if inside(each, ENGINES)}
    assert not peeks, f"{name} reaches {', '.join(sorted(peeks))}"


def test_advice_never_steers() -> None:
    """Whatever moves a flow on or judges a reading stands without it."""
    for name in (
        "flows.judging",
        "flows.walking",
        "runner.talk.machine",
        "runner.record.session",
        "runner.talk.readings",
        "runner.talk.steps",
    ):
        assert ADVICE not in reached(name), f"{name} reaches {ADVICE}"


def test_the_names_guarded_against_exist() -> None:
    missing = {name for name in (*REHEARSAL, *ENGINES, ADVICE) if name not in MODULES}
    assert not missing, f"{', '.join(sorted(missing))} moved; the rules above guard nothing"


@pytest.mark.parametrize("name", STANDARD_LIBRARY_ONLY)
def test_first_run_needs_the_standard_library_only(name: str) -> None:
    at_top = ast.parse(MODULES[name].read_text(encoding="utf-8")).body
    tops = {
        (alias.name if isinstance(node, ast.Import) else node.module or "").split(".")[0]
        for node in at_top
        if isinstance(node, ast.Import | ast.ImportFrom)
        for alias in node.names
    }
    assert tops <= {*sys.stdlib_module_names, "runner"}


def test_runner_itself_imports_nothing() -> None:
    assert IMPORTS["runner"] == set()


# --- the rule itself ------------------------------------------------------------------------------------------------


def test_rule_sees_every_way_of_importing() -> None:
    text = """
import a.b
def late():
    from c import d
    import importlib
    importlib.import_module("e.f")
from . import g
from ..h import i
"""
    assert set(imports("runner.report.page", text)) >= {
        "a.b",
        "c.d",
        "e.f",
        "runner.report.g",
        "runner.h.i",
    }
    assert "runner.report.g" in set(imports("runner.report", "from . import g", package=True))
    assert "runner.h" in set(imports("runner.report", "from .. import h", package=True))
