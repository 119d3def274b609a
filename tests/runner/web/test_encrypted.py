"""The pages over TLS: a real handshake on a certificate that the test makes, signing in, and no talk in the clear."""

import ssl
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from ipaddress import ip_address
from pathlib import Path
from typing import Any

import httpx
import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from runner.record.sounds import SoundStore
from runner.web.app import make_app
from runner.web.records import BayRecords
from runner.web.review import section
from runner.web.serving import Place, setting_for
from runner.web.users import Users


@pytest.fixture(scope="module")
def pair(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """A certificate for 127.0.0.1, valid for an hour, and its key."""
    folder = tmp_path_factory.mktemp("tls")
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "a bay")])
    now = datetime.now(UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(minutes=5))
        .not_valid_after(now + timedelta(hours=1))
        .add_extension(x509.SubjectAlternativeName([x509.IPAddress(ip_address("127.0.0.1"))]), critical=False)
        .sign(key, hashes.SHA256())
    )
    certificate, secret = folder / "bay.pem", folder / "bay.key"
    certificate.write_bytes(made.public_bytes(serialization.Encoding.PEM))
    secret.write_bytes(
        key.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())
    )
    return certificate, secret


def test_the_pages_are_served_encrypted(
    journal: Path, pair: tuple[Path, Path], free_port: int, tmp_path: Path, running_at: Callable[..., Any]
) -> None:
    users = Users(tmp_path / "users.json")
    users.add("AB", "supervisor", "correct horse staple")
    place = Place("127.0.0.1", free_port, *pair)
    app = make_app(
        [section(BayRecords(journal, SoundStore(journal.parent / "audio")))], setting=setting_for(place, users)
    )
    trusted = ssl.create_default_context(cafile=str(pair[0]))
    with running_at(app, place), httpx.Client(base_url=place.url, verify=trusted) as client:
        page = client.get("/sign-in")
        assert page.status_code == 200
        assert page.headers["strict-transport-security"].startswith("max-age=")
        token = page.text.split('name="token" value="')[1][:64]
        answer = client.post(
            "/sign-in",
            data={"token": token, "name": "AB", "password": "correct horse staple"},
            headers={"origin": place.url.rstrip("/")},
        )
        assert answer.status_code == 303
        assert "secure" in answer.headers["set-cookie"].lower()
        assert client.get("/").status_code == 200
        with pytest.raises(httpx.ConnectError, match="CERTIFICATE_VERIFY_FAILED"):
            httpx.get(place.url)  # nobody else's word for it
        with pytest.raises(httpx.HTTPError):
            httpx.get(place.url.replace("https", "http"))
