"""What the guard lets through: own names, own pages, forms with their token, bodies that are not too large."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from wringout.web.app import make_app
from wringout.web.pairing import MOST_TRIES, Pairing
from wringout.web.rendering import STATIC
from wringout.web.settings import LONGEST_BODY_BYTES, Settings

HERE = "http://127.0.0.1"
TOKEN = re.compile(r'name="form-token" value="([0-9a-f]+)"')


def clock() -> datetime:
    return datetime(2026, 5, 5, 14, 2, tzinfo=UTC)


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    settings = Settings(tmp_path_factory.mktemp("shelf") / "study.db", clock)
    with TestClient(make_app(settings), base_url=HERE) as made:
        yield made


def token(client: TestClient) -> str:
    found = TOKEN.search(client.get("/").text)
    assert found is not None
    return found.group(1)


def test_an_empty_shelf_says_what_to_do(client: TestClient) -> None:
    page = client.get("/")
    assert page.status_code == 200
    assert "The shelf is empty. Begin with a question" in page.text


def test_every_answer_forbids_inline_script_and_other_hosts(client: TestClient) -> None:
    for path in ("/", "/nowhere", "/static/wringout.css"):
        policy = client.get(path).headers["content-security-policy"]
        assert "unsafe" not in policy
        assert "http" not in policy


def test_another_name_is_refused(client: TestClient) -> None:
    assert client.get("/", headers={"Host": "evil.example"}).status_code == 421


@pytest.mark.parametrize("headers", [{"Sec-Fetch-Site": "cross-site"}, {"Origin": "http://evil.example"}])
def test_another_page_cannot_write(client: TestClient, headers: dict[str, str]) -> None:
    fields = {"form-token": token(client), "question": "Q?", "smallest": "25 ft"}
    assert client.post("/studies", data=fields, headers=headers).status_code == 403
    assert "The shelf is empty" in client.get("/").text


def test_a_form_without_its_token_changes_nothing(client: TestClient) -> None:
    assert client.post("/studies", data={"question": "Q?"}).status_code == 422
    assert "The shelf is empty" in client.get("/").text


def test_too_much_is_refused_with_and_without_a_size(client: TestClient) -> None:
    body = b"x" * (LONGEST_BODY_BYTES + 1)
    headers = {"Content-Type": "application/x-www-form-urlencoded"}
    assert client.post("/studies", content=body, headers=headers).status_code == 413
    assert client.post("/studies", content=iter([body]), headers=headers).status_code == 413


def test_a_refused_form_keeps_what_was_typed(client: TestClient) -> None:
    fields = {"form-token": token(client), "question": "Gear or flaps <first>?", "smallest": "25 parsecs"}
    page = client.post("/studies", data=fields)
    assert page.status_code == 422
    assert "Gear or flaps &lt;first&gt;?" in page.text
    assert "25 parsecs" in page.text


def test_two_windows_do_not_lose_each_others_edits(tmp_path: Path) -> None:
    with TestClient(make_app(Settings(tmp_path / "study.db", clock)), base_url=HERE) as client:
        secret = token(client)
        client.post("/studies", data={"form-token": secret, "question": "First?", "smallest": "25 ft"})
        address = "/studies/first/text/question"
        first = client.post(address, data={"form-token": secret, "was": "First?", "value": "One window?"})
        assert first.status_code == 200
        second = client.post(address, data={"form-token": secret, "was": "First?", "value": "Other window?"})
        assert second.status_code == 409
        assert "One window?" in second.text
        assert "Other window?" in second.text


def test_a_code_is_taken_once_right_and_never_after_too_many_wrong() -> None:
    now = [0.0]
    pairing = Pairing(lambda: now[0])
    assert pairing.pair("WRONG")[0] == ""
    assert "too fast" in pairing.pair(pairing.code)[1]
    now[0] += 10.0
    key, said = pairing.pair(f" {pairing.code[:4].lower()} {pairing.code[4:]} ")
    assert said == ""
    assert pairing.admits(key)
    assert not pairing.admits("other")
    assert not pairing.admits(None)
    for _ in range(MOST_TRIES):
        now[0] += 10.0
        pairing.pair("WRONG")
    now[0] += 10.0
    assert pairing.pair(pairing.code)[0] == ""


def test_another_device_sees_only_the_page_that_asks_for_the_code(tmp_path: Path) -> None:
    pairing = Pairing(lambda: 0.0)
    settings = Settings(tmp_path / "study.db", clock, frozenset({"192.0.2.7"}), pairing)
    app = make_app(settings)
    with TestClient(app, base_url="http://192.0.2.7", client=("192.0.2.9", 5), follow_redirects=False) as other:
        assert other.get("/").headers["location"] == "/pair"
        found = TOKEN.search(other.get("/pair").text)
        assert found is not None
        answer = other.post("/pair", data={"form-token": found.group(1), "code": pairing.code})
        assert answer.status_code == 303
        assert "The shelf is empty" in other.get("/").text


def test_vendored_files_are_the_ones_that_were_fetched() -> None:
    lines = json.loads((STATIC / "vendor" / "vendored.json").read_text(encoding="utf-8"))
    assert {line["file"] for line in lines} | {"vendored.json"} == {p.name for p in (STATIC / "vendor").iterdir()}
    for line in lines:
        assert hashlib.sha256((STATIC / "vendor" / line["file"]).read_bytes()).hexdigest() == line["sha256"]


def test_no_page_or_style_names_another_host() -> None:
    own = [*STATIC.glob("*.css"), *STATIC.glob("*.js"), *(STATIC.parent / "templates").glob("*.html")]
    assert len(own) > 10
    for path in own:
        assert not re.search(r"(?:src|href|url)\W{1,3}(?:https?:)?//", path.read_text(encoding="utf-8")), path.name
