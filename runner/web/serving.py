"""Where the pages are served: on this computer alone, or, with users and encryption, on a network."""

import ipaddress
import socket
import ssl
from dataclasses import dataclass
from pathlib import Path

import uvicorn
from starlette.types import ASGIApp

from runner.errors import RunError
from runner.web.app import LOOPBACK, Setting
from runner.web.users import Users

PORT = 8765


class ServingError(RunError):
    """The pages cannot be served as asked."""


@dataclass(frozen=True)
class Place:
    """Address, port, and the files of a TLS certificate and its key, both or neither."""

    host: str = "127.0.0.1"
    port: int = PORT
    certificate: Path | None = None
    key: Path | None = None
    names: tuple[str, ...] = ()  # further names the pages answer to

    @property
    def local(self) -> bool:
        """Whether only this computer can reach it."""
        try:
            return ipaddress.ip_address(self.host).is_loopback
        except ValueError:
            return self.host == "localhost"

    @property
    def url(self) -> str:
        """The address to open."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"http{'s' if self.certificate else ''}://{host}:{self.port}/"


def setting_for(place: Place, users: Users | None) -> Setting:
    """How to serve at that place. Raises ServingError when a network would see more than it may.

    users: None when no file of users was named; on loopback nobody has to sign in then.
    """
    if (place.certificate is None) != (place.key is None):
        raise ServingError(
            "A certificate needs its key and a key its certificate. Name both, --tls-cert and --tls-key."
        )
    if place.certificate and place.key:
        _try_files(place.certificate, place.key)
    if not place.local:
        if place.certificate is None:
            raise ServingError(
                f"{place.host} can be reached from the network, and nothing would be encrypted. "
                "Name --tls-cert and --tls-key, or leave --host out."
            )
        if users is None or not users.all():
            raise ServingError(
                f"{place.host} can be reached from the network, and there is no user to sign in. "
                "Add one with `leadsman users add NAME --role supervisor`, or leave --host out."
            )
    bracketed = f"[{place.host}]" if ":" in place.host else place.host
    hosts = (*LOOPBACK, bracketed, *place.names) if place.local else (bracketed, *place.names)
    return Setting(hosts=hosts, users=users, encrypted=place.certificate is not None)


def _try_files(certificate: Path, key: Path) -> None:
    try:
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(certificate, key)
    except (OSError, ssl.SSLError) as error:
        raise ServingError(
            f"{certificate} and {key} are no certificate with its key ({error}). Name others."
        ) from error


def server_for(app: ASGIApp, place: Place) -> uvicorn.Server:
    """A server ready to run; `run()` blocks until it is told to stop."""
    config = uvicorn.Config(
        app,
        host=place.host,
        port=place.port,
        log_level="warning",
        access_log=False,
        server_header=False,
        proxy_headers=False,  # no forwarded address is believed
        timeout_keep_alive=5,
        limit_concurrency=200,
        h11_max_incomplete_event_size=32 * 1024,
        ssl_certfile=place.certificate,
        ssl_keyfile=place.key,
    )
    return uvicorn.Server(config)


def serve(app: ASGIApp, place: Place) -> None:
    """Serve until interrupted. Raises ServingError when the port is taken."""
    family = socket.AF_INET6 if ":" in place.host else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((place.host, place.port))
        except OSError as error:
            raise ServingError(
                f"Port {place.port} of {place.host} cannot be had ({error.strerror}). Name another with --port."
            ) from error
    server_for(app, place).run()
