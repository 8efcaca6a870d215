"""The switch of units: every page in metric, nothing half, nothing that was typed changed, and the numbers right.

Factors are exact by definition: the knot 1852 m an hour, the foot 0.3048 m, the pound 0.45359237 kg (NIST SP 811,
appendix B; ICAO Annex 5, table 3-3).
"""

from __future__ import annotations

import html
import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from starlette.routing import Route
from starlette.testclient import TestClient

from tests.fleet.flights import GO_AROUND
from tests.web.beside import at_once, beside, token
from tests.web.crowd import CROWDED
from tests.web.figures_shown import FIGURE, PAIR, Seen, trade_left
from tests.web.test_every_page import AT, BRIEF, PAGES, PARTS_AND_FILES
from wringout.numerals import metric
from wringout.services.fleet.pooling import pool_findings, pooled_document
from wringout.services.flights.run_pages import run_view
from wringout.services.matchups.compare import verdict
from wringout.services.study.newest import newest_reduction
from wringout.web import units
from wringout.web.jobs import Jobs
from wringout.web.pages import load, page_names, routes_of

NOT_WALKED = {
    BRIEF: "a file as it was written, in the units it was written in",
    "verify, a bundle": "numbers of a bundle's own files, compared digit by digit",
    "back-ups, one to take back": "counts and bytes only",
}


@pytest.fixture(scope="module")
def client(prepared: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    folder = tmp_path_factory.mktemp("units") / "study"
    shutil.copytree(prepared, folder)
    with pytest.MonkeyPatch.context() as patch, beside(folder / "study.db") as opened:
        patch.setattr(Jobs, "start", at_once)
        yield opened


@pytest.fixture(scope="module")
def known(client: TestClient, tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """Return what stands for the names in braces of the addresses."""
    page = client.get(f"{AT}/flights").text
    found = dict(reversed(one) for one in re.findall(r'/recordings/(\w{64})"><bdi>([^<]*)', page))

    def recording(of: str) -> str:
        return next(sha for name, sha in found.items() if of in name)

    logs = tmp_path_factory.mktemp("logs")
    (logs / "go.csv").write_text(GO_AROUND)
    form = {"form-token": token(client), "folder": str(logs)}
    archive = str(client.post("/archives", data=form, follow_redirects=False).headers["location"])
    entry = re.search(r'href="(/register/entries/[^"]+)"', client.get("/register").text)
    opened = re.search(rf'href="({archive}/files/[^"]+)"', client.get(archive).text)
    assert entry is not None
    assert opened is not None
    names = {"logger": "-F3", "bad": "-bad", "called": "-F1", "again": "-again", "said": "-said", "dial": "-dial"}
    return {name: recording(of) for name, of in names.items()} | {
        "entry": entry[1],
        "archive": archive.rpartition("/")[2],
        "found": opened[1],
    }


_PAGES: dict[tuple[str, str], str] = {}


def page_of(client: TestClient, path: str, chosen: str) -> str:
    """Return a page, asked for once."""
    if (path, chosen) not in _PAGES:
        client.cookies.set(units.COOKIE, chosen)
        _PAGES[path, chosen] = client.get(path).text
        client.cookies.delete(units.COOKIE)
    return _PAGES[path, chosen]


def walked() -> dict[str, str]:
    return {name: path for name, path in PAGES.items() if name not in NOT_WALKED}


def test_every_route_of_a_page_is_walked(known: dict[str, str]) -> None:
    given = known | dict.fromkeys(("bundle", "backup"), "x")
    asked = [path.format(**given).partition("?")[0] for path in PAGES.values()]
    routes = [r for r in routes_of(load(page_names())) if isinstance(r, Route) and "GET" in (r.methods or ())]
    assert {r.path for r in routes if not any(r.path_regex.match(path) for path in asked)} == PARTS_AND_FILES
    assert set(NOT_WALKED) < set(PAGES)


@pytest.mark.parametrize("name", walked())
def test_a_page_is_metric_as_a_whole_and_leaves_fields_alone(
    client: TestClient, known: dict[str, str], name: str
) -> None:
    path = PAGES[name].format(**known)
    metric, trade = (page_of(client, path, chosen) for chosen in (units.METRIC, units.AVIATION))
    assert trade_left(metric) == []
    assert Seen(metric).fields == Seen(trade).fields
    assert [words for words in Seen(trade).words if PAIR.search(words)] == []


def test_many_pages_have_a_figure_to_turn(client: TestClient, known: dict[str, str]) -> None:
    """The walk means something: in units of the trade these same pages do show figures."""
    pages = [Seen(page_of(client, path.format(**known), units.AVIATION)) for path in walked().values()]
    assert sum(any(map(FIGURE.search, page.words)) for page in pages) > 20


def test_numbers_of_findings_are_those_of_the_document(client: TestClient) -> None:
    store = client.app.state.site.store  # type: ignore[attr-defined]
    result, _ = newest_reduction(store, CROWDED)
    assert result is not None
    body: Any = result.body
    page = html.unescape(page_of(client, f"{AT}/findings", units.METRIC))
    table = re.search(r"<table class=\"fold\">(.*?)</table>", page, re.DOTALL)
    assert table is not None
    area = next(one for one in body["findings"] if one["key"] == "area.flaps.full.middle")
    assert f"{area['value'] * 0.3048**2:.3f} m²" in table[1]
    lost = next(one for one in body["knots_lost"] if one["label"] == "flaps full")
    assert f"{lost['value'] * 1.852:.1f} km/h" in table[1]
    at = next(one for one in body["findings"] if one["key"] == "drag_ratio" or "over drag of gear" in one["label"])
    where = (
        f"at {at['at_speed']['value'] * 1.852:.0f} km/h calibrated and {at['at_weight']['value'] * 0.45359237:,.0f} kg"
    )
    assert where in page
    assert where in html.unescape(page_of(client, "/", units.METRIC))


PLAIN = {
    "row", "time_s", "strength", "sigma", "shift", "contraction", "standard_deviations", "share_of_variance_removed",
    "share_first_ahead", "share_second_ahead", "share_alike", "never_share", "airplanes", "findings", "i2",
}  # fmt: skip
"""Fields beside a unit that are counts, shares, or in standard deviations."""


def beside_units(document: Any) -> Iterator[tuple[str, float, str]]:
    """Yield every number that stands beside a unit of the trade: its field, itself and the unit."""
    if isinstance(document, list):
        for one in document:
            yield from beside_units(one)
    if isinstance(document, dict):
        unit = document.get("unit")
        for key, value in document.items():
            yield from beside_units(value)
            if isinstance(unit, str) and metric(unit) != unit and isinstance(value, float) and key not in PLAIN:
                yield key, value, unit


def test_no_number_is_left_behind_by_its_unit(client: TestClient) -> None:
    store = client.app.state.site.store  # type: ignore[attr-defined]
    reduced, _ = newest_reduction(store, CROWDED)
    assert reduced is not None
    pooled = pooled_document(pool_findings(store, "Quillback 230", "area.gear.middle"))
    runs = [run_view(store, CROWDED, key) for key in ("F2", "T1")]
    found = {
        one for body in (reduced.body, verdict(store, CROWDED)[1].body, pooled, runs) for one in beside_units(body)
    }
    assert len(found) > 500
    with units.shown_in(units.METRIC):
        left = {key for key, value, unit in found if value and units.told_in({"unit": unit, key: value})[key] == value}
    assert left == set()


def test_scripts_are_handed_the_same_flight_in_other_units(client: TestClient, known: dict[str, str]) -> None:
    asked = {"hand": [{"device": "gear", "to": "up", "wait_s": 0, "gate": ""}], "against": [], "others": []}
    flown = []
    for chosen in (units.AVIATION, units.METRIC):
        client.cookies.set(units.COOKIE, chosen)
        answer = client.post(f"{AT}/techniques/try/fly", json=asked | {"law": "hold speed", "conditions": {}}).json()
        bare = client.get(f"{AT}/recordings/{known['logger']}/strip.bin").content
        flown.append((answer, bare))
        client.cookies.delete(units.COOKIE)
    (trade, strip), (metric, metric_strip) = flown
    assert trade["units"]["height"] == "ft"
    assert metric["units"] == {
        "height": "m", "distance": "m", "energy_height": "m", "speed": "km/h", "climb": "m/s", "gear_area": "m²",
        "flap_area": "m²",
    }  # fmt: skip
    one, other = trade["trials"][0], metric["trials"][0]
    np.testing.assert_allclose(other["height"], np.array(one["height"]) * 0.3048, rtol=1e-12)
    np.testing.assert_allclose(other["speed"], np.array(one["speed"]) * 1.852, rtol=1e-12)
    np.testing.assert_allclose(other["climb"], np.array(one["climb"]) * 0.3048 / 60.0, rtol=1e-12)
    assert other["stall_ratio"] == one["stall_ratio"]
    rows = 241
    speeds, metric_speeds = (np.frombuffer(raw, "<f4", rows, 8 * rows) for raw in (strip, metric_strip))
    np.testing.assert_allclose(metric_speeds, speeds * 1.852, rtol=1e-6)


def test_no_limit_comes_out_wider(client: TestClient) -> None:
    page = page_of(client, f"{AT}/airplane", units.METRIC)
    assert "VFE full 203" in page  # 110 kt are 203.7 km/h
    assert "never flown faster than 346 km/h" in page  # 187 kt are 346.3 km/h
    plan = page_of(client, f"{AT}/plan", units.METRIC)
    assert "against VFE (full) 203 km/h" in plan
    assert "VFE (full) 204" not in plan


def test_what_somebody_typed_keeps_its_units() -> None:
    page = (
        "<p>at 100 kt <bdi>Is 25 ft <b>enough</b>?</bdi> and 10 ft; "
        '<textarea placeholder="7,000 ft">8 ft</textarea></p>'
    )
    with units.shown_in(units.METRIC):
        assert units.page_in(page) == (
            "<p>at 185 km/h <bdi>Is 25 ft <b>enough</b>?</bdi> and 3.0 m; "
            '<textarea placeholder="2,134 m">8 ft</textarea></p>'
        )
        assert units.words_in("'54 kt kt' is no speed; write for example 54 kt") == (
            "'54 kt kt' is no speed; write for example 100 km/h"
        )
        assert units.page_in("<p data-limits>not above 110 kt</p><p>at 110 kt</p>") == (
            "<p data-limits>not above 203 km/h</p><p>at 204 km/h</p>"
        )
    assert units.page_in(page) == page


def test_units_are_kept_in_the_browser_and_only_from_its_own_page(client: TestClient) -> None:
    form = {"form-token": token(client), "units": "metric", "back": f"{AT}/methods?method=glide"}
    answer = client.post("/units", data=form, follow_redirects=False)
    assert answer.headers["location"] == f"{AT}/methods?method=glide"
    assert "wringout-units=metric" in answer.headers["set-cookie"]
    assert "SameSite=strict" in answer.headers["set-cookie"]
    assert 'value="metric" aria-pressed="true"' in client.get("/").text
    client.cookies.delete(units.COOKIE)
    assert 'value="aviation" aria-pressed="true"' in client.get("/").text
    assert "set-cookie" not in client.post("/units", data=form | {"units": "furlongs"}, follow_redirects=False).headers
    refused = client.post("/units", data={"units": "metric"}, follow_redirects=False)
    assert refused.status_code == 422
    assert "set-cookie" not in refused.headers
    elsewhere = client.post("/units", data=form | {"back": "//evil.example/"}, follow_redirects=False)
    assert elsewhere.headers["location"] == "/"
