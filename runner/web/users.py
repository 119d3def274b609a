"""People with roles and passwords, in one file that only its owner may read."""

import json
import os
import re
from dataclasses import dataclass
from pathlib import Path
from threading import BoundedSemaphore

from argon2 import PasswordHasher
from argon2.exceptions import Argon2Error, InvalidHashError

from runner.errors import RunError
from runner.web.sections import Role

NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,31}")
SHORTEST, LONGEST = 10, 200  # a password's characters
ROLES = {role.word: role for role in Role if role is not Role.ANYBODY}
_AT_ONCE = BoundedSemaphore(2)  # each takes 64 MB and a core for a while


class UserError(RunError):
    """A user that cannot be added, found or read."""


@dataclass(frozen=True)
class User:
    """Somebody who may sign in; a name may be initials."""

    name: str
    role: Role


class Users:
    """The file of users. It is read at each sign-in, so that somebody removed is out without a restart."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._hasher = PasswordHasher()  # argon2id, RFC 9106 low-memory parameters, the library's default
        self._nobody = self._hasher.hash("nobody has this password")

    def all(self) -> list[User]:
        """Everybody, by name."""
        return [User(name, ROLES[facts["role"]]) for name, facts in sorted(self._read().items())]

    def add(self, name: str, role: str, password: str) -> None:
        """Add somebody, or give them another role and password. Raises UserError saying what is wanted."""
        if not NAME.fullmatch(name):
            raise UserError(f"{name!r} is no user name. Take 1 to 32 letters, digits, dots or dashes; initials do.")
        if role not in ROLES:
            raise UserError(f"{role!r} is no role. Take one of {', '.join(ROLES)}.")
        if not SHORTEST <= len(password) <= LONGEST:
            raise UserError(f"The password has {len(password)} characters. Take {SHORTEST} to {LONGEST}.")
        self._write({**self._read(), name: {"role": role, "password": self._hasher.hash(password)}})

    def remove(self, name: str) -> None:
        """Take somebody out. Raises UserError when there is nobody of that name."""
        known = self._read()
        if name not in known:
            raise UserError(f"There is no user {name!r}. Known: {', '.join(sorted(known)) or 'nobody yet'}.")
        self._write({each: facts for each, facts in known.items() if each != name})

    def check(self, name: str, password: str) -> User | None:
        """The user whose password this is; a name that is not known takes as long as a wrong password."""
        found = self._read().get(name)
        with _AT_ONCE:
            try:
                self._hasher.verify(found["password"] if found else self._nobody, password[:LONGEST])
            except (Argon2Error, InvalidHashError):
                return None
        return User(name, ROLES[found["role"]]) if found else None

    def role_of(self, name: str) -> Role | None:
        """What somebody may do now; None for who is not among them."""
        found = self._read().get(name)
        return ROLES[found["role"]] if found else None

    def _read(self) -> dict[str, dict[str, str]]:
        try:
            known = json.loads(self.path.read_text(encoding="utf-8"))
        except FileNotFoundError:
            return {}
        except (OSError, ValueError) as error:
            raise UserError(f"The file of users {self.path} cannot be read ({error}). Mend it or remove it.") from error
        sound = isinstance(known, dict) and all(
            isinstance(each, dict) and each.get("role") in ROLES and isinstance(each.get("password"), str)
            for each in known.values()
        )
        if not sound:
            raise UserError(f"{self.path} is no file of users. Name another with --users, or remove it.")
        return known

    def _write(self, known: dict[str, dict[str, str]]) -> None:
        self.path.parent.mkdir(parents=True, exist_ok=True)
        fresh = self.path.with_name(self.path.name + ".new")
        with os.fdopen(os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w", encoding="utf-8") as file:
            json.dump(known, file, indent=1, sort_keys=True)
        fresh.replace(self.path)
