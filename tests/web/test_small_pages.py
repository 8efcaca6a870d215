"""Pages beside the chapters: history, versions, handbook, methods, bundle, calibration; how a reduction is asked."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterator
from typing import Any

import pytest
from starlette.testclient import TestClient

from tests.web.beside import beside, clock, token
from wringout.services.airplane.airplanes import show_airplane
from wringout.services.demonstration import take_in_demonstration
from wringout.services.flights.recordings import take_in_recording
from wringout.services.opening import Store, open_studies
from wringout.services.publishing.contained import contained
from wringout.services.register.printed_orders import known_airplanes
from wringout.services.study.studies import history, summaries
from wringout.web.jobs import Jobs

SLUG = "quillback-go-around"
AT = f"/studies/{SLUG}"


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    database = tmp_path_factory.mktemp("small") / "studies.db"
    with open_studies(database, clock) as store:
        take_in_demonstration(store)
    with beside(database) as opened:
        yield opened


def store_of(client: TestClient) -> Store:
    found: Store = client.app.state.site.store  # type: ignore[attr-defined]
    return found


def test_every_edit_stands_in_the_history_and_is_undone_from_there(client: TestClient) -> None:
    page = client.get(f"{AT}/history").text
    edits = history(store_of(client), SLUG)
    assert len(re.findall(r'<th scope="row"[^>]*>\d+</th>', page)) == len(edits)
    number = next(n for n, edit in enumerate(edits, 1) if edit.what == "run added")
    form = {"form-token": token(client), "edit": str(number), "chapter": "history"}
    answer = client.post(f"{AT}/undo", data=form)
    assert answer.url.path == f"{AT}/history"
    assert "(undone)" in answer.text
    assert "(undone)" not in client.post(f"{AT}/redo", data=form).text


def test_an_earlier_airplane_and_one_from_a_handbook_are_shown_and_put_in(client: TestClient) -> None:
    first = show_airplane(store_of(client), SLUG).version
    answer = client.post(f"{AT}/airplane/handbook", data={"form-token": token(client), "text": "[wings"})
    assert answer.status_code == 422
    assert "[wings" in answer.text
    starter = client.get(f"{AT}/airplane/handbook").text
    text = starter[starter.index('data-draft="handbook-text"') :].partition(">")[2].partition("</textarea>")[0]
    plain = text.replace("&#34;", '"').replace("&#39;", "'").lstrip("\n")
    page = client.post(f"{AT}/airplane/handbook", data={"form-token": token(client), "text": plain}).text
    made = page[page.index('aria-label="Airplane file"') :].partition(">")[2].partition("</textarea>")[0]
    form = {"form-token": token(client), "version": str(first.version)}
    toml = made.replace("&#34;", '"').replace("&#39;", "'").lstrip("\n")
    assert client.post(f"{AT}/airplane/file", data=form | {"text": toml}).status_code == 200
    assert show_airplane(store_of(client), SLUG).version.version == first.version + 1
    assert client.get(f"{AT}/airplane/versions/{first.version}.toml").text == first.toml
    assert "Version 1 of 2 was put in" in client.get(f"{AT}/airplane/versions?version=1").text
    assert client.get(f"{AT}/airplane/versions?version=9").status_code == 404


def test_a_single_card_is_made_or_refused_beyond_a_limit(client: TestClient) -> None:
    asked = {"method": "level deceleration", "words": "device: gear\nentry speed: 100 kt\naltitude: 7000 ft"}
    assert "Level deceleration, gear down" in client.get(f"{AT}/methods", params=asked).text
    for words in (asked["words"].replace("100", "180"), "device gear"):  # VLE of the airplane file is far below 180 kt
        told = client.get(f"{AT}/methods", params=asked | {"words": words})
        assert told.status_code == 422
        assert words in told.text


def test_a_bundle_with_a_name_in_it_is_handed_out_only_once_that_is_ticked(client: TestClient) -> None:
    store, form = store_of(client), {"form-token": token(client)}
    named = b"# pilot: Ada Invented\n# method: level deceleration\ntime,ias (kt)\n0,100\n1,99\n"
    take_in_recording(store, SLUG, io.BytesIO(named), "named.csv", make_run=False)
    told = client.post(f"{AT}/bundle", data=form)
    assert told.status_code == 422
    assert "named.csv" in told.text
    data = client.post(f"{AT}/bundle", data=form | {"private": "yes"}).content
    with zipfile.ZipFile(io.BytesIO(data)) as bundle:
        assert set(bundle.namelist()) >= {one.path for one in contained(store, SLUG).contents.files}


def test_draws_seed_and_a_second_opinion_are_asked_or_refused(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun: list[dict[str, Any]] = []
    monkeypatch.setattr(Jobs, "start", lambda *_, **arguments: begun.append(arguments))
    form = {"form-token": token(client), "draws": "8000", "seed": "7", "second": "yes"}
    client.post(f"{AT}/reduce", data=form)
    assert begun == [{"slug": SLUG, "draws": 8000, "seed": 7, "second_opinion": True}]
    for wrong in ({"draws": "10"}, {"seed": "one"}):
        told = client.post(f"{AT}/reduce", data=form | wrong)
        assert told.status_code == 422
        assert f'value="{next(iter(wrong.values()))}"' in told.text
    assert len(begun) == 1


def test_what_was_not_flown_is_said_and_not_shown(client: TestClient) -> None:
    assert ">No airspeed calibration is in use yet; take in" in client.get(f"{AT}/calibration").text
    assert "Nothing was reduced yet" in client.get(f"{AT}/diagnostics").text


def test_a_model_of_the_register_gets_its_airplane(client: TestClient) -> None:
    toml = show_airplane(store_of(client), SLUG).version.toml.encode()
    form = {"form-token": token(client), "family": "Quillback", "model": "Quillback 230", "study": SLUG}
    bad = client.post("/register/airplanes", data=form, files={"file": ("a.toml", b"[", "text/plain")})
    assert bad.status_code == 422
    assert 'value="Quillback 230"' in bad.text
    client.post("/register/airplanes", data=form, files={"file": ("a.toml", toml, "text/plain")})
    assert {one.model: one.study for one in known_airplanes(store_of(client))}["Quillback 230"] == SLUG


def test_a_made_up_study_is_begun_under_a_name_of_its_own(client: TestClient) -> None:
    form = {"form-token": token(client), "question": "Which?", "invented": "yes", "name": "Not A Name"}
    told = client.post("/studies", data=form)
    assert told.status_code == 422
    assert 'value="Not A Name"' in told.text
    client.post("/studies", data=form | {"name": "made-up"})
    made = next(one.study for one in summaries(store_of(client)) if one.study.slug == "made-up")
    assert made.invented
