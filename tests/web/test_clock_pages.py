"""Clocks in the browser: recordings held side by side, an offset found or typed, kept, undone; parts joined."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import Browser, expect
from starlette.testclient import TestClient

from tests.web.crowd import DEMO
from tests.web.live import WAIT_MS, clock, served, window
from wringout.services.airplane.airplanes import put_airplane_file
from wringout.services.flights.one_clock import typed_offset
from wringout.services.flights.recordings import study_recording, take_in_recording
from wringout.services.flights.runs import study_runs
from wringout.services.opening import open_studies
from wringout.services.study.studies import make_study
from wringout.web.app import make_app
from wringout.web.settings import Settings

expect.set_options(timeout=WAIT_MS)
SLUG = "two-clocks"
AT = f"/studies/{SLUG}"
LOG, PHONE, TAPS = "logger.csv", "the-phone-of-the-observer-which-was-set-to-another-time-zone.csv", "called.csv"
LATER_S = 40.0
TIMES = np.arange(0.0, 400.0)
HEAD = "# kind: logger\n# method: level deceleration\n# device: gear\n# weight: 2900 lb\n# power: idle\n"


def speed(at: np.ndarray) -> np.ndarray:
    """Return an airspeed that changes as in a flight [kt]; invented."""
    return np.interp(at, [0, 150, 200, 300, 400], [120, 120, 84, 100, 95]) + 1.5 * np.sin(at / 11.0)


def logged(name: str, at: np.ndarray, shift: float, marks: dict[float, str]) -> str:
    rows = [(float(t), f"{t:.1f},{v:.2f},7000,8,") for t, v in zip(at, speed(at + shift), strict=True)]
    rows += [(t, f"{t:.1f},,,,{words}") for t, words in marks.items()]
    column = "IAS" if name == LOG else "Ground Speed"
    head = HEAD if name == LOG else "# kind: logger\n"
    return (
        f"{head}Time (s),{column} (kt),Altitude (ft),OAT (C),Mark\n"
        + "\n".join(text for _, text in sorted(rows))
        + "\n"
    )


FILES = {
    LOG: logged(LOG, TIMES, 0.0, {}),
    PHONE: logged(PHONE, TIMES[:300], LATER_S, {110.0: "gear down", 117.0: "three green"}),
    TAPS: "time,speed,mark\n0:00,110,\n0:06,108,gear down\n0:12,106,\n",
}


def make(database: Path) -> dict[str, str]:
    """Make a study with recordings of one flight and return their hashes by name."""
    with open_studies(database, clock) as store:
        make_study(store, "Two clocks", "Which?", {"smallest": "25 ft"}, slug=SLUG)
        put_airplane_file(store, SLUG, (DEMO / "airplane.toml").read_bytes(), "airplane.toml")
        taken = {name: take_in_recording(store, SLUG, io.BytesIO(text.encode()), name) for name, text in FILES.items()}
        assert not study_runs(store, SLUG)  # the logger's table carries no marks
        return {name: arrival.item.recording.sha256 for name, arrival in taken.items()}


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    make(tmp_path / "studies.db")
    moment = datetime(2027, 5, 1, 12, tzinfo=UTC)
    with TestClient(make_app(Settings(tmp_path / "studies.db", lambda: moment)), base_url="http://127.0.0.1") as opened:
        yield opened


def send(client: TestClient, path: str, fields: dict[str, str | list[str]]) -> tuple[int, str, str]:
    found = re.search(r'name="form-token" value="([0-9a-f]+)"', client.get(f"{AT}/clocks").text)
    assert found is not None
    data = {"form-token": found.group(1), **fields}
    answer = client.post(f"{AT}/clocks/{path}", data=data, follow_redirects=False)
    return answer.status_code, answer.text, answer.headers.get("location", "")


@pytest.mark.parametrize(
    ("text", "offset", "sd"),
    [("12.5 ± 0.5 s", 12.5, 0.5), ("-3,25", -3.25, 0.7), ("\N{MINUS SIGN}40 s +/- 2", -40.0, 2.0)],
)
def test_an_offset_is_read_as_it_is_typed(text: str, offset: float, sd: float) -> None:
    fit = typed_offset(text, "offset")
    assert (float(fit.time_of(0.0)), fit.offset_sd_s) == (offset, sd)


def test_what_cannot_be_held_together_is_named_and_stays_as_typed(client: TestClient) -> None:
    store = client.app.state.site.store  # type: ignore[attr-defined]
    sha = {name: study_recording(store, SLUG, name).item.recording.sha256 for name in FILES}
    form: dict[str, str | list[str]] = {"first": sha[LOG], "other": [sha[PHONE], sha[TAPS]], "name": "mine.csv"}
    status, text, _ = send(client, "keep", {**form, "offset": ["", "soon"]})
    assert status == 422
    assert "offset of called.csv: &#39;soon&#39; is no offset" in text
    assert 'value="soon"' in text
    assert 'value="mine.csv"' in text
    assert "It begins 40.0" in text  # what was found stays in sight
    status, text, _ = send(client, "keep", {**form, "offset": ["", ""]})
    assert status == 422
    assert "called.csv: nothing says how its clock lies; type by how much later it begins" in text
    assert client.get(f"{AT}/clocks", params={"first": sha[LOG], "other": "0" * 64}).status_code == 422
    status, text, _ = send(client, "join", {"part": [sha[LOG], sha[PHONE]], "number": ["1", "1"], "name": "both.csv"})
    assert status == 422
    assert "&#39;1&#39; stands twice" in text
    assert 'value="both.csv"' in text


def test_three_recordings_come_onto_one_clock(client: TestClient) -> None:
    store = client.app.state.site.store  # type: ignore[attr-defined]
    sha = {name: study_recording(store, SLUG, name).item.recording.sha256 for name in FILES}
    form: dict[str, str | list[str]] = {"first": sha[LOG], "other": [sha[PHONE], sha[TAPS]], "offset": ["", "30 ± 2 s"]}
    status, _, _ = send(client, "keep", {**form, "name": "all.csv"})
    assert status == 303
    made = study_recording(store, SLUG, "all.csv").recording
    assert made is not None
    marks = [(mark.label, mark.time_s) for mark in made.marks]
    assert marks[0] == ("gear down", pytest.approx(36.0, abs=0.01))  # typed: 30 s after the logger
    assert marks[2] == ("three green", pytest.approx(117.0 + LATER_S, abs=0.5))
    assert made.header["aligned"] == f"{PHONE} onto {LOG} by ground_speed against ias; {TAPS} onto {LOG} by hand"
    assert made.header["clock uncertainty"] == "2.00 s"


def test_an_offset_is_looked_at_kept_and_undone(browser: Browser, tmp_path: Path) -> None:
    database = tmp_path / "studies.db"
    make(database)
    with served(database) as address, window(browser, address, 390) as watched:
        page = watched.open(f"{AT}/flights")
        page.get_by_role("link", name="Bring several recordings of one flight onto one clock").click()
        page.get_by_label("The clock that counts is that of").select_option(LOG)
        page.get_by_role("checkbox", name=PHONE).press("Space")
        page.get_by_role("button", name="Look at their clocks").press("Enter")
        expect(page.locator(".lead")).to_contain_text(f"{PHONE} begins 40.0")
        expect(page.get_by_role("img", name="on one clock")).to_be_visible()
        field = page.get_by_label("It begins")
        field.fill("41 ± 0.5 s")
        page.get_by_role("button", name="Look again").click()
        expect(page.locator(".lead")).to_contain_text("begins 41.00 ± 0.50 s after")
        page.reload()
        expect(field).to_have_value("41 ± 0.5 s")
        field.fill("")
        page.get_by_role("button", name="Keep them on one clock").click()
        kept = page.get_by_role("region", name="On one clock")
        expect(kept).to_contain_text(f"{PHONE} begins 40.0")
        with open_studies(database, clock) as store:
            assert [str(run.stored.state) for run in study_runs(store, SLUG)] == ["in use"]
        kept.get_by_role("button", name="apart again").click()
        expect(kept).to_have_count(0)
        expect(page.locator(".lead")).to_contain_text(f"{PHONE} begins 40.0")
        with open_studies(database, clock) as store:
            assert [str(run.stored.state) for run in study_runs(store, SLUG)] == ["set aside"]
        page.get_by_role("button", name="Keep them on one clock").click()
        expect(kept).to_be_visible()
    with open_studies(database, clock) as store:
        assert [str(run.stored.state) for run in study_runs(store, SLUG)] == ["in use"]
