"""What a bundle would hold is said before it is written; what could point to a person goes out only when asked for."""

from __future__ import annotations

import io
import json
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner
from starlette.testclient import TestClient

from tests.recordings.test_open_formats import a_gpx, an_igc, an_nmea
from wringout.cli.main import cli
from wringout.errors import BadInputError
from wringout.services.demonstration import take_in_demonstration
from wringout.services.flights.capture import receive_taps
from wringout.services.flights.recordings import take_in_recording
from wringout.services.opening import open_studies
from wringout.services.publishing.contained import contained, refuse_persons
from wringout.store import Store
from wringout.web.app import make_app
from wringout.web.settings import Settings

SLUG = "quillback-go-around"
LOG = "# pilot: Invented Person\n# registration: N123AB\ntime,speed\n0,120\n6,118\n12,116\n18,113\n"


def clock() -> datetime:
    return datetime(2027, 5, 1, 12, tzinfo=UTC)


@pytest.fixture(scope="module")
def database(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("contained") / "study.db"
    with open_studies(path, clock) as store:
        take_in_demonstration(store)
    return path


@pytest.fixture(scope="module")
def private(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("private") / "study.db"
    with open_studies(path, clock) as store:
        take_in_demonstration(store)
        take(store, "log.csv", LOG, "ask me at someone@example.org or +44 20 7946 0000")
        for name, text in (("a.gpx", a_gpx(5)), ("b.igc", an_igc(5)), ("c.nmea", an_nmea(5))):
            take(store, name, text)
        take(store, "panel.mp4", "not looked into")
        take(store, "said.vtt", "WEBVTT\n\n00:01.000 --> 00:02.000\none two zero\n")
        receive_taps(store, SLUG, "one", "persons-phone", [{"sequence": 1, "kind": "mark", "label": "x"}])
    return path


def take(store: Store, name: str, text: str, note: str = "") -> None:
    take_in_recording(store, SLUG, io.BytesIO(text.encode()), name, note, make_run=False)


def test_nothing_of_the_bundled_study_points_to_a_person_and_every_file_is_counted(database: Path) -> None:
    with open_studies(database, clock) as store:
        found = contained(store, None)
    assert found.personal == ()
    assert sum(part.files for part in found.parts) == len(found.contents.files) > 10
    assert sum(part.size_bytes for part in found.parts) == sum(file.size_bytes for file in found.contents.files)
    assert "other files" not in {part.words for part in found.parts}
    refuse_persons(found)


def test_what_can_point_to_a_person_is_named_where_it_stands(private: Path) -> None:
    with open_studies(private, clock) as store:
        found = contained(store, None)
    told = set(found.personal)
    assert {
        ("note on log.csv", "1 mail address"),
        ("note on log.csv", "1 telephone number"),
        ("log.csv", "a line that names the pilot"),
        ("log.csv", "a line that names the registration"),
        ("log.csv", "1 registration"),
        ("a.gpx", "positions along the flight"),
        ("b.igc", "positions along the flight"),
        ("c.nmea", "positions along the flight"),
        ("panel.mp4", "pictures from the cockpit"),
        ("said.vtt", "what was said in the cockpit"),
        ("taps", "the name of a device"),
    } <= told
    with pytest.raises(BadInputError, match=r"can point to a person.*more"):
        refuse_persons(found)


def test_the_command_lists_first_and_writes_persons_only_when_told(private: Path, tmp_path: Path) -> None:
    def run(*words: str) -> tuple[int, str]:
        done = CliRunner().invoke(cli, ["export", *words, "--database", str(private)])
        return done.exit_code, done.output

    target = tmp_path / "study.zip"
    code, said = run("--list", str(target))
    assert code == 0
    assert "panel.mp4: pictures from the cockpit" in said
    assert not target.exists()
    code, said = run(str(target))
    assert code == 3
    assert "--with-private" in said
    assert not target.exists()
    assert run()[0] == 3
    code, said = run(str(target), "--with-private")
    assert code == 0
    assert target.exists()
    assert said.index("recordings, as they were taken in") < said.index("is written to")
    listed = json.loads(run("--list", "--json")[1])
    assert listed["file"] is None
    assert {"where": "panel.mp4", "what": "pictures from the cockpit"} in listed["personal"]


def test_the_page_says_it_before_the_button(private: Path) -> None:
    with TestClient(make_app(Settings(private, clock)), base_url="http://127.0.0.1") as client:
        page = client.get(f"/studies/{SLUG}/brief").text
    assert page.index("panel.mp4: pictures from the cockpit") < page.index("Write the brief")
