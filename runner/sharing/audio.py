"""Sounds of shared sessions in any place fsspec knows: a folder, a bucket. Named by content, so sent once and never twice."""

import hashlib
from collections.abc import Mapping, Sequence
from typing import Any

import fsspec

from runner.record.sounds import SoundStore, is_hash, removed_sounds, sounds_in
from runner.sharing.database import SharingError


class SharedSounds:
    """Where sounds go, and where what is forgotten is taken away again."""

    def __init__(self, place: str, store: SoundStore) -> None:
        """place: a folder or an address such as s3://bucket/folder; its own package may be needed."""
        self._store, self._place = store, place
        try:
            self._files, self._root = fsspec.core.url_to_fs(place)
        except (ImportError, ValueError, OSError) as error:
            raise SharingError(
                f"{place!r} is no place to share sound to: {error}. Give a folder or an address."
            ) from error
        self.sent = 0

    def send(self, events: Sequence[Mapping[str, Any]]) -> None:
        """What these events name and is kept here goes there; what they say was removed is taken away."""
        removed = removed_sounds(events)
        try:
            for digest, _at in sounds_in(events):
                there = self._path(digest)
                if digest in removed:
                    if self._files.exists(there):
                        self._files.rm_file(there)
                elif (flac := self._store.read(digest)) is not None and not self._files.exists(there):
                    self._put(there, flac)
        except OSError as error:
            raise SharingError(
                f"Sound cannot be sent to {self._place} ({error}). Nothing is lost: share again when it can."
            ) from error

    def read(self, digest: str) -> bytes | None:
        """A sound that was sent, as FLAC; None when it is not there or not what its name says."""
        if not is_hash(digest):
            return None
        try:
            flac = bytes(self._files.cat_file(self._path(digest)))
        except OSError:
            return None
        return flac if hashlib.sha256(flac).hexdigest() == digest else None

    def _put(self, there: str, flac: bytes) -> None:
        """Under another name until it is whole, where the place can rename; a bucket shows nothing half written."""
        self._files.makedirs(there.rpartition("/")[0], exist_ok=True)
        with self._files.transaction, self._files.open(there, "wb") as out:
            out.write(flac)
        self.sent += 1

    def _path(self, digest: str) -> str:
        return f"{self._root}/{digest[:2]}/{digest}.flac"
