"""Captions in the browser: phrases answered one by one, corrected, taken back, kept as a recording; a sound heard."""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect
from starlette.testclient import TestClient

from tests.web.live import WAIT_MS, clock, served, window
from wringout.services.flights import speech
from wringout.services.flights.candidates import answer_phrase, caption_candidates
from wringout.services.flights.recordings import study_recording, take_in_recording
from wringout.services.flights.speech import HeardSound
from wringout.services.opening import open_studies
from wringout.services.study.studies import make_study
from wringout.web.app import make_app
from wringout.web.pages import captions as page_of_captions
from wringout.web.settings import Settings
from wringout.web.work import flights as flight_work

expect.set_options(timeout=WAIT_MS)
SLUG, NAME = "said-aloud", "said-by-the-observer-on-the-way-back-with-a-name-that-is-long.vtt"
AT = f"/studies/{SLUG}"
CAPTIONS = """WEBVTT

00:01.000 --> 00:03.000
one hundred ten

00:07.000 --> 00:09.000
gear down

00:13.000 --> 00:15.000
ninety nine

00:19.000 --> 00:21.000
lovely <b>view</b> from up here

00:25.000 --> 00:27.000
eighty eight
"""
FOUR_CALLS = Path(__file__).parents[1] / "services" / "sounds" / "four-calls.wav"


def make(database: Path) -> str:
    """Make a study with one caption file and return the file's hash."""
    with open_studies(database, clock) as store:
        make_study(store, "Said aloud", "Which?", {"smallest": "25 ft"}, slug=SLUG)
        taken = take_in_recording(store, SLUG, io.BytesIO(CAPTIONS.encode()), NAME)
        return taken.item.recording.sha256


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    make(tmp_path / "studies.db")
    moment = datetime(2027, 5, 1, 12, tzinfo=UTC)
    app = make_app(Settings(tmp_path / "studies.db", lambda: moment))
    with TestClient(app, base_url="http://127.0.0.1:8000") as opened:
        yield opened


def token(client: TestClient) -> str:
    found = re.search(r'name="form-token" value="([0-9a-f]+)"', client.get(f"{AT}/captions").text)
    assert found is not None
    return found.group(1)


def test_every_phrase_is_answered_and_what_counts_is_kept_as_a_recording(client: TestClient) -> None:
    store = client.app.state.site.store  # type: ignore[attr-defined]
    sha256 = study_recording(store, SLUG, NAME).item.recording.sha256
    here = f"{AT}/recordings/{sha256}/captions"
    page = client.get(here).text
    assert page.count("<tr id=") == 5
    assert "lovely view from up here" in page
    assert client.get(f"{AT}/recordings/{sha256}/file").content == CAPTIONS.encode()
    rows = {one.cue.words: one.offered[0].found.key for one in caption_candidates(store, SLUG, sha256).phrases}

    def answer(said: str, **fields: str) -> tuple[int, str]:
        seen = {"form-token": token(client), "seen": "", "seen_typed": "", "typed": "", **fields}
        found = client.post(f"{here}/phrases/{rows[said]}", data=seen, follow_redirects=False)
        return found.status_code, found.text

    assert answer("one hundred ten", answer="yes")[0] == 303
    assert answer("lovely view from up here", answer="yes")[0] == 422  # nothing in it could count
    status, text = answer("ninety nine", answer="typed", typed="9o kt")
    assert status == 422
    assert "neither a speed nor the words of a mark" in text
    assert 'value="9o kt"' in text
    assert answer("ninety nine", answer="typed", typed="109 mph")[0] == 303
    assert answer("lovely view from up here", answer="typed", typed="gear locked down")[0] == 303
    status, text = answer("ninety nine", answer="no")  # as a window that has not seen the correction
    assert status == 409
    assert "answered meanwhile, in another window: yes 109 mph" in text
    assert client.post(f"{here}/likely", data={"form-token": token(client)}).status_code == 200
    assert "It would hold three readings and two marks" in client.get(here).text
    form = {"form-token": token(client), "setup": "weight 2,900 lb", "name": "called.csv"}
    refused = client.post(f"{here}/keep", data=form)
    assert refused.status_code == 422
    assert "weight 2,900 lb</textarea>" in refused.text
    kept = client.post(f"{here}/keep", data={**form, "setup": "weight: 2,900 lb"}, follow_redirects=False)
    assert kept.status_code == 303
    assert f'href="{kept.headers["location"]}">Make a run of what was kept' in client.get(here).text
    made = study_recording(store, SLUG, "called.csv").recording
    assert made is not None
    knots = made.channels["ias"].values / (1852.0 / 3600.0)
    assert knots[:3].tolist() == pytest.approx([110.0, float("nan"), 109.0 * 1609.344 / 1852.0], nan_ok=True)
    assert [mark.label for mark in made.marks] == ["gear down", "gear locked down"]


def test_what_is_no_caption_file_and_what_cannot_be_heard_is_said(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    form = {"form-token": token(client)}
    files = {"captions": ("notes.csv", b"time, speed\n0, 110\n6, 108\n")}
    text = client.post(f"{AT}/captions", data=form, files=files).text
    assert "notes.csv: it holds no captions; it is kept among the recordings" in text
    monkeypatch.setattr(page_of_captions, "missing_recogniser", lambda: "Hearing needs what is not there.")
    assert (
        "No sound can be heard on this machine. Hearing needs what is not there." in client.get(f"{AT}/captions").text
    )
    sent = client.post(f"{AT}/captions/listen", data=form, files={"sound": ("a.wav", FOUR_CALLS.read_bytes())})
    assert sent.status_code == 422
    assert "the sound was not heard" in sent.text


def test_a_sound_is_kept_and_heard_and_its_phrases_wait(
    client: TestClient, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store = client.app.state.site.store  # type: ignore[attr-defined]
    with FOUR_CALLS.open("rb") as stream:
        sha256 = take_in_recording(store, SLUG, stream, "four.wav").item.recording.sha256
    laid_out: list[bytes] = []

    def listen(sound: Path, progress: Callable[[float], None]) -> HeardSound:  # tests/services hears it in earnest
        laid_out.append(sound.read_bytes())
        progress(1.0)
        return HeardSound(CAPTIONS.replace("ten", "five"), 5, 28.0, sha256)

    monkeypatch.setattr(speech, "listen", listen)
    shares: list[float] = []
    said = flight_work.hear_sound_of(tmp_path / "studies.db", lambda share, _: shares.append(share), SLUG, sha256)
    assert said == "five phrases heard, kept as four.heard.vtt."
    assert laid_out == [FOUR_CALLS.read_bytes()]
    assert shares == [0.0, 1.0]
    page = client.get(f"{AT}/captions").text
    assert "four.heard.vtt" in page
    assert f'<option value="{sha256}">four.wav</option>' in page


def test_phrases_are_answered_in_place_and_two_windows_do_not_overwrite_each_other(
    browser: Browser, tmp_path: Path
) -> None:
    database = tmp_path / "studies.db"
    sha256 = make(database)
    with served(database) as address, window(browser, address, 390) as watched:
        page = watched.open(f"{AT}/flights")
        page.get_by_role("link", name="say which phrases count").first.click()
        page.wait_for_url("**/captions")  # before its scripts are there a form goes the plain way
        page.get_by_role("button", name="Yes, a reading, 110 kt at 0:01.0").press("Enter")
        yes = page.get_by_role("button", name="Yes, a reading, 110 kt at 0:01.0")
        expect(yes).to_have_attribute("aria-pressed", "true")
        expect(yes).to_be_focused()
        expect(page.locator("#holds")).to_contain_text("one reading and no marks")
        with open_studies(database, clock) as store:  # another window
            key = caption_candidates(store, SLUG, sha256).phrases[2].offered[0].found.key
            answer_phrase(store, SLUG, sha256, key, "no")
        field = page.locator("tr", has_text="ninety nine").get_by_label("or it was")
        field.fill("98 kt")
        field.press("Enter")
        row = page.locator("tr", has_text="ninety nine")
        expect(row.get_by_role("alert")).to_contain_text("answered meanwhile, in another window: no")
        expect(row.get_by_label("or it was")).to_have_value("98 kt")
        row.get_by_label("or it was").press("Enter")
        expect(row).to_contain_text("A reading, 98 kt as you wrote")
        page.reload()
        expect(page.locator(".lead")).to_contain_text("2 wait")
        page.get_by_role("button", name="Say yes to the 2 likely ones").click()
        expect(page.locator(".lead")).to_contain_text("every one that may count is answered")
        page.get_by_role("button", name="Undo this change").click()
        expect(page.locator(".lead")).to_contain_text("2 wait")
