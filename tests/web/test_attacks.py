"""What an enemy on the network, or a page of another site, tries on the workbench: refused, and nothing shows."""

from __future__ import annotations

import asyncio
import re
import socket
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from starlette.applications import Starlette
from starlette.routing import Route
from starlette.testclient import TestClient

from tests.web.live import run_apart, served
from wringout.services.demonstration import take_in_demonstration
from wringout.services.flights.capture_keys import key_of_flight
from wringout.services.opening import open_studies
from wringout.web.app import make_app
from wringout.web.pages import load, page_names, routes_of
from wringout.web.pairing import CODE_LASTS_S, COOKIE, KEY_LASTS_S, Pairing
from wringout.web.security import host_name
from wringout.web.settings import Settings

SLUG, HERE, THERE = "quillback-go-around", "http://127.0.0.1", "http://192.0.2.7"
TOKEN = re.compile(r'name="form-token" value="([0-9a-f]+)"')
ROUTES = [route for route in routes_of(load(page_names())) if isinstance(route, Route)]
NOW = datetime(2027, 5, 1, 12, tzinfo=UTC)


class Moments:
    """Two clocks that a test moves on."""

    def __init__(self) -> None:
        self.s = 1000.0

    def clock(self) -> datetime:
        return NOW + timedelta(seconds=self.s)

    def clock_s(self) -> float:
        return self.s


@pytest.fixture(scope="module")
def database(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("attacked") / "study.db"
    with open_studies(path, lambda: NOW) as store:
        take_in_demonstration(store)
    return path


@pytest.fixture
def moments() -> Moments:
    return Moments()


@pytest.fixture
def app(database: Path, moments: Moments) -> Starlette:
    shared = Settings(
        database, moments.clock, frozenset({"127.0.0.1", "192.0.2.7"}), Pairing(moments.clock_s), patience_s=0.05
    )
    return make_app(shared)


@pytest.fixture
def device(app: Starlette) -> Iterator[TestClient]:
    with TestClient(app, base_url=THERE, client=("192.0.2.9", 5), follow_redirects=False) as opened:
        yield opened


@pytest.fixture
def here(app: Starlette, device: TestClient) -> TestClient:
    """Return the machine of the workbench itself, beside a device on the network."""
    return TestClient(app, base_url=HERE, client=("127.0.0.1", 5), follow_redirects=False)


def pairing_of(app: Starlette) -> Pairing:
    found = app.state.site.settings.pairing
    assert isinstance(found, Pairing)
    return found


def token(client: TestClient, path: str = "/pair") -> str:
    found = TOKEN.search(client.get(path).text)
    assert found is not None
    return found.group(1)


def pair(client: TestClient, code: str) -> Any:
    return client.post("/pair", data={"form-token": token(client), "code": code})


# A device on the network, without the code


def test_a_device_without_the_code_reaches_no_page_but_the_one_that_asks_for_it(device: TestClient) -> None:
    assert len(ROUTES) > 60
    seen = set()
    for route in ROUTES:
        path = re.sub(r"\{(\w+)(?::\w+)?\}", lambda m: SLUG if m[1] == "slug" else "1", route.path)
        if path.startswith("/capture/") or path == "/pair":
            continue
        for method in sorted((route.methods or set()) - {"HEAD"}):
            answer = device.request(method, path)
            assert answer.status_code in {303, 403}, (method, path, answer.status_code)
            assert "Quillback" not in answer.text
            seen.add(path)
    assert len(seen) > 40


@pytest.mark.parametrize(
    "path",
    [
        f"/capture/../studies/{SLUG}/",
        f"/static/../studies/{SLUG}/",
        f"//studies/{SLUG}/",
        f"/pair/../studies/{SLUG}/",
        f"/pairing/../studies/{SLUG}/",
        f"/capture/%2e%2e/studies/{SLUG}/",
        "/static/%2e%2e/%2e%2e/app.py",
        "/static/..%2fpairing.py",
        "/static/fonts/..%2f..%2f..%2fweb/pairing.py",
        "/static//etc/passwd",
        "/capture/%2fetc%2fpasswd",
    ],
)
def test_no_path_leads_around_the_code_or_out_of_the_folder(app: Starlette, device: TestClient, path: str) -> None:
    status, text = run_apart(asked(app, path))
    assert status in {303, 403, 404}, (status, text[:200])
    assert "CODE_LENGTH" not in text
    assert "Quillback" not in text


async def asked(app: Starlette, path: str, headers: tuple[tuple[bytes, bytes], ...] = ()) -> tuple[int, str]:
    """Ask as a device that folds nothing of its path, and return status and text."""
    from urllib.parse import unquote

    sent: list[dict[str, Any]] = []
    scope = {
        "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": "GET", "scheme": "http",
        "path": unquote(path), "raw_path": path.encode(), "query_string": b"", "root_path": "",
        "headers": list(headers or ((b"host", b"192.0.2.7"),)), "client": ("192.0.2.9", 5), "server": ("192.0.2.7", 80),
    }  # fmt: skip

    async def receive() -> dict[str, Any]:
        return {"type": "http.request", "body": b"", "more_body": False}

    async def send(message: dict[str, Any]) -> None:
        sent.append(message)

    await app(scope, receive, send)  # type: ignore[arg-type]
    return sent[0]["status"], b"".join(m.get("body", b"") for m in sent[1:]).decode(errors="replace")


@pytest.mark.parametrize(
    "host",
    [b"192.0.2.7/capture/", b"192.0.2.7:80/capture/", b"192.0.2.7:80/static/x?", b"192.0.2.7#/pair", b"@192.0.2.7"],
)
def test_a_name_with_a_path_in_it_does_not_pass_for_an_open_path(
    app: Starlette, device: TestClient, host: bytes
) -> None:
    status, text = run_apart(asked(app, f"/studies/{SLUG}/", ((b"host", host),)))
    assert status == 421
    assert "Quillback" not in text


@pytest.mark.parametrize(
    ("host", "name"),
    [
        ("127.0.0.1", "127.0.0.1"), ("127.0.0.1:8462", "127.0.0.1"), ("[::1]:8462", "[::1]"),
        ("LocalHost", "localhost"),
        ("127.0.0.1:x", ""), ("127.0.0.1:8462/x", ""), ("a:b:c", ""), ("", ""), ("[::1", ""), ("::1", ""),
    ],
)  # fmt: skip
def test_the_name_asked_for_is_read_whole(host: str, name: str) -> None:
    assert host_name(host) == name


# Pairing: few tries, an end, and a way to end it


def test_the_code_ends_and_so_does_a_key(app: Starlette, device: TestClient, moments: Moments) -> None:
    code = pairing_of(app).code
    assert pair(device, code).status_code == 303
    assert device.get(f"/studies/{SLUG}/").status_code == 200
    moments.s += CODE_LASTS_S + 1
    assert device.get(f"/studies/{SLUG}/").status_code == 200
    device.cookies.delete(COOKIE)
    late = pair(device, code)
    assert late.status_code == 403
    assert "older than an hour" in late.text


def test_a_key_ends_after_half_a_day(app: Starlette, device: TestClient, moments: Moments) -> None:
    assert pair(device, pairing_of(app).code).status_code == 303
    moments.s += KEY_LASTS_S - 1
    assert device.get(f"/studies/{SLUG}/").status_code == 200
    moments.s += 2
    assert device.get(f"/studies/{SLUG}/").status_code == 303


def test_the_machine_itself_ends_all_keys_and_no_other_may(
    app: Starlette, device: TestClient, here: TestClient
) -> None:
    first = pairing_of(app).code
    assert pair(device, first).status_code == 303
    assert f"{first[:4]} {first[4:]}" in here.get("/pair").text
    assert first[:4] not in device.get("/pair").text
    assert device.post("/pair/end", data={"form-token": token(device)}).status_code == 404
    assert device.get(f"/studies/{SLUG}/").status_code == 200
    assert here.post("/pair/end", data={"form-token": token(here)}).status_code == 303
    assert device.get(f"/studies/{SLUG}/").status_code == 303
    assert pair(device, first).status_code == 403
    assert pairing_of(app).code != first


def test_guessing_is_slowed_and_ended(app: Starlette, device: TestClient, moments: Moments) -> None:
    answers = []
    for _ in range(12):
        answers.append(pair(device, "AAAAAAAA").text)
        answers.append(pair(device, "BBBBBBBB").text)
        moments.s += 10.0
    assert sum("tries are left" in text for text in answers) == 10
    assert any("too fast" in text for text in answers)
    assert pair(device, pairing_of(app).code).status_code == 403


# A capture device


def test_a_capture_key_opens_its_flight_and_nothing_else(
    app: Starlette, device: TestClient, moments: Moments, database: Path
) -> None:
    store = app.state.site.store
    key = key_of_flight(store, SLUG, "one", moments.clock()).key
    tap = {"sequence": 1, "kind": "mark", "label": "x"}
    body = {"device": "a1", "taps": [tap]}
    mine = f"/capture/{SLUG}/one/{key}"
    assert device.get(f"{mine}/").status_code == 200
    assert device.post(f"{mine}/taps", json=body).status_code == 200
    for other in (f"/capture/{SLUG}/two/{key}", f"/capture/another/one/{key}", f"/capture/{SLUG}/one/{key[:-1]}0x"):
        assert device.get(f"{other}/").status_code == 404
        assert device.post(f"{other}/taps", json=body).status_code == 404
    assert device.get(f"/studies/{SLUG}/").status_code == 303
    assert device.get("/", headers={"cookie": f"{COOKIE}={key}"}).status_code == 303
    for hidden in ("airplane.toml", "taps", "..%2f..%2fstudy.db"):
        assert device.get(f"{mine}/{hidden}").status_code in {303, 403, 404, 405}
    moments.s += 15 * 86400
    assert device.post(f"{mine}/taps", json=body).status_code == 404


# Slow and crooked senders


def test_a_sender_that_falls_silent_is_told_and_let_go(app: Starlette, device: TestClient) -> None:
    sent: list[dict[str, Any]] = []
    first = [{"type": "http.request", "body": b"form-", "more_body": True}]

    async def receive() -> dict[str, Any]:
        if first:
            return first.pop()
        await asyncio.Event().wait()
        raise AssertionError

    async def send(message: dict[str, Any]) -> None:
        sent.append(message)

    scope = {
        "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": "POST", "scheme": "http",
        "path": "/studies", "raw_path": b"/studies", "query_string": b"", "root_path": "", "client": ("127.0.0.1", 5),
        "server": ("127.0.0.1", 80),
        "headers": [(b"host", b"127.0.0.1"), (b"content-type", b"application/x-www-form-urlencoded")],
    }  # fmt: skip
    run_apart(app(scope, receive, send))  # type: ignore[arg-type]
    assert sent[0]["status"] == 408
    assert "Nothing more arrived" in b"".join(m.get("body", b"") for m in sent[1:]).decode()


def test_no_page_opens_a_websocket(app: Starlette, device: TestClient) -> None:
    sent: list[dict[str, Any]] = []

    async def receive() -> dict[str, Any]:
        return {"type": "websocket.connect"}

    async def send(message: dict[str, Any]) -> None:
        sent.append(message)

    headers = [(b"host", b"127.0.0.1"), (b"origin", b"http://evil.example")]
    scope = {"type": "websocket", "path": f"/studies/{SLUG}/", "headers": headers, "client": ("127.0.0.1", 5)}
    run_apart(app(scope, receive, send))  # type: ignore[arg-type]
    assert [message["type"] for message in sent] == ["websocket.close"]


FORM = b"Content-Type: application/x-www-form-urlencoded\r\n"
HALF = b"POST /studies HTTP/1.1\r\nHost: 127.0.0.1\r\n" + FORM + b"Content-Length: 999\r\n\r\nx"
CROOKED = {
    "an unsound head": (b"GET / HTTP/1.1\r\nHost 127.0.0.1\r\n\r\n", b" 400 "),
    "no name": (b"GET / HTTP/1.0\r\n\r\n", b" 421 "),
    "two names": (b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nHost: evil.example\r\n\r\n", b" 4"),
    "a folded header": (b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX: a\r\n Set-Cookie: b\r\n\r\n", b" "),
    "two lengths": (b"POST / HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 1\r\nContent-Length: 2\r\n\r\nxy", b" 4"),
    "a length and chunks": (
        b"POST / HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 4\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n",
        b" 4",
    ),
    "a websocket": (
        b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
        b"Sec-WebSocket-Version: 13\r\n"
        b"Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\nOrigin: http://evil.example\r\n\r\n", b" ",
    ),
    "a head of a megabyte": (b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX: " + b"a" * 2**20 + b"\r\n\r\n", b" 4"),
}  # fmt: skip


def test_a_real_server_stays_up_under_crooked_and_half_sent_requests(tmp_path: Path) -> None:
    with served(tmp_path / "study.db") as address:
        port = urlsplit(address).port
        half = [socket.create_connection(("127.0.0.1", port), timeout=60) for _ in range(60)]
        for one in half:
            one.sendall(HALF)
        for name, (request, wanted) in CROOKED.items():
            answer = spoken(port, request)
            assert answer == b"" or wanted in answer.partition(b"\r\n")[0], (name, answer[:200])
            assert b" 101 " not in answer.partition(b"\r\n")[0], name
            assert b"\r\nset-cookie: b" not in answer.lower(), name
        assert b" 200 " in spoken(port, b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n\r\n")
        for one in half:
            one.close()


def spoken(port: int | None, request: bytes) -> bytes:
    """Send bytes, and return the beginning of what is answered; "" for a connection that was closed."""
    with socket.create_connection(("127.0.0.1", port), timeout=60) as one:
        try:
            one.sendall(request)
            return one.recv(65536)
        except ConnectionError:
            return b""
