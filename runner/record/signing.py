"""A bay's signature under its sessions, so that a copy can be checked by who has only the public key.

A seal is an event of its own, written when a session is closed: an Ed25519 signature over the session's name, the
number of its last event and that event's hash. The chain holds everything before it to it. What a copy cannot show is
that a later seal was cut off with all after the one before: for that, compare it with the bay's own count.
"""

import os
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

from runner.errors import RunError
from runner.jobs import home
from runner.record.chain import Break, Link, canonical, event_in
from runner.record.journal import Journal, Stored

_HEX_KEY = 64


class BadKey(RunError):  # noqa: N818  what it is, not that it went wrong
    """A key that cannot be read or made."""


@dataclass(frozen=True)
class Seals:
    """What the seals of a session say: whose they are, how far they reach, and what is wrong with them."""

    keys: tuple[str, ...]  # public keys in hex, each once, the first seal's first
    upto: int  # number of the last event that a good seal holds; 0 for none
    breaks: tuple[Break, ...] = ()


def key_path() -> Path:
    """Where this bay's private key lies."""
    return home() / "signing-key.pem"


def own_key(path: Path | None = None) -> Ed25519PrivateKey:
    """This bay's key, made at first use and readable by its owner only. Raises RunError when it cannot be used."""
    path = path or key_path()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        if not path.exists():
            _make(path)
        key = serialization.load_pem_private_key(path.read_bytes(), password=None)
    except OSError as error:
        raise BadKey(f"The key {path} cannot be used ({error.strerror}). Make its folder yours to write.") from error
    except (ValueError, TypeError) as error:
        raise BadKey(f"{path} is no private key. Move it away, and a new one is made.") from error
    if not isinstance(key, Ed25519PrivateKey):
        raise BadKey(f"{path} is a key of another kind, not Ed25519. Move it away, and a new one is made.")
    return key


def _make(path: Path) -> None:
    """Written beside and linked, so that two first uses at once end with one whole key."""
    text = Ed25519PrivateKey.generate().private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    file, unfinished = tempfile.mkstemp(prefix=f"{path.name}.", dir=path.parent)  # readable by its owner only
    try:
        os.write(file, text)
    finally:
        os.close(file)
    try:
        os.link(unfinished, path)
    except FileExistsError:
        pass  # another program was first, and its key is the bay's
    finally:
        os.unlink(unfinished)


def public_hex(key: Ed25519PrivateKey) -> str:
    """The public key as 64 hexadecimal digits, as it stands in each seal."""
    return key.public_key().public_bytes_raw().hex()


def public_key_from(told: str) -> str:
    """The public key, in hex, from hexadecimal digits, a PEM file, or a file with the digits in it."""
    path = Path(told)
    text = told
    try:
        if len(told) < 4096 and path.is_file():
            text = path.read_text(encoding="ascii").strip()
        if text.startswith("-----BEGIN"):
            key = serialization.load_pem_public_key(text.encode())
            if isinstance(key, Ed25519PublicKey):
                return key.public_bytes_raw().hex()
        elif len(bytes.fromhex(text)) == _HEX_KEY // 2:
            return text.lower()
    except (OSError, ValueError):
        pass
    raise BadKey(
        f"{told[:80]!r} is no Ed25519 public key. Give its 64 digits or its file; `leadsman sign --show-key` prints it."
    )


def _message(session: str, upto: int, head: str) -> bytes:
    return canonical({"head": head, "sealed_by": "leadsman", "session": session, "upto": upto}).encode("utf-8")


def seal(journal: Journal, key: Ed25519PrivateKey) -> Stored | None:
    """Put this bay's signature under the journal's session; None when it stands there already.

    journal: open for writing to that session.
    """
    links = journal.links()
    if not links:
        raise RunError(f"Session {journal.session} holds nothing yet. Run it first, then sign it.")
    last, mine = links[-1], public_hex(key)
    event = event_in(last)
    if event.get("type") == "sealed" and event.get("key") == mine:
        return None
    signature = key.sign(_message(str(journal.session), last.sequence, last.hash)).hex()
    return journal.append(
        {"type": "sealed", "upto": last.sequence, "head": last.hash, "key": mine, "signature": signature}
    )


def seal_at_end(journal: Journal) -> None:
    """Seal a session that has ended with this bay's key; when there is no key to be had, the record says why."""
    try:
        seal(journal, own_key())
    except BadKey as error:
        journal.append({"type": "unsealed", "why": str(error)})


def check_seals(session: str, links: Sequence[Link], *, key: str | None = None) -> Seals:
    """Check the seals of a session. key: only this one counts, and everything must be sealed by it."""
    by_number = {link.sequence: link for link in links}
    keys: list[str] = []
    breaks: list[Break] = []
    upto = 0
    for link in sorted(links, key=lambda each: each.sequence):
        event = event_in(link)
        if event.get("type") != "sealed":
            continue
        if wrong := _wrong_seal(session, event, by_number):
            breaks.append(Break(link.sequence, f"event {link.sequence} is a seal that {wrong}"))
            continue
        if event["key"] not in keys:
            keys.append(event["key"])
        if key in (None, event["key"]):
            upto = link.sequence
    breaks += _not_held(by_number, upto, key) if key else ()
    return Seals(tuple(keys), upto, tuple(breaks))


def _not_held(by_number: dict[int, Link], upto: int, key: str) -> Iterator[Break]:
    if not upto:
        yield Break(
            max(by_number, default=0), f"no seal by the key {key[:8]}: its end may be cut off, or all rewritten"
        )
        return
    for number in sorted(each for each in by_number if each > upto):
        yield Break(number, f"event {number} came after the last seal by the key {key[:8]}")


def _wrong_seal(session: str, event: dict[str, Any], by_number: dict[int, Link]) -> str:
    """What is wrong with a seal, "" for nothing."""
    try:
        upto, head = int(event["upto"]), str(event["head"])
        public = Ed25519PublicKey.from_public_bytes(bytes.fromhex(event["key"]))
        public.verify(bytes.fromhex(event["signature"]), _message(session, upto, head))
    except InvalidSignature:
        return "its key did not write"
    except (LookupError, TypeError, ValueError):
        return "cannot be read"
    sealed = by_number.get(upto)
    if sealed is None:
        return f"holds event {upto}, which is not there"
    return "" if sealed.hash == head else f"holds another event {upto} than the one that is there"
