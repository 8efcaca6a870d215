"""Clips in the browser: an instrument marked by pressing and by typing, read in the background, looked at, and kept."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import cv2
import numpy as np
import pytest
from playwright.sync_api import Browser, expect
from starlette.testclient import TestClient

from tests.instruments.rendered import CENTRE, SCALE_DEG, SCALE_KT, Trouble, dial_picture, digits_picture
from tests.web.live import WAIT_MS, WORK_MS, clock, served, window
from wringout.services.flights.clips import read_marked_clip, study_clip
from wringout.services.flights.recordings import study_recording, take_in_recording
from wringout.services.opening import open_studies
from wringout.services.study.studies import make_study
from wringout.web.app import make_app
from wringout.web.settings import Settings
from wringout.web.work import flights as flight_work

expect.set_options(timeout=WAIT_MS)
SLUG, NAME = "on-film", "the-airspeed-indicator-from-the-right-seat-on-the-second-flight.avi"
AT = f"/studies/{SLUG}"
TRUTH = np.linspace(120.0, 70.0, 40)
HIDDEN = (20, 21)
"""Frames in which the whole instrument is covered."""
STROKES = [(CENTRE[0] + 92.0 * np.sin(a), CENTRE[1] - 92.0 * np.cos(a)) for a in np.radians(SCALE_DEG)]
MARKS: dict[str, str | list[str]] = {
    "kind": "dial", "unit": "kt", "at": "0", "rate": "10", "least": "0.5", "needle": "light",
    "centre_x": f"{CENTRE[0]:g}", "centre_y": f"{CENTRE[1]:g}", "value": [f"{kt:g}" for kt in SCALE_KT],
    "x": [f"{x:.1f}" for x, _ in STROKES], "y": [f"{y:.1f}" for _, y in STROKES],
}  # fmt: skip


@pytest.fixture(scope="module")
def clip(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path, rng = tmp_path_factory.mktemp("clip") / NAME, np.random.default_rng(5)
    video = cv2.VideoWriter(str(path), cv2.VideoWriter_fourcc(*"MJPG"), 10.0, (300, 260))
    for i, speed in enumerate(TRUTH):
        frame = dial_picture(speed, Trouble(0.0, 3.0, 0.0, 0.0), rng, 0.0)
        video.write(cv2.cvtColor(np.full_like(frame, 90) if i in HIDDEN else frame, cv2.COLOR_GRAY2BGR))
    video.release()
    return path


def make(database: Path, clip: Path) -> str:
    """Make a study that holds the clip and return the clip's hash."""
    with open_studies(database, clock) as store:
        make_study(store, "On film", "Which?", {"smallest": "25 ft"}, slug=SLUG)
        with clip.open("rb") as stream:
            return take_in_recording(store, SLUG, stream, NAME, make_run=False).item.recording.sha256


@pytest.fixture
def client(tmp_path: Path, clip: Path) -> Iterator[TestClient]:
    make(tmp_path / "studies.db", clip)
    moment = datetime(2027, 5, 1, 12, tzinfo=UTC)
    with TestClient(make_app(Settings(tmp_path / "studies.db", lambda: moment)), base_url="http://127.0.0.1") as opened:
        yield opened


def send(client: TestClient, path: str, fields: dict[str, str | list[str]]) -> tuple[int, str]:
    found = re.search(r'name="form-token" value="([0-9a-f]+)"', client.get(f"{AT}/clips").text)
    assert found is not None
    answer = client.post(path, data={"form-token": found.group(1), **fields}, follow_redirects=False)
    return answer.status_code, answer.text


def test_marks_that_cannot_be_right_are_named_and_stay_as_typed(client: TestClient) -> None:
    store = client.app.state.site.store  # type: ignore[attr-defined]
    here = f"{AT}/recordings/{study_recording(store, SLUG, NAME).item.recording.sha256}/clip"
    assert client.get(f"{here}/picture.jpg?at=1.5").content[:2] == b"\xff\xd8"
    assert "there is no frame at 99 s" in client.get(f"{here}/picture.jpg?at=99").text
    for change, says in (
        ({"centre_x": "15O"}, "centre, from the left: &#39;15O&#39; is no number"),
        ({"y": [*MARKS["y"][:-1], ""]}, "known speed 7, from the top: it is missing"),
        ({"value": ["40", "40", *MARKS["value"][2:]]}, "the same speed is marked twice"),
        ({"outer": "400"}, "is not inside the picture of 300 by 260"),
        ({"kind": "digits", "left": "250", "top": "10", "width": "80", "height": "40"}, "is not inside the picture"),
        ({"rate": "500"}, "500 readings a second cannot be"),
        ({"at": "soon"}, "&#39;soon&#39; is no number"),
    ):
        status, text = send(client, f"{here}/read", {**MARKS, **change})
        assert status == 422
        assert says in text
        for typed in change.values():
            assert all(f'value="{one}"' in text for one in ([typed] if isinstance(typed, str) else typed))
    status, text = send(client, f"{here}/look", {**MARKS, "at": "1.5", "centre_x": "15O"})
    assert status == 200
    assert "picture.jpg?at=1.500" in text
    assert 'value="15O"' in text
    assert study_clip(store, SLUG, NAME).revision == 0
    assert send(client, f"{here}/keep", {"name": "mine.csv"})[0] == 422
    assert send(client, f"{here}/read", {**MARKS, "revision": "0"})[0] == 303
    other = {**MARKS, "centre_x": "151", "revision": "0"}  # as a window that has not seen the first marks
    client.app.state.site.jobs.stop(1)  # type: ignore[attr-defined]
    status, text = send(client, f"{here}/read", other)
    assert status == 409
    assert "Send yours again" in text
    assert 'value="151"' in text


def test_a_read_out_is_marked_with_its_box_and_what_is_known(client: TestClient, tmp_path: Path) -> None:
    store = client.app.state.site.store  # type: ignore[attr-defined]
    dice, path = np.random.default_rng(2), tmp_path / "digits.avi"
    video = cv2.VideoWriter(str(path), cv2.VideoWriter_fourcc(*"MJPG"), 10.0, (200, 120))
    truth = [138, 120, 95, 64, 107, 106, 105, 104]
    for speed in truth:
        video.write(cv2.cvtColor(digits_picture(speed, Trouble(0.0, 3.0, 0.0, 0.0), dice, 0.0), cv2.COLOR_GRAY2BGR))
    video.release()
    with path.open("rb") as stream:
        sha256 = take_in_recording(store, SLUG, stream, "digits.avi", make_run=False).item.recording.sha256
    here = f"{AT}/recordings/{sha256}/clip"
    form: dict[str, str | list[str]] = {
        "kind": "digits", "unit": "kt", "at": "0", "rate": "10", "least": "0.5", "fastest": "400",
        "left": "40", "top": "30", "width": "110", "height": "60",
        "time": ["0", "0,1", "0.2", "0.3", "0.4", ""], "reads": ["138", "120", "95", "64", "107", ""],
    }  # fmt: skip
    assert send(client, f"{here}/read", form)[0] == 303
    client.app.state.site.jobs.stop(1)  # type: ignore[attr-defined]  # done here instead of beside
    said = flight_work.read_clip_of(tmp_path / "studies.db", lambda *_: None, SLUG, sha256)
    assert said == "eight readings of 8 are sure in digits.avi."
    page = client.get(here).text
    assert '<rect x="40.0" y="30.0" width="110.0" height="60.0" class="above"/>' in page
    assert "Eight readings of 8 count, and nothing waits." in page
    assert [one.speed for one in study_clip(store, SLUG, sha256).readings] == truth


def test_what_is_no_clip_and_what_cannot_be_read_is_said(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as without:
        without.setitem(sys.modules, "cv2", None)
        page = client.get(f"{AT}/clips").text
    assert "No instrument can be read on this machine. Reading an instrument from video needs OpenCV" in page
    found = re.search(r'name="form-token" value="([0-9a-f]+)"', page)
    form = {"form-token": found.group(1) if found else ""}
    for name, says in (("notes.csv", "it is no clip by its name"), ("broken.mp4", "this is no video that can be read")):
        text = client.post(f"{AT}/clips", data=form, files={"clips": (name, b"time, speed\n0, 110\n")}).text
        assert says in text


def test_the_flights_say_beside_the_link_what_a_machine_lacks(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert "pip install" not in client.get(f"{AT}/flights").text
    monkeypatch.setitem(sys.modules, "cv2", None)
    row = re.search(r"read its instrument</a>(?: <span[^>]*>)([^<]*)", client.get(f"{AT}/flights").text)
    assert row is not None
    assert "OpenCV, which is not installed" in row[1]
    assert ".[video]" in row[1]


def test_a_dial_is_marked_read_looked_at_and_kept(browser: Browser, tmp_path: Path, clip: Path) -> None:
    database = tmp_path / "studies.db"
    sha256 = make(database, clip)
    with served(database) as address, window(browser, address, 1280) as watched:
        page = watched.open(f"{AT}/flights")
        page.get_by_role("link", name="read its instrument").first.click()
        page.get_by_label("centre of the dial, pixels from the left").fill("149")
        page.get_by_label("centre of the dial, pixels from the left").press("ArrowUp")
        page.get_by_label("centre of the dial, pixels from the top").fill("130")
        picture = page.locator(".picture img")
        box = picture.bounding_box()
        assert box is not None
        marked = [0, 2, 4, 6]
        for row, i in enumerate(marked, 1):
            page.get_by_label(f"known speed {row}", exact=True).fill(f"{SCALE_KT[i]:g}")
            page.get_by_label(f"stroke of known speed {row}, pixels from the left").focus()
            x, y = STROKES[i]
            picture.click(position={"x": x * box["width"] / 300.0, "y": y * box["height"] / 260.0})
        left = page.get_by_label("stroke of known speed 1, pixels from the left")
        assert float(left.input_value()) == pytest.approx(STROKES[0][0], abs=1.0)
        assert page.locator("#marks text").all_text_contents() == ["40", "80", "120", "160"]
        page.reload()  # nothing was sent yet
        page.get_by_role("button", name="Put it back").click()
        expect(left).not_to_have_value("")
        page.get_by_role("button", name="Read the clip").click()
        expect(page.locator(".lead")).to_contain_text("38 readings of 40 count; two others wait", timeout=WORK_MS)
        note = page.get_by_label("The reading at this moment")
        expect(note).to_contain_text("At 2.00 s:")
        note.get_by_role("button", name="No, not").press("Enter")
        page.wait_for_url("**/clip?at=2.100*")  # on to the next that waits
        expect(page.locator(".lead")).to_contain_text("one other waits")
        waits = page.locator("#r2100")
        waits.get_by_label("or it was").fill("ninety")
        waits.get_by_label("or it was").press("Enter")
        expect(waits.get_by_role("alert")).to_contain_text("'ninety' is no speed in kt")
        expect(waits.get_by_label("or it was")).to_have_value("ninety")
        waits.get_by_label("or it was").fill("93")
        waits.get_by_label("or it was").press("Enter")
        expect(waits).to_contain_text("93.0 kt, as you wrote")
        page.get_by_role("button", name="Keep it as a recording").click()
        page.get_by_role("link", name="Cut runs on its strip chart").wait_for()
    with open_studies(database, clock) as store:
        made = study_recording(store, SLUG, NAME.replace(".avi", "-speeds.csv")).recording
        assert made is not None
        off = made.channels["ias"].values / (1852.0 / 3600.0) - TRUTH
        assert np.flatnonzero(np.isnan(off)).tolist() == [20]
        assert np.nanmax(np.abs(off)) < 4.0  # between four marks the uneven scale is a cubic's guess
        assert made.header["clip hash"] == sha256
        again = read_marked_clip(store, SLUG, sha256)
        assert [one.answer for one in again.readings if one.answer] == ["no", "typed"]
