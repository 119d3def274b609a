"""The server of the followers, a process of its own: events come in on its standard input, one JSON line each.

It is a process apart so that no follower, however many there are, can hold up the voice.
"""

import json
import os
import socket
import sys
import threading
from contextlib import suppress
from pathlib import Path
from typing import Any, BinaryIO

import uvicorn

from runner.errors import RunError
from runner.web.app import make_app
from runner.web.follow import Run, section
from runner.web.serving import Place, ServingError, server_for, setting_for
from runner.web.users import Users
from speech.pyttsx3_voice import Synthesiser

NICER = 5  # the voice comes first
LINGERS_S = 1.0  # after the run, so that everybody has its end


def place_of(facts: dict[str, Any]) -> Place:
    """Where to serve, from the JSON of `facts_of_place`."""
    paths = {name: Path(facts[name]) if facts[name] else None for name in ("certificate", "key")}
    return Place(facts["host"], facts["port"], paths["certificate"], paths["key"], tuple(facts["names"]))


def facts_of_place(place: Place, *, users: Path | None, voice: str) -> dict[str, Any]:
    """What the process is told at its start."""
    return {
        "host": place.host,
        "port": place.port,
        "certificate": str(place.certificate or ""),
        "key": str(place.key or ""),
        "names": list(place.names),
        "users": str(users or ""),
        "voice": voice,
    }


def listening_at(place: Place) -> socket.socket:
    """A socket at the place that takes connections already. Raises ServingError when the port is taken."""
    family = socket.AF_INET6 if ":" in place.host else socket.AF_INET
    try:
        return socket.create_server((place.host, place.port), family=family, backlog=128)
    except OSError as error:
        raise ServingError(
            f"Port {place.port} of {place.host} cannot be had ({error.strerror}). Name another with --follow-port."
        ) from error


def read_events(run: Run, source: BinaryIO) -> None:
    """Every event from the pipe into the run, until the pipe is closed."""
    for line in source:
        with suppress(ValueError):  # half a line, of a runner that was killed
            run.take(json.loads(line))
    run.end()


def main(argument: str) -> int:
    """Serve until standard input is closed. Says "ready", or what is wrong, on standard output."""
    facts = json.loads(argument)
    place = place_of(facts)
    os.nice(NICER)
    speaker = Synthesiser(facts["voice"])
    try:
        users = Users(Path(facts["users"])) if facts["users"] else None
        run = Run(speaker)
        server = server_for(make_app([section(run)], setting=setting_for(place, users)), place)
        server.config.lifespan = "off"  # nothing to start or stop, and a forced end would be told as a fault
        with listening_at(place) as ear:
            print("ready", flush=True)
            reader = threading.Thread(target=_until_closed, args=(run, server), name="events", daemon=True)
            reader.start()
            server.run(sockets=[ear])
    except RunError as error:
        print(f"The page for followers cannot be served. {error}", flush=True)
        return 1
    finally:
        speaker.close()
    return 0


def _until_closed(run: Run, server: uvicorn.Server) -> None:
    read_events(run, sys.stdin.buffer)
    threading.Event().wait(LINGERS_S)
    server.should_exit = server.force_exit = True


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1]))
