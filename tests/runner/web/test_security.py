"""What somebody who means harm would try on the pages, each refused or harmless."""

import http.client
import re
import socket
from collections.abc import Callable
from pathlib import Path

import httpx
import pytest
from starlette.types import ASGIApp

from runner.record.journal import Journal
from runner.record.sounds import SoundStore
from runner.web.app import Setting, make_app
from runner.web.guard import MOST_BODY_BYTES
from runner.web.records import BayRecords
from runner.web.review import section
from runner.web.serving import Place, ServingError, setting_for
from runner.web.signin import MOST_TRIES, WITHIN_S, Tries
from runner.web.users import UserError, Users

Start = Callable[[ASGIApp], httpx.Client]
SESSION = "2031-04-05-bbbb"
PASSWORDS = {
    "AB": ("supervisor", "correct horse staple"),
    "TT": ("technician", "battery of twelve"),
    "NN": ("trainee", "probe tips out"),
}


def app_on(journal: Path, users: Users | None = None) -> ASGIApp:
    records = BayRecords(journal, SoundStore(journal.parent / "audio"))
    return make_app([section(records)], setting=Setting(users=users))


@pytest.fixture(scope="session")
def users_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("users") / "users.json"
    for name, (role, password) in PASSWORDS.items():
        Users(path).add(name, role, password)
    return path


@pytest.fixture
def users(users_file: Path, tmp_path: Path) -> Users:
    copy = tmp_path / "users.json"
    copy.write_bytes(users_file.read_bytes())
    return Users(copy)


def token_of(text: str) -> str:
    found = re.search(r'name="token" value="([0-9a-f]{64})"', text)
    assert found, "the page has no form token"
    return found[1]


def sign_in(client: httpx.Client, name: str, password: str | None = None) -> httpx.Response:
    token = token_of(client.get("/sign-in").text)
    return client.post("/sign-in", data={"token": token, "name": name, "password": password or PASSWORDS[name][1]})


def verdict_form(client: httpx.Client, **more: str) -> dict[str, str]:
    text = client.get(f"/sessions/{SESSION}").text
    hidden = dict(re.findall(r'name="(upto|head)" value="([^"]+)"', text))
    return {"token": token_of(text), "verdict": "sign", "by": "AB", **hidden, **more}


def kinds(journal: Path) -> list[str]:
    with Journal.read(journal) as found:
        return [event["type"] for event in found.events(SESSION)]


# --- where from ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1.evil.example", "localhost@evil.example", "", "0.0.0.0"])
def test_a_forged_host_is_refused(journal: Path, serve: Start, host: str) -> None:
    assert serve(app_on(journal)).get("/", headers={"host": host}).status_code in (400, 421)


def test_every_answer_carries_the_headers(journal: Path, serve: Start) -> None:
    client = serve(app_on(journal))
    for path in ("/", f"/sessions/{SESSION}", "/nothing", "/static/leadsman.css", f"/sessions/{SESSION}/report"):
        headers = client.get(path).headers
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy and "frame-ancestors 'none'" in policy, path
        assert "unsafe" not in policy, path
        assert headers["x-content-type-options"] == "nosniff" and headers["x-frame-options"] == "DENY", path
        assert "server" not in headers, path


def test_pages_hold_no_script_style_or_handler_of_their_own(journal: Path, serve: Start) -> None:
    client = serve(app_on(journal))
    for path in (
        "/",
        f"/sessions/{SESSION}",
        f"/compare?one={SESSION}&other={SESSION}",
        "/spread?flow=manifold-pressure&step=ground",
        "/re-asking",
    ):
        text = client.get(path).text
        assert re.findall(r"<script(?! src=)", text) == [], path
        assert re.findall(r"<style|\sstyle=|\son[a-z]+=", text) == [], path


@pytest.mark.parametrize(
    "path",
    [
        "/static/../app.py",
        "/static/..%2fapp.py",
        "/static/%2e%2e%2f%2e%2e%2fjobs.py",
        "/static//etc/passwd",
        "/sound/../../etc/passwd",
        "/sound/..%2f..%2fjournal.sqlite",
        "/sessions/..%2f..%2fetc%2fpasswd",
        "/sessions/....//journal.sqlite",
        "/sessions/%00",
    ],
)
def test_no_address_opens_a_file(journal: Path, serve: Start, path: str) -> None:
    client = serve(app_on(journal))
    raw = http.client.HTTPConnection(str(client.base_url.host), client.base_url.port, timeout=10)
    raw.request("GET", path)  # as written: nothing tidies it on the way
    answer = raw.getresponse()
    body = answer.read()
    raw.close()
    assert answer.status in (400, 404)
    assert b"root:" not in body and b"import" not in body and b"SQLite" not in body


def test_a_file_named_in_an_imported_record_is_not_opened(journal: Path, serve: Start, tmp_path: Path) -> None:
    bait = tmp_path / "bait.yaml"
    bait.mkdir()  # reading it would be an error that is not of the flows
    with Journal.open(journal, "baited") as store:
        store.append({"type": "opened", "flow": str(bait), "machine_file": str(bait), "title": "Baited", "step": "x"})
    client = serve(app_on(journal))
    for path in ("/sessions/baited", "/sessions/baited/report"):
        assert client.get(path).status_code == 200


# --- what is written in a record ------------------------------------------------------------------------------------------


def test_script_in_a_machines_name_a_memo_or_a_comment_stays_text(journal: Path, serve: Start) -> None:
    evil = '"><script>alert(1)</script><img src=x onerror=alert(1)>'
    with Journal.open(journal, "evil") as store:
        store.append({"type": "opened", "flow": evil, "title": evil, "machine": {"name": evil}, "step": evil})
        store.append({"type": "asked", "step": evil, "text": evil, "want": "reading"})
        store.append(
            {
                "type": "heard",
                "words": evil,
                "confidence": 0.2,
                "alternatives": [[evil, 0.1]],
                "listening": "reading",
                "source": evil,
            }
        )
        store.append({"type": "memo", "step": evil, "words": evil})
        store.append(
            {
                "type": "found",
                "finding": evil,
                "say": evil,
                "do": evil,
                "blames": [evil],
                "status": "found",
                "proof": [evil],
            }
        )
        store.append({"type": "closed", "status": evil, "doubtful": [evil], "put_right": [evil]})
        store.append({"type": "commented", "by": evil, "words": evil, "about": None})
    client = serve(app_on(journal))
    for path in (
        "/",
        f"/?text={evil}",
        "/sessions/evil",
        "/sessions/evil/report",
        f"/compare?one=evil&other={evil}",
        f"/?signed={evil}",
        f"/spread?flow={evil}&step={evil}",
    ):
        answer = client.get(path)
        assert answer.status_code == 200, path
        assert "<script>alert" not in answer.text and "<img src=x" not in answer.text, path


@pytest.mark.parametrize("bad", ["' OR 1=1 --", "'; DROP TABLE listing; --", "%", "_", "\\", "\x00", "😀", "a" * 5000])
def test_sql_in_the_filters_is_only_text(journal: Path, serve: Start, bad: str) -> None:
    client = serve(app_on(journal))
    for name in ("text", "flow", "finding", "machine", "person"):
        answer = client.get("/", params={name: bad})
        assert answer.status_code == 200
        assert "No session fits" in answer.text
    assert SESSION in client.get("/").text


@pytest.mark.parametrize(
    "query", ["page=-1", "page=0", "page=9999999999999", "page=x", "order=hash", "mark=all&mark=unsigned", "&&&=&%"]
)
def test_an_address_that_makes_no_sense_is_a_list_all_the_same(journal: Path, serve: Start, query: str) -> None:
    assert serve(app_on(journal)).get(f"/?{query}").status_code == 200


# --- forms ----------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("forged", [{"token": ""}, {"token": "0" * 64}])
def test_a_sign_off_without_the_pages_own_token_is_refused(journal: Path, serve: Start, forged: dict[str, str]) -> None:
    client = serve(app_on(journal))
    answer = client.post(f"/sessions/{SESSION}/verdict", data=verdict_form(client, **forged))
    assert answer.status_code == 403
    assert "signed_off" not in kinds(journal)


def test_a_sign_off_sent_by_another_page_is_refused(journal: Path, serve: Start) -> None:
    client = serve(app_on(journal))
    form = verdict_form(client)
    for headers in ({"origin": "http://evil.example"}, {"origin": "null"}, {"sec-fetch-site": "cross-site"}):
        assert client.post(f"/sessions/{SESSION}/verdict", data=form, headers=headers).status_code == 403
    assert "signed_off" not in kinds(journal)


def test_a_token_of_one_visitor_is_worth_nothing_to_another(journal: Path, serve: Start) -> None:
    client = serve(app_on(journal))
    form = verdict_form(client)
    client.cookies.clear()
    assert client.post(f"/sessions/{SESSION}/verdict", data=form).status_code == 403


def test_what_was_not_seen_is_not_signed(journal: Path, serve: Start) -> None:
    client = serve(app_on(journal))
    form = verdict_form(client)
    with Journal.open(journal, SESSION) as store:
        store.append({"type": "resumed", "step": "x"})
        store.append({"type": "closed", "status": "proved"})
    assert client.post(f"/sessions/{SESSION}/verdict", data=form).status_code == 409
    for seen in ({"upto": "1", "head": "f" * 64}, {"upto": "x"}, {"head": ""}):
        assert client.post(f"/sessions/{SESSION}/verdict", data=form | seen).status_code in (409, 422)
    assert "signed_off" not in kinds(journal)


def test_a_changed_record_is_said_first_and_cannot_be_signed(journal: Path, serve: Start) -> None:
    import sqlite3

    db = sqlite3.connect(journal)
    db.execute("DROP TRIGGER events_no_update")
    db.execute(
        "UPDATE events SET body = replace(body, 'point', 'paint') WHERE session = ? AND sequence = 60", (SESSION,)
    )
    changed = db.execute("SELECT changes()").fetchone()[0]
    db.execute(
        "UPDATE events SET body = replace(body, '\"step\"', '\"stop\"') WHERE session = ? AND sequence = 8", (SESSION,)
    )
    db.commit()
    db.close()
    assert changed
    client = serve(app_on(journal))
    text = client.get(f"/sessions/{SESSION}").text
    assert "The record is not as it was written" in text and "record broken" in text
    assert 'id="sign"' not in text


def test_a_body_is_bounded_whether_its_length_is_told_or_not(journal: Path, serve: Start) -> None:
    client = serve(app_on(journal))
    large = b"words=" + b"x" * MOST_BODY_BYTES
    kind = {"content-type": "application/x-www-form-urlencoded"}
    assert client.post(f"/sessions/{SESSION}/comment", content=large, headers=kind).status_code == 413
    pieces = (large[at : at + 4096] for at in range(0, len(large), 4096))
    assert client.post(f"/sessions/{SESSION}/comment", content=pieces, headers=kind).status_code == 413


def test_two_gigabytes_promised_are_refused_before_they_are_sent(journal: Path, serve: Start) -> None:
    client = serve(app_on(journal))
    with socket.create_connection((str(client.base_url.host), client.base_url.port), timeout=10) as raw:
        raw.sendall(b"POST /sessions/x/comment HTTP/1.1\r\nHost: localhost\r\nContent-Length: 2147483648\r\n\r\n")
        assert b" 413 " in raw.recv(200)


def test_files_are_not_taken(journal: Path, serve: Start) -> None:
    answer = serve(app_on(journal)).post(f"/sessions/{SESSION}/comment", files={"file": b"x"})
    assert answer.status_code == 415


# --- who -------------------------------------------------------------------------------------------------------------------


def test_without_signing_in_there_is_nothing_to_see(journal: Path, serve: Start, users: Users) -> None:
    client = serve(app_on(journal, users))
    for path in ("/", f"/sessions/{SESSION}", f"/sessions/{SESSION}/report", "/spread", "/re-asking"):
        answer = client.get(path)
        assert (answer.status_code, answer.headers.get("location")) == (303, "/sign-in")
        assert SESSION not in answer.text


def test_roles_see_and_do_what_is_theirs(journal: Path, serve: Start, users: Users) -> None:
    client = serve(app_on(journal, users))
    sign_in(client, "NN")
    assert client.get("/").status_code == 403
    sign_in(client, "TT")
    assert client.get(f"/sessions/{SESSION}").status_code == 200
    assert client.get("/re-asking").status_code == 403
    form = {"token": token_of(client.get("/").text), "verdict": "sign", "upto": "1", "head": "0" * 64, "by": "AB"}
    assert client.post(f"/sessions/{SESSION}/verdict", data=form).status_code == 403
    assert "signed_off" not in kinds(journal)


def test_who_signed_in_signs_under_their_own_name_whatever_the_form_says(
    journal: Path, serve: Start, users: Users
) -> None:
    client = serve(app_on(journal, users))
    assert sign_in(client, "AB").status_code == 303
    assert client.post(f"/sessions/{SESSION}/verdict", data=verdict_form(client, by="ZZ")).status_code == 303
    with Journal.read(journal) as found:
        signed = [event for event in found.events(SESSION) if event["type"] == "signed_off"]
    assert [event["by"] for event in signed] == ["AB"]


def test_a_cookie_is_worth_nothing_after_signing_out(journal: Path, serve: Start, users: Users) -> None:
    client = serve(app_on(journal, users))
    sign_in(client, "AB")
    stolen = dict(client.cookies)
    assert client.get("/").status_code == 200
    client.post("/sign-out", data={"token": token_of(client.get("/").text)})
    client.cookies.clear()
    client.cookies.update(stolen)
    assert client.get("/").status_code == 303


def test_who_is_taken_out_is_out_at_once(journal: Path, serve: Start, users: Users) -> None:
    client = serve(app_on(journal, users))
    sign_in(client, "AB")
    users.remove("AB")
    assert client.get("/").status_code == 303


def test_a_cookie_made_up_or_from_before_signing_in_is_worth_nothing(journal: Path, serve: Start, users: Users) -> None:
    client = serve(app_on(journal, users))
    client.get("/sign-in")
    before = client.cookies["leadsman"]
    sign_in(client, "AB")
    good = client.cookies["leadsman"]
    # not the last letter: some of its bits are nobody's, so another one can mean the same cookie
    for value in (before, ("B" if good[0] == "A" else "A") + good[1:], "x.y", "", "\xe9"):
        client.cookies.clear()
        answer = client.get("/", headers={"cookie": f"leadsman={value}".encode("latin-1")})
        assert answer.status_code == 303


def test_guessing_is_slowed_down(journal: Path, serve: Start, users: Users) -> None:
    client = serve(app_on(journal, users))
    for _ in range(MOST_TRIES):
        assert sign_in(client, "AB", "not the password").status_code == 403
    refused = sign_in(client, "AB")
    assert refused.status_code == 429
    assert 0 < int(refused.headers["retry-after"]) <= WITHIN_S


def test_tries_are_counted_by_name_and_by_address_and_forgotten_in_time() -> None:
    now = [0.0]
    tries = Tries(now_s=lambda: now[0])
    for _ in range(MOST_TRIES):
        tries.failed("name AB", "address 10.0.0.9")
    assert tries.wait_s("name AB") > 0 and tries.wait_s("name CD", "address 10.0.0.9") > 0
    assert tries.wait_s("name CD", "address 10.0.0.8") == 0
    now[0] = WITHIN_S + 1
    assert tries.wait_s("name AB", "address 10.0.0.9") == 0


def test_passwords_are_kept_as_argon2_in_a_file_for_its_owner(users: Users, users_file: Path) -> None:
    text = users_file.read_text(encoding="utf-8")
    assert text.count("$argon2id$") == len(PASSWORDS)
    assert all(password not in text for _role, password in PASSWORDS.values())
    assert users_file.stat().st_mode & 0o077 == 0
    assert users.check("AB", "wrong password") is None and users.check("nobody", "wrong password") is None


@pytest.mark.parametrize(
    ("name", "role", "password", "told"),
    [
        ("a b", "supervisor", "long enough pw", "user name"),
        ("AB", "owner", "long enough pw", "role"),
        ("AB", "trainee", "short", "10 to 200"),
    ],
)
def test_users_that_make_no_sense_are_refused_in_words(
    tmp_path: Path, name: str, role: str, password: str, told: str
) -> None:
    with pytest.raises(UserError, match=told):
        Users(tmp_path / "users.json").add(name, role, password)


def test_beyond_this_computer_it_does_not_start_without_encryption_and_users(tmp_path: Path, users: Users) -> None:
    with pytest.raises(ServingError, match="nothing would be encrypted"):
        setting_for(Place(host="0.0.0.0"), users)
    with pytest.raises(ServingError, match="Name both"):
        setting_for(Place(certificate=tmp_path / "a.pem"), None)
    with pytest.raises(ServingError, match="no certificate"):
        setting_for(Place(host="0.0.0.0", certificate=tmp_path / "a.pem", key=tmp_path / "a.key"), users)
    assert setting_for(Place(), None).users is None
