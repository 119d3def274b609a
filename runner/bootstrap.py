"""Makes the checkout's own .venv and goes on inside it; standard library only, since nothing else is installed yet.

A marker holding pyproject's hash is written last. No marker: the .venv is half made and is made again. A marker of an
older pyproject: the .venv is brought up to date where it stands. Inside an installed environment nothing is done.
"""

from __future__ import annotations

import importlib.metadata
import json
import os
import re
import site
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

from runner.environment import BootstrapError, Place, Tools, ensure, is_inside, tell

OLDEST_PYTHON = (3, 11)


def checkout_beside(package: Path) -> Path | None:
    """The folder with leadsman's pyproject beside this package, or None for an installed wheel."""
    pyproject = package.parent / "pyproject.toml"
    try:
        named = re.search(r'^name\s*=\s*"leadsman"', pyproject.read_text(encoding="utf-8"), re.MULTILINE)
    except OSError:
        return None
    return pyproject.parent if named else None


def installed_here(checkout: Path) -> bool:
    """Whether this interpreter's own packages hold an editable install of this very checkout.

    Only site folders are searched: a leadsman.egg-info lying in the checkout is no installation.
    """
    folders = [*site.getsitepackages(), site.getusersitepackages()]
    for found in importlib.metadata.distributions(name="leadsman", path=folders):
        origin = json.loads(found.read_text("direct_url.json") or "{}").get("url", "")
        if origin == checkout.as_uri():
            return True
    return False


def extras_for(arguments: Sequence[str]) -> frozenset[str]:
    return frozenset({"test"}) if arguments[:1] == ["test"] else frozenset()


# --- going on ---------------------------------------------------------------------------------------------------------


def hand_over(place: Place, arguments: Sequence[str]) -> int:
    """Go on inside the environment, in this process's place."""
    command = [str(place.python), "-m", "runner", *arguments]
    if os.name == "nt":  # exec there returns to the shell at once
        return subprocess.call(command)
    sys.stdout.flush()
    sys.stderr.flush()
    os.execv(command[0], command)


def run_tests(arguments: Sequence[str], *, checkout: Path | None = None) -> int:
    """Run the checkout's tests with pytest, further arguments passed through; pytest's own exit code.

    The slow ones are left out unless a -m of one's own says otherwise; all cores take part unless a -n does.
    """
    checkout = checkout or checkout_beside(Path(__file__).resolve().parent)
    if checkout is None or not (checkout / "tests").is_dir():
        tell("The tests are not in the installed package. Run `python3 -m runner test` in a checkout.")
        return 2
    chosen = [] if any(each == "-m" or each.startswith("-m=") for each in arguments) else ["-m", "not slow"]
    if not any(each.startswith("-n") for each in arguments):
        chosen += ["-n", "auto", "--dist", "loadfile"]  # a file's tests share what was costly to make
    return subprocess.call([sys.executable, "-m", "pytest", *chosen, *arguments], cwd=checkout)


def run_command(arguments: Sequence[str]) -> int:
    """The command itself, in an environment that has what it needs."""
    if arguments[:1] == ["test"]:
        return run_tests(arguments[1:])
    from runner.cli import main as leadsman

    sys.argv = ["leadsman", *arguments]
    leadsman()
    return 0


def main(arguments: Sequence[str], *, tools: Tools | None = None) -> int:
    arguments = list(arguments)
    if sys.version_info < OLDEST_PYTHON:
        wanted = ".".join(map(str, OLDEST_PYTHON))
        tell(f"This is Python {sys.version.split()[0]}; {wanted} or newer is needed. Try: python{wanted} -m runner")
        return 2
    checkout = checkout_beside(Path(__file__).resolve().parent)
    if checkout is None:
        return run_command(arguments)
    place = Place(checkout)
    if not is_inside(place) and installed_here(checkout):
        return run_command(arguments)
    try:
        ensure(place, extras_for(arguments), tools or Tools())
    except BootstrapError as error:
        tell(str(error))
        return 1
    except KeyboardInterrupt:
        tell("\nStopped. The same command starts again from here.")
        return 130
    return run_command(arguments) if is_inside(place) else hand_over(place, arguments)
