"""Makes the checkout's own .venv and goes on inside it; standard library only, since nothing else is installed yet.

A marker holding pyproject's hash is written last. No marker: the .venv is half made and is made again. A marker of an
older pyproject: the .venv is brought up to date where it stands. Inside an installed environment nothing is done.
"""

from __future__ import annotations

import hashlib
import importlib.metadata
import importlib.util
import json
import os
import queue
import re
import shutil
import site
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

OLDEST_PYTHON = (3, 11)
STILL_WORKING_S = 15.0
LOG_TAIL_LINES = 15
DEBIAN_FIX = "On Debian or Ubuntu: sudo apt-get install python3-venv, then the same command again."


class BootstrapError(Exception):
    """The environment could not be made; the sentence says what to do."""


def tell(text: str) -> None:
    """Progress goes to standard error: standard output belongs to the command."""
    print(text, file=sys.stderr, flush=True)


# --- where things are -------------------------------------------------------------------------------------------------


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


# --- running other programs -------------------------------------------------------------------------------------------

Run = Callable[[Sequence[str], Path, Callable[[str], None]], int]


def run_logged(command: Sequence[str], log: Path, on_line: Callable[[str], None]) -> int:
    """Run a command, its output kept in the log and handed on line by line; an empty one marks a long wait."""
    environment = {**os.environ, "PIP_DISABLE_PIP_VERSION_CHECK": "1", "PIP_NO_INPUT": "1", "PYTHONUNBUFFERED": "1"}
    lines: queue.Queue[str | None] = queue.Queue()
    with log.open("a", encoding="utf-8") as kept:
        kept.write("$ " + " ".join(command) + "\n")
        process = subprocess.Popen(
            command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, env=environment
        )
        reader = threading.Thread(target=_read_lines, args=(process, lines), daemon=True)
        reader.start()
        try:
            while (line := _next_line(lines)) is not None:
                kept.write(line)
                if not line or line.strip():
                    on_line(line.rstrip())
            return process.wait()
        finally:
            if process.poll() is None:
                process.terminate()
                process.wait()
            reader.join()


def _read_lines(process: subprocess.Popen[bytes], lines: queue.Queue[str | None]) -> None:
    assert process.stdout is not None
    with process.stdout as stream:
        for raw in stream:
            lines.put(raw.decode("utf-8", "replace"))
    lines.put(None)


def _next_line(lines: queue.Queue[str | None]) -> str | None:
    try:
        return lines.get(timeout=STILL_WORKING_S)
    except queue.Empty:
        return ""


@dataclass(frozen=True)
class Tools:
    """What making an environment needs from outside; tests hand in their own."""

    run: Run = run_logged
    tell: Callable[[str], None] = tell
    python: str = sys.executable
    has_ensurepip: bool = field(default_factory=lambda: importlib.util.find_spec("ensurepip") is not None)
    has_pip: bool = field(default_factory=lambda: importlib.util.find_spec("pip") is not None)


FETCHED = re.compile(  # a package itself, not the .metadata fetched ahead of it
    r"\s*(?:Downloading|Using cached|Processing) (?:\S*/)?([^/\s]+?)-(\d[^-\s]*?)(?:-\S*\.whl|\.tar\.gz|\.zip)(?: \(([\d.]+ \w*B)\)| \(.+\))?$"
)


class Progress:
    """Turns pip's talk into a few plain lines."""

    def __init__(self, say: Callable[[str], None], *, now_s: Callable[[], float] = time.monotonic) -> None:
        self._say, self._now_s, self._started_s = say, now_s, now_s()
        self._seen: set[str] = set()

    def line(self, text: str) -> None:
        if not text:
            self._tell("still working")
        elif fetched := FETCHED.match(text):
            name, version, size = fetched.groups()
            if name not in self._seen:
                self._seen.add(name)
                self._tell(f"{name} {version}" + (f" ({size})" if size else ""))
        elif text.startswith("Installing collected packages:"):
            self._tell(f"putting {text.count(',') + 1} packages in place")

    def _tell(self, what: str) -> None:
        self._say(f"  {self._now_s() - self._started_s:3.0f} s  {what}")


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
    tools.tell("Installing what it needs from PyPI, about 120 MB: one to three minutes.")
    progress = Progress(tools.tell)
    code = tools.run([*pip, "install", "--progress-bar", "off", "-e", what], place.log, progress.line)
    if code:
        raise BootstrapError(explain_failure(log_tail(place.log), place.log))


def log_tail(log: Path) -> str:
    try:
        lines = log.read_text(encoding="utf-8", errors="replace").splitlines()
    except OSError:
        return ""
    return "\n".join("    " + line for line in lines[-LOG_TAIL_LINES:])


REASONS = (  # the most telling first: what pip's log holds, what it means
    (r"No space left on device", "the disk is full. Make about 600 MB free"),
    (r"no such option: --python", f"this pip is too old to install into another environment. {DEBIAN_FIX} Else"),
    (
        r"Failed to establish a new connection|Temporary failure in name|NewConnectionError|ConnectTimeout|ProxyError|"
        r"Network is unreachable|Read timed out|Max retries exceeded",
        "PyPI could not be reached. Connect to the internet (needed this once), or set PIP_INDEX_URL to a mirror",
    ),
    (r"No matching distribution|Could not find a version", "PyPI has no fitting version of a package for this Python"),
    (r"Permission denied", "a folder cannot be written"),
)


def explain_failure(tail: str, log: Path) -> str:
    reason = next((said for pattern, said in REASONS if re.search(pattern, tail)), "pip failed")
    return f"{tail}\nInstalling stopped: {reason}, then run the same command again. The whole log: {log}"


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

    The slow ones are left out unless a -m of one's own says otherwise.
    """
    checkout = checkout or checkout_beside(Path(__file__).resolve().parent)
    if checkout is None or not (checkout / "tests").is_dir():
        tell("The tests are not in the installed package. Run `python3 -m runner test` in a checkout.")
        return 2
    chosen = [] if any(each == "-m" or each.startswith("-m=") for each in arguments) else ["-m", "not slow"]
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
