"""A PostgreSQL of one's own in a folder, reached by a socket there and by nobody else; for tests and for measuring."""

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from runner.sharing.database import SharingError

_DEBIAN = Path("/usr/lib/postgresql")


def server_programs() -> Path | None:
    """Folder of initdb and pg_ctl, the newest version's; None when there is none."""
    if found := shutil.which("initdb"):
        return Path(found).parent
    versions = sorted(_DEBIAN.glob("*/bin/initdb"), key=lambda each: float(each.parts[-3]))
    return versions[-1].parent if versions else None


@contextmanager
def private_cluster() -> Iterator[str]:
    """Address of a server that lives as long as this. Raises SharingError when it cannot be had."""
    programs = server_programs()
    if programs is None:
        raise SharingError("There is no PostgreSQL server here. On Debian: apt install postgresql.")
    # A short path: that of a socket has a bound of about a hundred letters.
    folder = Path(tempfile.mkdtemp(prefix="lds-pg-", dir="/tmp"))
    if os.geteuid() == 0:
        shutil.chown(folder, "postgres", "postgres")  # the server refuses to run as root
    data = folder / "data"
    try:
        _as_its_user(programs / "initdb", "-D", data, "-A", "trust", "-U", "leadsman", "-E", "UTF8", "--no-sync", "-N")
        settings = f"-c listen_addresses='' -c unix_socket_directories={folder} -c max_connections=200"
        # Durability is not what is tried here, and a disk shared with others is slow to promise it.
        settings += " -c fsync=off -c synchronous_commit=off -c full_page_writes=off"
        _as_its_user(programs / "pg_ctl", "-D", data, "-w", "-l", folder / "log", "-o", settings, "start")
        try:
            yield f"postgresql://leadsman@/postgres?host={folder}"
        finally:
            _as_its_user(programs / "pg_ctl", "-D", data, "-w", "-m", "immediate", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _as_its_user(program: Path, *arguments: object) -> None:
    words = [str(program), *map(str, arguments)]
    if os.geteuid() == 0:
        words = ["runuser", "-u", "postgres", "--", *words]
    done = subprocess.run(
        words, cwd="/tmp", stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE
    )
    if done.returncode:
        raise SharingError(f"{program.name} failed: {done.stderr.decode(errors='replace').strip()[-300:]}")
