"""The fleet's pages: pooled with the service's own numbers, exported stripped, merged with conflicts shown."""

from __future__ import annotations

import html
import json
import re
from collections.abc import Iterator
from datetime import UTC, datetime

import pytest
from starlette.testclient import TestClient

from wringout.services.fleet.findings import list_findings, put_findings
from wringout.services.fleet.pooling import pool_findings
from wringout.services.fleet_demonstration import put_demo_fleet
from wringout.services.opening import open_studies
from wringout.web.app import make_app
from wringout.web.settings import Settings


def clock() -> datetime:
    return datetime(2027, 5, 1, 12, tzinfo=UTC)


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    database = tmp_path_factory.mktemp("bench") / "studies.db"
    with open_studies(database, clock) as store:
        put_demo_fleet(store)
    with TestClient(make_app(Settings(database, clock)), base_url="http://127.0.0.1:8000") as opened:
        yield opened


OTHER = {
    "quantity": "area.gear.middle",
    "label": "drag area of gear, middle",
    "unit": "ft2",
    "value": 4.0,
    "standard_uncertainty": 0.3,
    "family": "Perdix (invented)",
    "model": "Quillback 230",
    "pilot": "invented pilot",
    "made_on": "2026-05-01",
    "invented": True,
    "source": {},
}
"""A finding of another family whose model has the same name."""


def token(client: TestClient) -> str:
    found = re.search(r'name="form-token" value="([0-9a-f]+)"', client.get("/fleet").text)
    assert found is not None
    return found.group(1)


def test_a_pooled_finding_shows_its_answer_figures_and_every_finding(client: TestClient) -> None:
    asked = {"model": "Quillback 230", "quantity": "area.gear.middle"}
    page = client.get("/fleet/pooled", params=asked).text
    found = pool_findings(client.app.state.site.store, *asked.values())  # type: ignore[attr-defined]
    assert found.answer in page
    assert page.count('role="img"') == 2
    assert "style=" not in page
    for finding in found.findings:
        assert finding.pilot in page


def test_the_family_that_was_chosen_goes_along(client: TestClient) -> None:
    store = client.app.state.site.store  # type: ignore[attr-defined]
    assert len({finding.family for finding in list_findings(store)}) == 1
    put_findings(store, [OTHER | {"airplane": name} for name in ("other 1", "other 2")])
    assert '<select name="family"' in client.get("/fleet").text
    page = client.get("/fleet", params={"family": "Perdix (invented)"}).text
    assert "Quillback 180" not in page
    link = re.search(r'href="(/fleet/pooled[^"]*family=Perdix[^"]*)"', page)
    assert link is not None
    pooled = client.get(html.unescape(link.group(1))).text
    assert "other 1" in pooled
    assert "invented airplane 230-1" not in pooled
    assert 'href="/fleet?family=Perdix%20%28invented%29"' in pooled


def test_an_export_says_what_it_takes_out_and_takes_it_out(client: TestClient) -> None:
    page = client.get("/fleet/export").text
    assert "pilot names" in page
    store = client.app.state.site.store  # type: ignore[attr-defined]
    pilots = {f.pilot for f in pool_findings(store, "Quillback 230", "area.gear.middle").findings}
    text = client.post("/fleet/export", data={"form-token": token(client)}).text
    assert not any(json.dumps(pilot) in text for pilot in pilots)


def test_a_members_other_version_waits_as_a_conflict(client: TestClient) -> None:
    file = json.loads(client.post("/fleet/export", data={"form-token": token(client)}).text)
    file["register"][0]["paraphrase"] = "Other words of a member."
    upload = {"file": ("member.json", json.dumps(file).encode(), "application/json")}
    page = client.post("/fleet/merge", data={"form-token": token(client)}, files=upload).text
    assert "1 in conflict" in page
    assert "Other words of a member." in page
    found = re.search(r"/fleet/conflicts/[a-z0-9-]+", page)
    assert found is not None
    page = client.post(found.group(0), data={"form-token": token(client), "take": "ours"}).text
    assert "Other words of a member." not in page
