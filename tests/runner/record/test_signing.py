"""A sealed session is checked by who has only the copy and the public key."""

from __future__ import annotations

import json
import os
import stat
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from runner.record.chain import GENESIS, Link, audit_links, canonical, digest, read_export
from runner.record.journal import Journal
from runner.record.signing import BadKey, check_seals, own_key, public_hex, public_key_from, seal


@pytest.fixture
def key(tmp_path: Path) -> Ed25519PrivateKey:
    return own_key(tmp_path / "home" / "key.pem")


@pytest.fixture
def copy(tmp_path: Path, key: Ed25519PrivateKey) -> list[str]:
    """A closed session of five events and its seal, as lines."""
    with Journal.open(tmp_path / "journal.sqlite", "job-1") as journal:
        for number in range(5):
            journal.append({"type": "measured", "value": number})
        seal(journal, key)
        return list(journal.export_lines())


def wrong(lines: list[str], key: Ed25519PrivateKey) -> list[int]:
    """Numbers of the events that an auditor with this copy and the public key names."""
    links = [link for _session, link in read_export(lines)]
    found = [*audit_links("job-1", links).breaks, *check_seals("job-1", links, key=public_hex(key)).breaks]
    return sorted({each.sequence for each in found})


def rechained(lines: list[str], change: Callable[[dict[str, object]], None]) -> list[str]:
    """All rewritten by one who knows how the chain is made, but has not the key."""
    previous, made = GENESIS, []
    for line in lines:
        event = {name: value for name, value in json.loads(line).items() if name != "hash"}
        change(event)
        event["previous"] = previous
        previous = digest(canonical(event))
        made.append(canonical({**event, "hash": previous}))
    return made


def test_key_is_made_once_and_is_its_owners_alone(tmp_path: Path) -> None:
    for race in range(12):
        path = tmp_path / f"home-{race}" / "key.pem"
        with ThreadPoolExecutor(4) as many:
            keys = set(many.map(lambda path: public_hex(own_key(path)), [path] * 4))
        assert keys == {public_hex(own_key(path))}
        assert stat.S_IMODE(path.stat().st_mode) == 0o600
        assert os.listdir(path.parent) == ["key.pem"]


def test_whole_copy_is_whole(copy: list[str], key: Ed25519PrivateKey) -> None:
    assert wrong(copy, key) == []
    links = [link for _session, link in read_export(copy)]
    assert check_seals("job-1", links).keys == (public_hex(key),)
    assert check_seals("job-1", links).upto == 6


def test_changed_missing_reordered_and_cut_events_are_named(copy: list[str], key: Ed25519PrivateKey) -> None:
    assert wrong([*copy[:2], copy[2].replace('"value":2', '"value":9'), *copy[3:]], key) == [3]
    assert 3 in wrong([*copy[:2], *copy[3:]], key)
    assert 2 in wrong([copy[0], copy[2], copy[1], *copy[3:]], key)
    assert wrong(copy[:4], key) == [4]  # the seal went with the end
    assert wrong([*copy[:3], copy[5]], key) != []


def test_rewriting_all_with_fresh_hashes_is_found_by_the_seal(copy: list[str], key: Ed25519PrivateKey) -> None:
    def change(event: dict[str, object]) -> None:
        if event["sequence"] == 3:
            event["value"] = 9

    assert 6 in wrong(rechained(copy, change), key)


def test_seal_by_another_key_does_not_count(copy: list[str], tmp_path: Path) -> None:
    other = own_key(tmp_path / "other.pem")
    assert wrong(copy, other) == [6]


def test_event_added_after_the_seal_is_named(tmp_path: Path, copy: list[str], key: Ed25519PrivateKey) -> None:
    with Journal.open(tmp_path / "journal.sqlite", "job-1") as journal:
        journal.append({"type": "commented", "words": "later"})
        assert wrong(list(journal.export_lines()), key) == [7]
        seal(journal, key)
        assert wrong(list(journal.export_lines()), key) == []
        assert seal(journal, key) is None  # once is enough


@pytest.mark.parametrize(
    ("name", "value"), [("upto", "x"), ("signature", "zz"), ("key", "00"), ("signature", None), ("upto", 99)]
)
def test_spoiled_seal_is_named(copy: list[str], key: Ed25519PrivateKey, name: str, value: object) -> None:
    def spoil(event: dict[str, object]) -> None:
        if event["type"] == "sealed":
            event[name] = value

    assert wrong(rechained(copy, spoil), key) == [6]


def test_public_key_is_taken_as_digits_or_file(tmp_path: Path, key: Ed25519PrivateKey) -> None:
    told = public_hex(key)
    pem = key.public_key().public_bytes(serialization.Encoding.PEM, serialization.PublicFormat.SubjectPublicKeyInfo)
    (tmp_path / "pub.pem").write_bytes(pem)
    (tmp_path / "pub.txt").write_text(told + "\n")
    assert {public_key_from(each) for each in (told, str(tmp_path / "pub.pem"), str(tmp_path / "pub.txt"))} == {told}
    for bad in ("", "12", "x" * 64, str(tmp_path), str(tmp_path / "home" / "key.pem")):
        with pytest.raises(BadKey, match="--show-key"):
            public_key_from(bad)


def test_file_that_is_no_key_is_said_to_be_none(tmp_path: Path) -> None:
    (tmp_path / "key.pem").write_text("hello")
    with pytest.raises(BadKey, match="no private key"):
        own_key(tmp_path / "key.pem")


def test_damaged_link_has_no_seal() -> None:
    assert check_seals("job-1", [Link(1, "{", "00")]).upto == 0
    assert check_seals("job-1", [Link(1, "[" * 100_000, "00")]).upto == 0
