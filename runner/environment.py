"""The checkout's own .venv: what it was made from, making it, bringing it up to date; standard library only."""

from __future__ import annotations

import hashlib
import importlib.util
import json
import os
import shutil
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from runner.installing import DEBIAN_FIX, Progress, Run, explain_failure, log_tail, run_logged


class BootstrapError(Exception):
    """The environment could not be made; the sentence says what to do."""


def tell(text: str) -> None:
    """Progress goes to standard error: standard output belongs to the command."""
    print(text, file=sys.stderr, flush=True)


@dataclass(frozen=True)
class Place:
    """A checkout and the environment beside its pyproject."""

    checkout: Path

    @property
    def venv(self) -> Path:
        return self.checkout / ".venv"

    @property
    def python(self) -> Path:
        return self.venv / ("Scripts/python.exe" if os.name == "nt" else "bin/python")

    @property
    def marker(self) -> Path:
        return self.venv / "leadsman-ready.json"

    @property
    def log(self) -> Path:
        return self.venv / "leadsman-install.log"

    @property
    def pyproject(self) -> Path:
        return self.checkout / "pyproject.toml"

    def pyproject_hash(self) -> str:
        return hashlib.sha256(self.pyproject.read_bytes()).hexdigest()


@dataclass(frozen=True)
class Tools:
    """What making an environment needs from outside; tests hand in their own."""

    run: Run = run_logged
    tell: Callable[[str], None] = tell
    python: str = sys.executable
    has_ensurepip: bool = field(default_factory=lambda: importlib.util.find_spec("ensurepip") is not None)
    has_pip: bool = field(default_factory=lambda: importlib.util.find_spec("pip") is not None)


# --- the marker -------------------------------------------------------------------------------------------------------


def read_marker(place: Place) -> dict[str, object] | None:
    """What the environment was made from, or None when it was never finished, is broken, or was moved."""
    try:
        made = json.loads(place.marker.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    usable = isinstance(made, dict) and made.get("checkout") == str(place.checkout) and os.access(place.python, os.X_OK)
    return made if usable else None


def extras_in(made: dict[str, object] | None) -> frozenset[str]:
    named = (made or {}).get("extras", [])
    return frozenset(map(str, named)) if isinstance(named, list) else frozenset()


def is_ready(place: Place, extras: frozenset[str]) -> bool:
    made = read_marker(place)
    return made is not None and made.get("pyproject_sha256") == place.pyproject_hash() and extras <= extras_in(made)


def write_marker(place: Place, extras: frozenset[str]) -> None:
    """Written beside and renamed, so that it is either whole or not there."""
    body = {
        "pyproject_sha256": place.pyproject_hash(),
        "extras": sorted(extras),
        "checkout": str(place.checkout),
    }
    unfinished = place.marker.with_suffix(".part")
    unfinished.write_text(json.dumps(body) + "\n", encoding="utf-8")
    unfinished.replace(place.marker)


# --- making the environment -------------------------------------------------------------------------------------------


def prepare(place: Place, extras: frozenset[str], tools: Tools) -> None:
    """Make the environment, or bring it up to date; afterwards it is ready for these extras."""
    made = read_marker(place)
    extras = extras | extras_in(made)
    inside = is_inside(place)  # the ground one stands on is not taken away
    if made is None and not inside:
        if place.venv.exists():
            tools.tell(f"{place.venv} was never finished; making it again.")
            _remove(place.venv)
        make_venv(place, tools)
    else:
        tools.tell(f"Bringing {place.venv} up to date.")
    kept = place.marker.read_bytes() if made is not None else None
    place.marker.unlink(missing_ok=True)
    try:
        install(place, extras, tools)
    except BootstrapError:
        if kept is not None:  # pip takes a failed install back itself; only a kill leaves it half done
            place.marker.write_bytes(kept)
        raise
    write_marker(place, extras)
    tools.tell(f"Ready. From now on also: {place.python.parent / 'leadsman'}")


def _remove(venv: Path) -> None:
    try:
        if venv.is_symlink() or venv.is_file():
            venv.unlink()
        else:
            shutil.rmtree(venv)
    except OSError as error:
        raise BootstrapError(
            f"{venv} is not usable and cannot be removed ({error.strerror}). Remove it by hand."
        ) from error


def make_venv(place: Place, tools: Tools) -> None:
    if not tools.has_ensurepip and not tools.has_pip:
        raise BootstrapError(f"This Python ({tools.python}) has neither ensurepip nor pip. {DEBIAN_FIX}")
    version = ".".join(map(str, sys.version_info[:3]))
    tools.tell(f"First time here: making {place.venv} with Python {version}.")
    try:
        place.venv.mkdir(parents=True)
    except OSError as error:
        raise BootstrapError(
            f"{place.checkout} cannot be written ({error.strerror}); the tool needs a .venv there. "
            "Copy the checkout to a folder of your own."
        ) from error
    bare = [] if tools.has_ensurepip else ["--without-pip"]
    code = tools.run([tools.python, "-m", "venv", *bare, str(place.venv)], place.log, lambda _line: None)
    if code:
        raise BootstrapError(f"Python could not make {place.venv}:\n{log_tail(place.log)}\n{DEBIAN_FIX}")


def install(place: Place, extras: frozenset[str], tools: Tools) -> None:
    what = str(place.checkout) + (f"[{','.join(sorted(extras))}]" if extras else "")
    has_own_pip = any(place.venv.glob("lib*/python*/site-packages/pip")) or any(place.venv.glob("Lib/*/pip"))
    if has_own_pip or tools.has_ensurepip:
        pip = [str(place.python), "-m", "pip"]
    else:  # the system's pip, told to install over there
        pip = [tools.python, "-m", "pip", "--python", str(place.python)]
    size_mb = 90 if "test" in extras else 50
    tools.tell(f"Installing what it needs from PyPI, about {size_mb} MB: one to three minutes.")
    progress = Progress(tools.tell)
    code = tools.run([*pip, "install", "--progress-bar", "off", "-e", what], place.log, progress.line)
    if code:
        raise BootstrapError(explain_failure(log_tail(place.log), place.log))


@contextmanager
def only_one(place: Place, say: Callable[[str], None]) -> Iterator[None]:
    """Two first runs at once: the second waits. The lock sits on pyproject itself, so no file is left behind."""
    if os.name == "nt":
        yield
        return
    import fcntl

    with place.pyproject.open("rb") as held:
        try:
            fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            say(f"Another run is preparing {place.venv}; waiting for it.")
            fcntl.flock(held, fcntl.LOCK_EX)
        yield


def ensure(place: Place, extras: frozenset[str], tools: Tools) -> None:
    if is_ready(place, extras):
        return
    with only_one(place, tools.tell):
        if not is_ready(place, extras):  # the one waited for may have done it
            prepare(place, extras, tools)


def is_inside(place: Place) -> bool:
    return Path(sys.prefix).resolve() == place.venv.resolve()
