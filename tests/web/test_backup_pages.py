"""Back-ups in the browser: written, checked, taken back only after the sentence; and a damaged database's own page."""

from __future__ import annotations

import contextlib
import io
import re
import shutil
import socket
import subprocess
import sys
import time
import zipfile
from collections.abc import Iterator
from http.client import HTTPException
from pathlib import Path
from urllib.parse import urlencode
from urllib.request import HTTPCookieProcessor, OpenerDirector, build_opener

import pytest
from starlette.testclient import TestClient

from tests.web.beside import LONGEST_S, beside, clock, token, work_done
from wringout.services.backups import back_up, backups_beside
from wringout.services.flights.recordings import take_in_recording
from wringout.services.opening import open_studies
from wringout.services.study.studies import make_study, summaries
from wringout.web.app import make_app
from wringout.web.rescue import make_rescue
from wringout.web.settings import Settings

TITLE = "Gear or flaps <first>?"
ROWS = b"time,ias (kt)\n0,100\n1,99\n"


def fill(database: Path) -> None:
    with open_studies(database, clock) as store:
        slug = make_study(store, TITLE, "Which?", {}).slug
        take_in_recording(store, slug, io.BytesIO(ROWS), "one.csv")


@pytest.fixture(scope="module")
def database(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("kept") / "studies.db"
    fill(path)
    return path


@pytest.fixture(scope="module")
def client(database: Path) -> Iterator[TestClient]:
    with beside(database) as opened:
        yield opened


def test_what_was_lost_after_a_back_up_comes_back_only_once_the_sentence_is_typed(
    client: TestClient, database: Path
) -> None:
    assert "No back-up lies beside the database yet" in client.get("/backups").text
    form = {"form-token": token(client)}
    client.post("/backups", data=form)
    assert work_done(client, "backup").said == "Every study, with one recording, is in wringout-2027-05-01-1200.zip."
    (kept,) = backups_beside(database)
    client.post(f"/backups/{kept.name}/check", data=form)
    assert work_done(client, "check").said == f"Every byte of {kept.name} fits its hash: one study and one recording."
    store = client.app.state.site.store  # type: ignore[attr-defined]
    make_study(store, "Made later", "Later?", {})
    page = client.get(f"/backups/{kept.name}/restore").text
    assert "<q><bdi>Made later</bdi></q>" in page
    refused = client.post(f"/backups/{kept.name}/restore", data=form | {"sentence": "take it"})
    assert refused.status_code == 422
    assert 'value="take it"' in refused.text
    assert len(summaries(store)) == 2
    client.post(f"/backups/{kept.name}/restore", data=form | {"sentence": " Take it  back "})
    done = work_done(client, "restore")
    assert [one.study.title for one in summaries(store)] == [TITLE]
    aside = Path(re.search(r"kept as '([^']+)'", done.said).group(1))  # type: ignore[union-attr]
    with open_studies(aside, clock, create=False) as before:
        assert {one.study.title for one in summaries(before)} == {TITLE, "Made later"}


def test_one_from_elsewhere_is_checked_and_a_changed_byte_is_seen(client: TestClient, database: Path) -> None:
    path = database.parent / "elsewhere.zip"
    with open_studies(database, clock) as store:
        back_up(store, path)
    damaged = io.BytesIO()
    with zipfile.ZipFile(path) as whole, zipfile.ZipFile(damaged, "w") as copy:
        for name in whole.namelist():
            data = whole.read(name)
            copy.writestr(name, data.replace(b"100", b"101") if name.startswith("recordings/") else data)
    form, zipped = {"form-token": token(client)}, "application/zip"
    files = {"backup": ("../odd name.zip", damaged.getvalue(), zipped)}
    client.post("/backups/add", data=form, files=files)
    assert "was changed" in work_done(client, "check").said
    assert "odd-name.zip" in {one.name for one in backups_beside(database)}
    told = client.post("/backups/add", data=form, files={"backup": ("a.zip", b"no zip", zipped)})
    assert told.status_code == 422
    assert "a.zip, back-up: it is damaged" in told.text.replace("&#39;", "'")


def test_another_device_sees_no_back_up(database: Path) -> None:
    with beside(database, ("192.0.2.7", 50000)) as other:
        form = {"form-token": token(other)}
        for answer in (other.get("/backups"), other.post("/backups", data=form), other.get("/backups/elsewhere.zip")):
            assert answer.status_code == 404
            assert "not shared with others" in answer.text


def test_a_damaged_database_opens_as_a_page_with_two_ways_forward(tmp_path: Path) -> None:
    for way in ("rescue", "back-up"):
        database = tmp_path / way / "studies.db"
        database.parent.mkdir()
        fill(database)
        if way == "back-up":
            (tmp_path / way / "studies.backups").mkdir()
            with open_studies(database, clock) as store:
                back_up(store, tmp_path / way / "studies.backups" / "all.zip")
        whole = database.read_bytes()
        database.write_bytes(whole[:4096] + b"\xff" * 8192 + whole[12288:])
        ended: list[bool] = []
        settings = Settings(database, clock)
        app = make_rescue(settings)
        app.state.end = lambda ended=ended: ended.append(True)
        with beside(database, app=app) as client:
            page = client.get("/studies/any/findings").text
            assert "neither throws anything away" in page
            assert ("all.zip" in page) == (way == "back-up")
            form = {"form-token": token(client), "name": "all.zip"}
            assert client.post("/rescue").status_code == 422
            done = client.post("/rescue" if way == "rescue" else "/rescue/back-up", data=form).text
            assert "studies.damaged-1.db" in done
            assert not ended
            client.post("/rescue/go-on", data=form, follow_redirects=False)
            assert ended
        with beside(database, app=make_app(settings)) as client:
            assert client.get("/").status_code == 200
        if way == "back-up":
            with open_studies(database, clock) as store:
                assert [one.study.title for one in summaries(store)] == [TITLE]
        with beside(database, ("192.0.2.7", 5), make_rescue(settings)) as other:
            assert other.get("/").status_code == 404
        shutil.rmtree(database.parent)


def test_wringout_open_shows_the_way_forward_and_then_the_shelf(tmp_path: Path) -> None:
    database = tmp_path / "studies.db"
    fill(database)
    whole = database.read_bytes()
    database.write_bytes(whole[:4096] + b"\xff" * 8192 + whole[12288:])
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    browser = build_opener(HTTPCookieProcessor())
    with opened("open", "--no-browser", "--port", str(port), "--database", str(database)):
        page = answer(browser, port, "The database of studies is damaged")
        found = re.search(r'name="form-token" value="([0-9a-f]+)"', page)
        form = urlencode({"form-token": found.group(1) if found else ""}).encode()
        address = f"http://127.0.0.1:{port}/rescue"
        assert "studies.damaged-1.db" in browser.open(address, form, LONGEST_S).read().decode()
        assert browser.open(f"{address}/go-on", form, LONGEST_S).headers["refresh"] == "1; url=/"
        assert "on the shelf" in answer(browser, port, "The shelf of studies")


@contextlib.contextmanager
def opened(*arguments: str) -> Iterator[None]:
    """Run the workbench as a program of its own, and end it."""
    command = [sys.executable, "-c", "from wringout.cli.main import main; main()", *arguments]
    program = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        yield
    finally:
        program.kill()
        program.wait()


def answer(browser: OpenerDirector, port: int, holds: str) -> str:
    """Return the first page as soon as it holds some words; the program takes a while to begin."""
    end = time.monotonic() + LONGEST_S
    while time.monotonic() < end:
        with contextlib.suppress(OSError, HTTPException):
            text: str = browser.open(f"http://127.0.0.1:{port}/", timeout=LONGEST_S).read().decode()
            if holds in text:
                return text
        time.sleep(0.05)
    raise AssertionError(f"never came: {holds}")
