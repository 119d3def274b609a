"""Where this room keeps what it can make again: decoding graphs and synthesised prompts."""

import os
import tempfile
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from shutil import rmtree


def cache_folder(*parts: str) -> Path:
    """A folder for made things, created: XDG_CACHE_HOME, else ~/.cache, else a temporary place of this user."""
    home = os.environ.get("XDG_CACHE_HOME")
    for base in (Path(home) if home else None, _home_cache(), Path(tempfile.gettempdir())):
        if base is None:
            continue
        name = "leadsman" if base != Path(tempfile.gettempdir()) else f"leadsman-{os.getuid()}"
        folder = base.joinpath(name, *parts)
        try:
            folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        except OSError:
            continue
        if os.access(folder, os.W_OK) and folder.stat().st_uid == os.getuid():
            return folder
    return Path(tempfile.mkdtemp(prefix="leadsman-"))


def _home_cache() -> Path | None:
    with suppress(RuntimeError):
        return Path.home() / ".cache"
    return None


def made_folder(target: Path, make: Callable[[Path], object]) -> Path:
    """`target`, made by `make` in a place of its own first, so that nobody ever sees half of it.

    Safe with several processes at once: the first one to finish wins, the others throw theirs away.
    """
    if target.is_dir():
        return target
    target.parent.mkdir(parents=True, exist_ok=True)
    fresh = Path(tempfile.mkdtemp(prefix=f".{target.name}-", dir=target.parent))
    try:
        make(fresh)
        os.rename(fresh, target)
    except OSError:
        if not target.is_dir():
            raise
    finally:
        if fresh.is_dir():
            rmtree(fresh, ignore_errors=True)
    return target


def keep_newest(folder: Path, pattern: str, count: int) -> None:
    """Take away all but the newest folders of a pattern; what another program has open stays readable to it."""
    found = sorted((one for one in folder.glob(pattern) if one.is_dir()), key=lambda one: one.stat().st_mtime)
    for old in found[:-count]:
        rmtree(old, ignore_errors=True)


def write_whole(target: Path, data: bytes) -> None:
    """Write a file that is either whole or not there; a full disk leaves no trace and no error: it is a cache."""
    fresh = None
    try:
        handle, fresh = tempfile.mkstemp(prefix=f".{target.name}-", dir=target.parent)
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        os.replace(fresh, target)
    except OSError:
        if fresh is not None:
            with suppress(OSError):
                os.unlink(fresh)
