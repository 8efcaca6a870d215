"""Archives in the browser: a typed folder scanned, finds sifted and handed out, one opened as a recording."""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path

import polars as pl
import pytest
from starlette.testclient import TestClient

from tests.fleet.flights import CRUISE, GO_AROUND, LANDING, TOUCH_AND_GO
from tests.web.beside import at_once, beside, token
from wringout.services.flights.recordings import study_recordings
from wringout.services.study.studies import make_study
from wringout.web.jobs import Jobs


@pytest.fixture(scope="module")
def logs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("logs")
    (folder / "deep").mkdir()
    for name, text in {"go": GO_AROUND, "land": LANDING, "deep/touch": TOUCH_AND_GO, "cruise": CRUISE}.items():
        (folder / f"{name}.csv").write_text(text)
    (folder / "broken <b>.csv").write_bytes(b"\x00\x01\x02 not a log")
    return folder


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    with pytest.MonkeyPatch.context() as patch, beside(tmp_path_factory.mktemp("shelf") / "studies.db") as opened:
        patch.setattr(Jobs, "start", at_once)
        yield opened


@pytest.fixture(scope="module")
def archive(client: TestClient, logs: Path) -> str:
    form = {"form-token": token(client), "folder": str(logs)}
    return str(client.post("/archives", data=form, follow_redirects=False).headers["location"])


def test_finds_are_sifted_and_the_tables_hold_the_same(client: TestClient, archive: str, logs: Path) -> None:
    page = client.get(archive).text
    assert "Two go-arounds and ten movements of gear or flaps found in five recordings" in page, page[:3000]
    assert "broken &lt;b&gt;.csv" in page
    table = pl.read_parquet(io.BytesIO(client.get(f"{archive}/finds.parquet").content))
    assert sorted(Path(path).name for path in table["path"]) == ["go.csv", "touch.csv"]
    for asked, names in {
        "sure=go-around": ["go.csv"],
        "words=DEEP": ["touch.csv"],
        "order=flaps+20%2C+gear+up%2C+flaps+0": ["go.csv"],
        "sure=nonsense&sort=x&first=zz": ["go.csv", "touch.csv"],
        "kind=change&words=land": ["land.csv"],
    }.items():
        text = client.get(f"{archive}/finds.csv?{asked}").text
        found = pl.read_csv(io.StringIO(text))
        assert sorted({Path(path).name for path in found["path"]}) == names, asked
        page = client.get(f"{archive}?{asked}").text
        assert all(f"<bdi>{name}</bdi>" in page for name in names), asked
    assert "No find fits" in client.get(f"{archive}?words=nowhere").text


def test_one_is_opened_as_a_recording_of_a_study(client: TestClient, archive: str, logs: Path) -> None:
    store = client.app.state.site.store  # type: ignore[attr-defined]
    table = pl.read_parquet(io.BytesIO(client.get(f"{archive}/finds.parquet?sure=go-around").content))
    here = f"{archive}/files/{table['sha256'][0]}"
    assert "begin a study" in client.get(here).text
    slug = make_study(store, "Opened", "What was flown?", {}).slug
    page = client.get(here).text
    assert "flaps 20, gear up, flaps 0" in page
    form = {"form-token": token(client)}
    assert client.post(here, data=form).status_code == 422
    answer = client.post(here, data=form | {"study": slug})
    assert answer.status_code == 200
    (kept,) = study_recordings(store, slug)
    assert (kept.item.name, kept.item.recording.sha256) == ("go.csv", table["sha256"][0])


def test_a_folder_that_is_none_is_refused_with_what_was_typed(client: TestClient, logs: Path) -> None:
    form = {"form-token": token(client)}
    for typed in ("", "logs", str(logs / "nowhere"), str(logs / "go.csv"), "/\x00", "~nobody-there/x"):
        told = client.post("/archives", data=form | {"folder": typed})
        assert told.status_code == 422, typed
        assert 'class="refusal" role="alert"' in told.text
        assert "\x00" in typed or f'value="{typed}"' in told.text


def test_another_device_scans_nothing(client: TestClient, archive: str) -> None:
    with beside(client.app.state.site.database, ("192.0.2.7", 5)) as other:  # type: ignore[attr-defined]
        assert other.get(archive).status_code == 404
        assert other.post("/archives", data={"form-token": token(other), "folder": "/"}).status_code == 404
