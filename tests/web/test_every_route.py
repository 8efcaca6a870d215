"""Every address of the workbench, asked with what nobody should send: refused in words, never broken off with a 500."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from starlette.applications import Starlette
from starlette.routing import Route
from starlette.testclient import TestClient

import wringout.web
from tests.web.beside import HERE
from wringout.services.demonstration import take_in_demonstration
from wringout.services.flights.recordings import study_recording, take_in_recording
from wringout.services.flights.runs import study_runs
from wringout.services.opening import open_studies
from wringout.web.app import make_app
from wringout.web.pages import load, page_names, routes_of
from wringout.web.settings import Settings

SLUG = "quillback-go-around"
ROUTES = [route for route in routes_of(load(page_names())) if isinstance(route, Route)]
ODD = (
    "",
    "..",
    "../../etc/passwd",
    "%2e%2e%2f",
    "a\x00b",
    "x\r\nSet-Cookie: a=b",
    "'; DROP TABLE study; --",
    "<script>alert(1)</script>",
    "{{7*7}}",
    "\u202egnp.exe",
    "9" * 400,
    "-1",
    "NaN",
    "ü" * 90,
)
ANY_JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=12), inner, max_size=4),
    max_leaves=12,
)
WEB = Path(wringout.web.__file__).parent
SOURCE = "\n".join(path.read_text(encoding="utf-8") for path in sorted(WEB.rglob("*.py")))
ASKED = {way: sorted(set(re.findall(rf'\b{way}\("([\w-]+)"', SOURCE))) for way in ("text", "texts", "query", "uploads")}
"""What the pages ask of forms, addresses and files by name, so that a new field is tried when it comes."""
FIELDS = ("from_s", "to_s", "method", "conditions", "hand", "against", "taps", "device", "law", "steps", "words")
FORM_FIELDS = (*FIELDS, *ASKED["text"], *ASKED["texts"], "kind", "at", "x", "y")
QUERY_FIELDS = ("axes", "other", "offset", *ASKED["query"])
FILES = dict.fromkeys(ASKED["uploads"], ("../../etc/passwd", b"\x00\xff,=1+1\n<b>\r\n"))


def clock() -> datetime:
    return datetime(2027, 5, 1, 12, tzinfo=UTC)


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Starlette:
    database = tmp_path_factory.mktemp("routes") / "studies.db"
    with open_studies(database, clock) as store:
        take_in_demonstration(store)
    return make_app(Settings(database, clock))


@pytest.fixture(scope="module")
def client(app: Starlette) -> Iterator[TestClient]:
    with TestClient(app, base_url="http://127.0.0.1:8000", raise_server_exceptions=False, client=HERE) as opened:
        yield opened


@pytest.fixture(scope="module")
def known(app: Starlette, client: TestClient) -> dict[str, list[str]]:
    """Return values that name something, so that a page is reached and not only its refusal."""
    client.get("/")
    store = app.state.site.store
    sha = study_recording(store, SLUG, "F3-full-flaps-logger.csv").item.recording.sha256
    said = take_in_recording(store, SLUG, io.BytesIO(b"WEBVTT\n\n00:01.000 --> 00:02.000\none ten\n"), "said.vtt")
    found = re.search(r"/capture/[^/]+/one/([0-9a-f]{32})/", client.get(f"/studies/{SLUG}/capture?flight=one").text)
    assert found is not None
    return {
        "slug": [SLUG],
        "sha": [sha],
        "sha256": [sha],
        "said": [said.item.recording.sha256],
        "key": [study_runs(store, SLUG)[0].stored.key, found.group(1)],
        "flight": ["one"],
        "name": ["page.js", "brief.html", "F3-full-flaps-logger.csv"],
        "number": ["1"],
    }


def address_of(route: Route, values: dict[str, str]) -> str:
    return re.sub(r"\{(\w+)(?::\w+)?\}", lambda match: quote(values.get(match.group(1), "x"), safe=""), route.path)


def token_of(client: TestClient) -> str:
    found = re.search(r'name="form-token" value="([0-9a-f]+)"', client.get(f"/studies/{SLUG}/").text)
    assert found is not None
    return found.group(1)


@pytest.mark.parametrize("route", ROUTES, ids=lambda route: f"{sorted(route.methods)[-1]} {route.path}")
def test_odd_addresses_forms_and_bodies_are_answered_in_words(
    client: TestClient, known: dict[str, list[str]], route: Route
) -> None:
    names = re.findall(r"\{(\w+)", route.path)
    cases = [{name: known.get(name, ["1"])[0] for name in names}]
    if "/captions" in route.path and names[1:]:
        cases[0]["sha256"] = known["said"][0]
    cases += [{**cases[0], name: odd} for name in names for odd in ODD]
    token = token_of(client)
    for values in cases:
        address = address_of(route, values)
        if "GET" in (route.methods or ()):
            answers = [client.get(address, params=dict.fromkeys(QUERY_FIELDS, odd)) for odd in ("", ODD[5], ODD[7])]
        else:
            odd_form = dict.fromkeys(FORM_FIELDS, ODD[5]) | {"title": "x", "question": ODD[7], "form-token": token}
            answers = [
                client.post(address, data={"form-token": token}, follow_redirects=False),
                client.post(address, data=odd_form, follow_redirects=False),
                client.post(address, data=odd_form, files=FILES, follow_redirects=False),
                client.post(address, json=dict.fromkeys(FIELDS, ODD[5])),
                client.post(address, content=b"\xff\x00{", headers={"content-type": "application/json"}),
            ]
        for answer in answers:
            assert answer.status_code < 500, (address, answer.status_code, answer.text[:300])
            assert "set-cookie" not in answer.headers or "a=b" not in answer.headers["set-cookie"]
            assert "<script>alert(1)</script>" not in answer.text


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(body=st.dictionaries(st.sampled_from(FIELDS), ANY_JSON, max_size=6))
def test_scripts_may_send_any_json(client: TestClient, known: dict[str, list[str]], body: dict[str, Any]) -> None:
    key = known["key"][1]
    for address in (
        f"/studies/{SLUG}/techniques/try/fly",
        f"/studies/{SLUG}/recordings/{known['sha'][0]}/strip/look",
        f"/capture/{SLUG}/one/{key}/taps",
    ):
        answer = client.post(address, json=body)
        assert answer.status_code < 500, (address, body, answer.text[:300])


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1.evil.example", "localhost.evil.example", "[::2]", ""])
def test_a_name_that_is_not_ours_is_not_answered(client: TestClient, host: str) -> None:
    """DNS rebinding: the address resolves here, the name stays the attacker's."""
    answer = client.get("/", headers={"host": host})
    assert answer.status_code == 421
    assert SLUG not in answer.text


@pytest.mark.parametrize(
    "headers",
    [
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": "http://127.0.0.1:9999"},
    ],
)
def test_another_site_changes_nothing(client: TestClient, headers: dict[str, str]) -> None:
    before = client.get("/").text.count("/studies/")
    form = {"form-token": token_of(client), "title": "Planted", "question": "Planted?", "smallest": "25 ft"}
    for address in ("/studies", "/new", "/"):
        assert client.post(address, data=form, headers=headers).status_code in {403, 404, 405}
    assert client.get("/").text.count("/studies/") == before


def test_a_form_without_its_token_changes_nothing(client: TestClient) -> None:
    answer = client.post(f"/studies/{SLUG}/techniques/try/keep", data={"steps": "[]", "title": "Planted"})
    assert answer.status_code == 422
    assert "Planted" not in client.get(f"/studies/{SLUG}/techniques/try").text


def test_more_than_is_taken_is_refused_before_it_is_kept(client: TestClient) -> None:
    address = f"/studies/{SLUG}/techniques/try/fly"
    told = client.post(
        address, content=b"1", headers={"content-type": "application/json", "content-length": "99999999"}
    )
    assert told.status_code == 413
    hidden = client.post(
        address, content=(b"x" * 65536 for _ in range(80)), headers={"content-type": "application/json"}
    )
    assert hidden.status_code == 413


def test_every_answer_lets_nothing_run_but_our_own_scripts(client: TestClient) -> None:
    for address in ("/", f"/studies/{SLUG}/", "/nowhere", f"/studies/{SLUG}/techniques"):
        policy = client.get(address).headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "script-src 'self';" in policy
        assert "unsafe" not in policy
        assert not re.search(r"https?://", policy)
