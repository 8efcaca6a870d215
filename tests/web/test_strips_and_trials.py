"""Strips, trials and taps through the workbench's own guard: what scripts are answered, and what is refused."""

from __future__ import annotations

import json
import re
import struct
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import numpy as np
import pytest
from starlette.testclient import TestClient

from wringout.services.demonstration import take_in_demonstration
from wringout.services.flights.recordings import study_recording
from wringout.services.opening import open_studies
from wringout.web.app import make_app
from wringout.web.settings import Settings

SLUG = "quillback-go-around"
AT = f"/studies/{SLUG}"


def clock() -> datetime:
    return datetime(2027, 5, 1, 12, tzinfo=UTC)


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    database = tmp_path_factory.mktemp("bench") / "studies.db"
    with open_studies(database, clock) as store:
        take_in_demonstration(store)
    app = make_app(Settings(database, clock))
    with TestClient(app, base_url="http://127.0.0.1:8000") as opened:
        yield opened


def token(client: TestClient, address: str) -> str:
    found = re.search(r'name="form-token" value="([0-9a-f]+)"', client.get(address).text)
    assert found is not None
    return found.group(1)


def recording(client: TestClient, name: str) -> str:
    """Return the hash of a recording of the study, through the service the pages use."""
    return study_recording(client.app.state.site.store, SLUG, name).item.recording.sha256  # type: ignore[attr-defined]


@pytest.fixture(scope="module")
def log(client: TestClient) -> str:
    return recording(client, "F3-full-flaps-logger.csv")


def test_the_numbers_of_a_strip_are_those_of_the_recording(client: TestClient, log: str) -> None:
    page = client.get(f"{AT}/recordings/{log}/strip").text
    about = json.loads(re.search(r'<script id="strip-data"[^>]*>(.*?)</script>', page, re.DOTALL).group(1))  # type: ignore[union-attr]
    data = client.get(f"{AT}/recordings/{log}/strip.bin").content
    rows = about["rows"]
    assert len(data) == rows * (8 + 4 * len(about["channels"]))
    times = np.frombuffer(data, "<f8", rows)
    first = np.frombuffer(data, "<f4", rows, 8 * rows)
    assert about["channels"][0]["unit"] == "kt"
    assert (times[0], times[-1]) == (0.0, 120.0)
    assert first[0] == pytest.approx(105.9, abs=1.0)  # the file's first row, in knots as written
    assert struct.unpack("<d", data[:8]) == (0.0,)


def look(client: TestClient, log: str, **more: Any) -> dict[str, Any]:
    body = {"from_s": 0, "to_s": 120, "method": "level deceleration", "words": "marks: columns", **more}
    answer = client.post(f"{AT}/recordings/{log}/strip/look", json=body)
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def test_a_stretch_is_looked_at_without_keeping_anything(client: TestClient, log: str) -> None:
    found = look(client, log)
    assert found["problem"] == ""
    assert found["readings"] > 40
    assert 0.0 < found["scatter"] < 1.0
    assert any("95 %" in one["value"] for one in found["by_hand"])
    short = look(client, log, to_s=5)
    assert short["problem"]


def test_a_stretch_that_is_no_time_is_refused_in_a_sentence(client: TestClient, log: str) -> None:
    answer = client.post(f"{AT}/recordings/{log}/strip/look", json={"from_s": "x", "to_s": 5, "method": "glide"})
    assert answer.status_code == 422
    assert "no time" in answer.text


def test_a_stretch_is_kept_once_and_what_was_typed_stays_when_refused(client: TestClient, log: str) -> None:
    address = f"{AT}/recordings/{log}/strip"
    form = {
        "form-token": token(client, address),
        "from_s": "0",
        "to_s": "100",
        "method": "level deceleration",
        "words": "marks: columns\nremark: <b>bold</b>",
        "key": "F9",
        "replaces": "",
    }
    refused = client.post(f"{address}/runs", data=form)
    assert refused.status_code == 422  # the bundled run F3 rests on the same readings
    assert "F3" in refused.text
    assert "remark: &lt;b&gt;bold&lt;/b&gt;" in refused.text
    kept = client.post(f"{address}/runs", data={**form, "replaces": "F3"}, follow_redirects=False)
    assert kept.status_code == 303, kept.text
    page = client.get(address).text
    assert ">F9</a>, level deceleration, 0:00 to 1:40, in use" in page
    assert ">F3</a>, level deceleration, the whole recording, set aside" in page


def fly(client: TestClient, **more: Any) -> dict[str, Any]:
    body = {
        "hand": [{"device": "flaps", "to": "up", "wait_s": 0.0, "gate": ""}],
        "against": [],
        "law": "hold speed",
        "conditions": {},
        **more,
    }
    answer = client.post(f"{AT}/techniques/try/fly", json=body)
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def test_a_technique_is_flown_and_held_against_another(client: TestClient) -> None:
    found = fly(client)
    assert found["problem"] == ""
    hand, against = found["trials"]
    assert hand["flap_deg"][-1] == 0.0
    assert against["flap_deg"][-1] == pytest.approx(against["flap_deg"][0])
    assert hand["height"][-1] > against["height"][-1]
    assert "ahead of the one it is held against" in found["benefit"]


def test_a_longer_wait_moves_the_action_by_as_much(client: TestClient) -> None:
    step = {"device": "flaps", "to": "up", "wait_s": 0.0, "gate": ""}
    (first,), (second,) = (fly(client, hand=[{**step, "wait_s": wait}])["trials"][0]["made_s"] for wait in (0.0, 4.0))
    assert second - first == pytest.approx(4.0, abs=0.02)


def test_a_slower_flap_motor_shows(client: TestClient) -> None:
    quick, slow = (fly(client, conditions={"flap_transit": share})["trials"][0]["flap_deg"] for share in (1.0, 2.0))
    assert sum(slow) > sum(quick)


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"hand": [{"device": "gear", "to": "sideways"}]}, "Step 1: 'gear sideways'"),
        ({"hand": [{"device": "flaps", "to": "up", "wait_s": -1}]}, "Step 1: a wait of -1 s"),
        ({"hand": [{"device": "flaps", "to": "half"}] * 9}, "9 steps are too many"),
        ({"conditions": {"weight": 99999}}, "99999 lb is out of range"),
    ],
)
def test_what_cannot_be_flown_is_named(client: TestClient, more: dict[str, Any], says: str) -> None:
    problem = fly(client, **more)["problem"]
    assert says.lower() in problem.lower()


def test_a_kept_technique_is_there_again_and_a_second_window_does_not_overwrite_it(client: TestClient) -> None:
    address = f"{AT}/techniques/try"
    steps = json.dumps([{"device": "flaps", "to": "half", "wait_s": 1.0, "gate": ""}])
    form = {"form-token": token(client, address), "steps": steps, "title": "Half, then wait", "key": "", "revision": ""}
    kept = client.post(f"{address}/keep", data=form, follow_redirects=False)
    assert kept.headers["location"] == f"{address}?kept=half-then-wait"
    assert "Half, then wait" in client.get(address).text
    other = [{"device": "flaps", "to": "up", "wait_s": 1.0, "gate": ""}]
    again = client.post(f"{address}/keep", data={**form, "steps": json.dumps(other)})
    assert again.status_code >= 400  # it was made from nothing, but something is there
    assert "half-then-wait" in again.text


def capture_address(client: TestClient, flight: str) -> str:
    found = re.search(rf"/capture/{SLUG}/{flight}/[0-9a-f]{{32}}/", client.get(f"{AT}/capture?flight={flight}").text)
    assert found is not None
    return found.group(0)


def tap(place: int) -> dict[str, Any]:
    return {
        "sequence": place,
        "kind": "mark",
        "label": "stable",
        "wall_ms": 1.8e12 + place,
        "mono_ms": place,
        "epoch": "e",
    }


def test_a_device_with_the_key_delivers_to_its_flight_and_nothing_else(client: TestClient) -> None:
    address = capture_address(client, "one")
    page = client.get(address)
    assert page.status_code == 200
    assert '"deliver": "taps"' in page.text
    assert client.get(f"{address}page.js").headers["content-type"].startswith("text/javascript")
    first = client.post(f"{address}taps", json={"device": "a1", "taps": [tap(1), tap(2)]})
    assert first.json()["have"] == 2
    again = client.post(f"{address}taps", json={"device": "a1", "taps": [tap(2), tap(3)]})
    assert again.json()["have"] == 3
    assert client.post(address.replace("/one/", "/two/") + "taps", json={"device": "a1", "taps": []}).status_code == 404
    assert client.get(f"{address}../../../../etc/passwd").status_code == 404
    assert client.get(f"{address}%2e%2e%2flog.js").status_code == 404


def test_a_key_that_was_ended_opens_nothing(client: TestClient) -> None:
    address = capture_address(client, "three")
    ended = client.post(f"{AT}/capture/three/revoke", data={"form-token": token(client, f"{AT}/capture")})
    assert ended.status_code == 200
    assert client.post(f"{address}taps", json={"device": "a1", "taps": [tap(1)]}).status_code == 404
    assert capture_address(client, "three") != address


def test_the_page_goes_along_as_a_file_and_as_a_folder(client: TestClient) -> None:
    one = client.get(f"{AT}/capture/one/page.html")
    assert "attachment" in one.headers["content-disposition"]
    assert "Content-Security-Policy" in one.text
    folder = client.get(f"{AT}/capture/one/folder.zip")
    assert folder.content[:2] == b"PK"


def test_a_log_is_taken_in_and_a_wrong_file_is_refused(client: TestClient) -> None:
    head = json.dumps({"format": "wringout taps, version 1", "flight": "four", "device": "a1"})
    text = f"{head}\n{json.dumps(tap(1))}\n"
    form = {"form-token": token(client, f"{AT}/capture")}
    taken = client.post(f"{AT}/capture", data=form, files={"logs": ("a.taps", text)})
    assert "1 new events of device a1 in four" in taken.text
    wrong = client.post(f"{AT}/capture", data=form, files={"logs": ("notes.txt", "hello")})
    assert wrong.status_code == 422
    assert "no log of taps" in wrong.text
