"""Runs pip and says in plain lines how it goes and why it failed; standard library only, for the first run."""

from __future__ import annotations

import os
import queue
import re
import subprocess
import threading
import time
from collections.abc import Callable, Sequence
from pathlib import Path

STILL_WORKING_S = 15.0
LOG_TAIL_LINES = 15
DEBIAN_FIX = "On Debian or Ubuntu: sudo apt-get install python3-venv, then the same command again."

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
