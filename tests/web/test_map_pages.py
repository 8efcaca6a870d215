"""Maps and searches through the workbench's own guard: forms that keep what was typed, work begun once, results."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import date

import pytest
from starlette.testclient import TestClient

from tests.services.texts import AIRPLANE, MOMENT, RUNS
from tests.web.figures_shown import trade_left
from wringout.services.airplane.airplanes import put_airplane_file
from wringout.services.findings.reduce import reduce_study
from wringout.services.flights.recordings import take_in_recording
from wringout.services.matchups.maps import MapAsked, fly_technique_map
from wringout.services.matchups.searches import SearchAsked
from wringout.services.opening import open_studies
from wringout.services.register.printed_beside import search_beside_printed
from wringout.services.study.studies import make_study
from wringout.techniques.judging.maps import Condition
from wringout.web import units
from wringout.web.app import make_app
from wringout.web.settings import Settings

SLUG = "gear-or-flaps"
AT = f"/studies/{SLUG}/techniques"
ASKED = MapAsked({Condition.WEIGHT: "2,600 to 3,000 lb in 3", Condition.DELAY: "1 to 4 s in 2"}, draws=100)


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    database = tmp_path_factory.mktemp("maps") / "study.db"
    with open_studies(database, lambda: MOMENT) as store:
        make_study(store, "Gear or flaps", "Which costs more?", {"smallest": "25 ft"}, invented=True)
        put_airplane_file(store, None, AIRPLANE.encode(), "airplane.toml")
        for name, text in RUNS.items():
            take_in_recording(store, None, io.BytesIO(text.encode()), name)
        reduce_study(store, None, draws=400)
    with TestClient(make_app(Settings(database, lambda: MOMENT)), base_url="http://127.0.0.1:8000") as opened:
        yield opened


def send(client: TestClient, path: str, **fields: str | list[str]) -> tuple[int, str, str]:
    found = re.search(r'name="form-token" value="([0-9a-f]+)"', client.get(f"{AT}/map").text)
    assert found is not None
    answer = client.post(
        f"{AT}/{path}".rstrip("/"), data={"form-token": found.group(1), **fields}, follow_redirects=False
    )
    return answer.status_code, answer.headers.get("location", ""), answer.text


def in_metric(client: TestClient, path: str) -> str:
    client.cookies.set(units.COOKIE, units.METRIC)
    page = client.get(path).text
    client.cookies.delete(units.COOKIE)
    return page


def test_a_form_that_is_refused_keeps_what_was_typed(client: TestClient) -> None:
    status, _, text = send(
        client, "map", weight="2,600 to 3,000 lb in 3", delay="1 to 4 lb", law="hold speed", draws="100"
    )
    assert status == 422
    assert "&#39;lb&#39; is not a unit of time" in text
    assert 'value="1 to 4 lb"' in text
    assert "<option selected>hold speed</option>" in text
    status, _, text = send(client, "search", weight="2,600 to 3,000 lb")
    assert status == 422
    assert "a range is written where one value is wanted" in text


def test_a_map_is_begun_once_and_its_address_carries_the_form(client: TestClient) -> None:
    fields = {"weight": "2,600 to 3,000 lb in 40", "delay": "1 to 4 s in 40", "draws": "100", "law": "hold speed"}
    status, location, _ = send(client, "map", **fields, order=["gear-up,flaps-up", "flaps-up,gear-up"])
    assert status == 303
    page = client.get(location).text
    assert 'value="2,600 to 3,000 lb in 40"' in page
    assert page.count("checked") == 2
    assert 'data-job="map"' in page  # a page loaded anew finds the work
    status, _, text = send(client, "map", **{**fields, "delay": "2 to 5 s in 40"})
    assert status == 422
    assert "a map is under way already" in text
    assert 'value="2 to 5 s in 40"' in text
    number = re.search(r'action="/jobs/(\d+)/stop"', page)
    assert number is not None
    token = re.search(r'name="form-token" value="([0-9a-f]+)"', page)
    client.post(f"/jobs/{number.group(1)}/stop", data={"form-token": token.group(1) if token else ""})
    assert "was stopped" in client.get(f"{AT}/map").text


def test_a_map_shows_margins_first_then_figure_table_and_the_run_to_fly_next(client: TestClient) -> None:
    store = client.app.state.site.store  # type: ignore[attr-defined]
    fly_technique_map(store, SLUG, ASKED)
    kept = fly_technique_map(store, SLUG, replace(ASKED, orders=("gear-up,flaps-up", "flaps-up,gear-up")))
    page = client.get(f"{AT}/map?map={kept.key}").text
    assert page.index("Margins first") < page.index("Where which is favoured") < page.index("What would settle it")
    named = 'role="img" aria-label="Map over weight from 2,600 to 3,000 lb'
    drawn = re.search(rf'<figure class="map"[^>]*><svg {named}', page)
    assert drawn is not None
    assert "style=" not in page[drawn.start() : page.index("</figure>")]  # the policy allows none
    cells = page[page.index('<table class="cells">') :]
    assert cells[: cells.index("</table>")].count("<tr>") == 1 + len(kept.body["cells"])
    assert "if this were known" in page
    assert page.count("Take off the shelf") == 2
    metric = in_metric(client, f"{AT}/map?map={kept.key}")
    assert trade_left(metric) == []
    assert 'aria-label="Map over weight from 1,179 to 1,361 kg' in metric  # 2,600 and 3,000 lb
    at = [f"{pound * 0.45359237:,.0f}" for pound in (2600, 2800, 3000)]
    shown = re.findall(r'<tr><td class="n">([\d,]+)</td><td class="n">', metric)
    assert sorted(set(shown)) == at
    status, _, _ = send(client, f"map/{kept.key}/forget")
    assert status == 303
    assert client.get(f"{AT}/map?map={kept.key}").status_code == 404


def test_what_was_searched_is_shown_with_its_reason(client: TestClient) -> None:
    store = client.app.state.site.store  # type: ignore[attr-defined]
    kept = search_beside_printed(store, SLUG, SearchAsked(draws=100, stops=1), date(2026, 1, 1))
    page = client.get(f"{AT}/search").text
    assert kept.body["answer"][0] in page.replace("&#39;", "'")
    assert "What the hands do" in page
    assert 'aria-label="Energy height gained over 60 s: ahead in all' in page
    assert 'aria-label="Rates of energy height, thrust less drag by part; drag area over time' in page
    assert page.count('<th scope="row">') == len(kept.body["orders"])
    metric = in_metric(client, f"{AT}/search")
    assert trade_left(metric) == []
    assert "behind by, m<" in metric


def test_a_plan_is_typed_on_the_page_of_the_verdict_and_kept_there_when_it_is_refused(client: TestClient) -> None:
    page = client.get(f"{AT}?procedure=slow-down").text
    assert "target_speed = &#34;80 kt&#34;" in page
    assert client.get(f"{AT}?procedure=loop").status_code == 422
    plan = 'format = "wringout plan, version 1"\n[situation]\nheight = "100"\n'
    status, _, text = send(client, "", plan=plan)
    assert status == 422
    assert "situation.height" in text
    assert "height = &#34;100&#34;" in text
