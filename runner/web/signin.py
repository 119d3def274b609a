"""Signing in and out, slowed down for who guesses."""

import threading
import time
from collections import OrderedDict, deque
from collections.abc import Callable

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from runner.web.access import cookie_line
from runner.web.paper import page
from runner.web.sections import Page, Role, Section
from runner.web.users import Users
from runner.web.visitors import Visitors

MOST_TRIES = 5
WITHIN_S = 300.0
MOST_REMEMBERED = 10_000


class Tries:
    """Failed tries by name and by address; so many within some minutes, then no more until they have passed."""

    def __init__(self, *, now_s: Callable[[], float] = time.monotonic) -> None:
        self._now_s = now_s
        self._failed: OrderedDict[str, deque[float]] = OrderedDict()
        self._lock = threading.Lock()

    def wait_s(self, *keys: str) -> float:
        """Seconds until any of these may try again; 0 when they may now."""
        with self._lock:
            return max((self._wait_s(key) for key in keys), default=0.0)

    def failed(self, *keys: str) -> None:
        """Count a failure against each."""
        with self._lock:
            for key in keys:
                self._failed.setdefault(key, deque(maxlen=MOST_TRIES)).append(self._now_s())
                self._failed.move_to_end(key)
            while len(self._failed) > MOST_REMEMBERED:
                self._failed.popitem(last=False)

    def _wait_s(self, key: str) -> float:
        times = self._failed.get(key, deque())
        if len(times) < MOST_TRIES:
            return 0.0
        return max(0.0, times[0] + WITHIN_S - self._now_s())


def section(users: Users, visitors: Visitors, *, encrypted: bool) -> Section:
    """The pages of signing in and out."""
    tries = Tries()

    def show(request: Request) -> Response:
        return page(request, "sign_in.html", words="", name="")

    def sign_in(request: Request) -> Response:
        name, password = request.state.form.get("name", "")[:64], request.state.form.get("password", "")
        keys = (f"name {name}", f"address {request.client.host if request.client else ''}")
        if wait_s := tries.wait_s(*keys):
            told = f"Too many tries. Wait {wait_s / 60:.0f} minutes, then try again."
            raise HTTPException(429, told, headers={"retry-after": f"{wait_s:.0f}"})
        user = users.check(name, password)
        if user is None:
            tries.failed(*keys)
            return page(request, "sign_in.html", status=403, words="Name and password do not fit.", name=name)
        _visitor, cookie = visitors.sign_in(user.name)
        answer = RedirectResponse("/", status_code=303)
        answer.headers["set-cookie"] = cookie_line(cookie, encrypted=encrypted)
        return answer

    def sign_out(request: Request) -> Response:
        visitors.sign_out(request.state.visitor)
        return RedirectResponse("/sign-in", status_code=303)

    return Section(
        pages=(
            Page("/sign-in", show, least=Role.ANYBODY),
            Page("/sign-in", sign_in, least=Role.ANYBODY, method="POST"),
            Page("/sign-out", sign_out, least=Role.TRAINEE, method="POST"),
        )
    )
