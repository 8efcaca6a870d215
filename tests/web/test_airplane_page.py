"""The airplane sheet, field by field: saved at once, undone, merged with another window's edits or refused."""

from __future__ import annotations

import html
import re
import shutil
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from wringout.services.airplane.sheet import newest_text, sheet_of
from wringout.services.demonstration import take_in_demonstration
from wringout.services.opening import open_studies
from wringout.web.app import make_app
from wringout.web.settings import Settings

AT = "/studies/quillback-go-around"
STALL, SPAN, AREA = "stall_speed_clean", "geometry.span", "geometry.wing_area"


def clock() -> datetime:
    return datetime(2027, 5, 1, 12, tzinfo=UTC)


@pytest.fixture(scope="module")
def taken_in(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("sheet")
    with open_studies(folder / "studies.db", clock) as store:
        take_in_demonstration(store)
    return folder


@pytest.fixture
def client(taken_in: Path, tmp_path: Path) -> Iterator[TestClient]:
    database = shutil.copytree(taken_in, tmp_path / "own") / "studies.db"
    with TestClient(make_app(Settings(database, clock)), base_url="http://127.0.0.1:8000") as opened:
        yield opened


def kept(client: TestClient, path: str) -> str:
    store = client.app.state.site.store  # type: ignore[attr-defined]
    return sheet_of(newest_text(store, "quillback-go-around")[0]).value(path)


def window(client: TestClient) -> dict[str, str]:
    """Return what a window that opens the page holds."""
    page = client.get(f"{AT}/airplane").text
    found = re.findall(r'<input[^>]*name="([^"]+)"[^>]*?value="([^"]*)"', page)
    return {name: html.unescape(value) for name, value in found if name.startswith(("v:", "was:", "form-token"))}


def save(client: TestClient, held: dict[str, str], path: str, value: str) -> tuple[int, str]:
    """Leave a field with another value, as the page's own script sends it."""
    held[f"v:{path}"] = value
    headers = {"HX-Request": "true", "HX-Trigger-Name": f"v:{path}"}
    answer = client.post(f"{AT}/airplane/field", data=held, headers=headers)
    for name, text in re.findall(r'name="(was:[^"]+)" value="([^"]*)"', answer.text):
        held[name] = html.unescape(text)
    return answer.status_code, html.unescape(answer.text)


def test_a_field_is_saved_when_it_is_left_and_undone(client: TestClient) -> None:
    held = window(client)
    status, text = save(client, held, STALL, "62 ± 2 kt")
    assert (status, kept(client, STALL)) == (200, "62 ± 2 kt")
    assert "62 kt (95 %: 58.1 to 65.9 kt) with flaps up" in text
    edit = re.search(r'name="edit" value="(\d+)"', text)
    assert edit is not None
    answer = client.post(
        f"{AT}/undo",
        data={"form-token": held["form-token"], "edit": edit.group(1), "chapter": "airplane"},
        follow_redirects=False,
    )
    assert answer.headers["location"] == f"{AT}/airplane"
    assert kept(client, STALL) == "61 ± 2 kt"


def test_windows_that_edit_different_fields_lose_nothing(client: TestClient) -> None:
    mine, theirs = window(client), window(client)
    assert save(client, mine, STALL, "62 ± 2 kt")[0] == 200
    status, text = save(client, theirs, SPAN, "34 ft")
    assert (status, kept(client, STALL), kept(client, SPAN)) == (200, "62 ± 2 kt", "34 ft")
    assert 'value="62 ± 2 kt"' in text  # the other window's value is shown here now


def test_the_same_field_in_two_windows_is_refused_once_and_then_put_in_place(client: TestClient) -> None:
    mine, theirs = window(client), window(client)
    save(client, mine, STALL, "62 ± 2 kt")
    status, text = save(client, theirs, STALL, "63 ± 2 kt")
    assert (status, kept(client, STALL)) == (409, "62 ± 2 kt")
    assert "another window has changed stall speed, flaps up to 62 ± 2 kt" in text.lower()
    assert 'value="63 ± 2 kt"' in text
    assert save(client, theirs, STALL, "63 ± 2 kt")[0] == 200
    assert kept(client, STALL) == "63 ± 2 kt"


def test_what_cannot_be_used_stays_in_its_field_and_is_not_kept(client: TestClient) -> None:
    held = window(client)
    status, text = save(client, held, AREA, "large")
    assert status == 422
    assert 'value="large"' in text
    assert 'aria-invalid="true"' in text
    assert kept(client, AREA) == "174 ft2"
    assert "wing area: 'large' is not a quantity" in text
    assert "geometry.wing_area:" not in text
    limit = save(client, window(client), "flaps.0.limit_speed", "5 ft")[1]
    assert "limit speed, flap setting 1: 'ft' is not a unit of speed" in limit
    held = window(client)
    assert save(client, held, AREA, "175 ft2")[0] == 200
    assert client.post(f"{AT}/airplane/field", data={"form-token": held["form-token"], "v:x": "1"}).status_code == 422
