"""Who is at a page, told by a signed cookie, and whether a form they send was one of ours."""

import hashlib
import hmac
import secrets
import threading
import time
from collections import OrderedDict
from dataclasses import dataclass

from itsdangerous import BadSignature, Signer

from runner.web.sections import Role
from runner.web.users import Users

LASTS_S = 8 * 3600.0  # a shift; signed in again after that
MOST_SIGNED_IN = 1000


@dataclass(frozen=True)
class Visitor:
    """Somebody at a page. name: "" when nobody had to sign in. token: goes into every form."""

    name: str
    role: Role
    key: str
    token: str

    def may(self, least: Role) -> bool:
        """Whether a page for that role is open to them."""
        return self.role >= least


@dataclass(frozen=True)
class _SignedIn:
    name: str
    until_s: float


class Visitors:
    """Knows the cookies it gave out. Keys of who signed in are held here, so that signing out ends them for good."""

    def __init__(self, users: Users | None) -> None:
        """users: None when nobody has to sign in, and everybody here is a supervisor."""
        self._secret = secrets.token_bytes(32)  # of this process: a restart signs everybody out
        self._signer = Signer(self._secret, salt="leadsman.visitor", digest_method=hashlib.sha256)
        self._users = users
        self._signed_in: OrderedDict[str, _SignedIn] = OrderedDict()
        self._lock = threading.Lock()

    def known(self, cookie: str) -> Visitor | None:
        """The visitor of a cookie that was given out here; None for any other."""
        try:
            key = self._signer.unsign(cookie).decode("ascii")
        except (BadSignature, UnicodeDecodeError):
            return None
        return self._visitor(key)

    def new(self) -> tuple[Visitor, str]:
        """A visitor not seen before, and their cookie."""
        key = secrets.token_urlsafe(24)
        return self._visitor(key), self._signer.sign(key).decode("ascii")

    def sign_in(self, name: str) -> tuple[Visitor, str]:
        """A visitor who proved who they are gets a new key; the one before is worth nothing."""
        key = secrets.token_urlsafe(24)
        with self._lock:
            self._signed_in[key] = _SignedIn(name, time.monotonic() + LASTS_S)
            while len(self._signed_in) > MOST_SIGNED_IN:
                self._signed_in.popitem(last=False)
        return self._visitor(key), self._signer.sign(key).decode("ascii")

    def sign_out(self, visitor: Visitor) -> None:
        """Forget the key: a copy of the cookie opens nothing any more."""
        with self._lock:
            self._signed_in.pop(visitor.key, None)

    def _visitor(self, key: str) -> Visitor:
        token = hmac.new(self._secret, b"form:" + key.encode(), hashlib.sha256).hexdigest()
        if self._users is None:
            return Visitor("", Role.SUPERVISOR, key, token)
        with self._lock:
            found = self._signed_in.get(key)
        if found is None or found.until_s < time.monotonic():
            return Visitor("", Role.ANYBODY, key, token)
        role = self._users.role_of(found.name)  # asked each time: who was taken out is out at once
        return Visitor(found.name if role else "", role or Role.ANYBODY, key, token)


def is_token(visitor: Visitor, given: str) -> bool:
    """Whether a form carries the token of this visitor."""
    return hmac.compare_digest(visitor.token.encode(), given.encode())
