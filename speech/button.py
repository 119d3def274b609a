"""One big button, foot switch or key: short is yes, long is no, held is talk. Times come in, so tests need no hands."""

import os
import queue
import select
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from typing import Literal

LONG_S = 0.5
HELD_S = 1.5
REPEAT_START_S = 0.65
"""A keyboard's first repeat of a held key comes a quarter to six tenths of a second after the key."""
REPEAT_GAP_S = 0.15

Press = Literal["short", "long", "talk_start", "talk_end"]


class Button:
    """Turns pressing and letting go into what they mean; safe to feed from one thread and read from another."""

    def __init__(self) -> None:
        self._queue: queue.Queue[Press] = queue.Queue()
        self._down_s: float | None = None
        self._talking = False
        self._lock = threading.Lock()

    def press(self, at_s: float) -> None:
        """The button went down; a second press without letting go is ignored."""
        with self._lock:
            if self._down_s is None:
                self._down_s = at_s

    def hold(self, at_s: float) -> None:
        """The button is still down at this time; begins talking once it is held long enough."""
        with self._lock:
            if self._down_s is not None and not self._talking and at_s - self._down_s >= HELD_S:
                self._talking = True
                self._queue.put("talk_start")

    def release(self, at_s: float) -> None:
        """The button came up."""
        self.hold(at_s)
        with self._lock:
            if self._down_s is None:
                return
            held_s = at_s - self._down_s
            if self._talking:
                self._queue.put("talk_end")
            else:
                self._queue.put("long" if held_s >= LONG_S else "short")
            self._down_s, self._talking = None, False

    def take(self) -> Press | None:
        """The next thing the button said, if any."""
        with suppress(queue.Empty):
            return self._queue.get_nowait()
        return None

    def clear(self) -> None:
        """Forget what was pressed while nobody asked."""
        while self.take() is not None:
            pass


class RepeatingKey:
    """A key of a terminal as a button: there is no letting go, so the end of its repeats is taken for it."""

    def __init__(self, button: Button) -> None:
        self._button = button
        self._first_s: float | None = None
        self._last_s = 0.0

    def key(self, at_s: float) -> None:
        """A key came in, the first or a repeat."""
        if self._first_s is None:
            self._first_s = at_s
            self._button.press(at_s)
        self._last_s = at_s
        self._button.hold(at_s)

    def tick(self, now_s: float) -> None:
        """Time went by; lets go when the key no longer repeats."""
        if self._first_s is None:
            return
        gap_s = REPEAT_START_S if self._last_s == self._first_s else REPEAT_GAP_S
        if now_s - self._last_s > gap_s:
            self._button.release(self._last_s)
            self._first_s = None


class TerminalButton:
    """Any key of a terminal, or a USB pedal that types one, as the button."""

    def __init__(self, button: Button, *, handle: int = 0, clock: Callable[[], float] = time.monotonic) -> None:
        """handle: file descriptor of the terminal. Leaves the terminal as it was when closed."""
        self._handle, self._clock = handle, clock
        self._key = RepeatingKey(button)
        self._restore: Callable[[], None] = _one_key_at_a_time(handle)
        self._ending = threading.Event()
        self._thread = threading.Thread(target=self._run, name="button", daemon=True)
        self._thread.start()

    def _run(self) -> None:
        while not self._ending.is_set():
            ready, _, _ = select.select([self._handle], [], [], 0.05)
            if ready:
                if not os.read(self._handle, 64):
                    return
                self._key.key(self._clock())
            self._key.tick(self._clock())

    def close(self) -> None:
        self._ending.set()
        self._thread.join(1.0)
        self._restore()


def _one_key_at_a_time(handle: int) -> Callable[[], None]:
    """Keys come at once, unechoed; gives what puts the terminal back. A pipe is left as it is."""
    if not os.isatty(handle):
        return lambda: None
    import termios
    import tty

    before = termios.tcgetattr(handle)
    tty.setcbreak(handle)
    return lambda: termios.tcsetattr(handle, termios.TCSADRAIN, before)
