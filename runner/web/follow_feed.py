"""The runner's end of the page for followers: a watcher that passes events on and never waits for anybody."""

import json
import queue
import subprocess
import sys
import threading
from collections.abc import Mapping
from pathlib import Path
from typing import IO, Any

from runner.record.session import Event
from runner.web.follow_serving import facts_of_place
from runner.web.serving import Place, ServingError

HELD = 10_000  # events that wait for a slow pipe; beyond it the page falls behind, the run does not
CLOSING_S = 5.0


class Feed:
    """Starts the followers' server and gives it every event. `watch` is a watcher of a logbook."""

    def __init__(self, place: Place, *, users: Path | None = None, voice: str = "en-us") -> None:
        """Raises ServingError with the reason when the page cannot be served."""
        self.place = place
        facts = json.dumps(facts_of_place(place, users=users, voice=voice))
        self._process = subprocess.Popen(
            [sys.executable, "-m", "runner.web.follow_serving", facts], stdin=subprocess.PIPE, stdout=subprocess.PIPE
        )
        assert self._process.stdout is not None and self._process.stdin is not None
        first = self._process.stdout.readline().decode().strip()
        if first != "ready":
            self._process.stdin.close()
            self._process.stdout.close()
            self._process.wait(CLOSING_S)
            raise ServingError(first or "The page for followers did not start. Run without --follow.")
        self._waiting: queue.Queue[Event | None] = queue.Queue(HELD)
        self._writer = threading.Thread(target=self._write, args=(self._process.stdin,), name="followers", daemon=True)
        self._writer.start()

    def watch(self, event: Mapping[str, Any]) -> None:
        """Pass an event on, at once; one that nobody can take is left out."""
        try:
            self._waiting.put_nowait(event)
        except queue.Full:
            return

    def close(self) -> None:
        """Let the page show the end, and stop its server."""
        try:
            self._waiting.put(None, timeout=CLOSING_S)
        except queue.Full:
            self._process.terminate()
        self._writer.join(CLOSING_S)
        try:
            self._process.wait(CLOSING_S)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        if self._process.stdout is not None:
            self._process.stdout.close()

    def __enter__(self) -> "Feed":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _write(self, pipe: IO[bytes]) -> None:
        try:
            while (event := self._waiting.get()) is not None:
                pipe.write(json.dumps(event).encode() + b"\n")
                pipe.flush()
        except OSError:
            pass  # the server is gone: the run goes on without followers
        finally:
            try:
                pipe.close()
            except OSError:
                return
