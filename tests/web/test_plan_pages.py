"""The chapter of plan and cards through the workbench's own guard."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from datetime import UTC, datetime

import pytest
from starlette.testclient import TestClient

from wringout.services.demonstration import take_in_demonstration
from wringout.services.opening import open_studies
from wringout.services.planning.edits import part_fields
from wringout.services.planning.plans import keep_plan, kept_plan, read_test_plan
from wringout.web.app import make_app
from wringout.web.settings import Settings

AT = "/studies/quillback-go-around/plan"
SLUG = "quillback-go-around"
PLAN = b"""
format = "wringout test plan, version 1"
[flight]
fuel = "50 gal"
fuel_flow = "11 gal/h"
fuel_reserve = "12 gal"
ground_elevation = "1500 ft"
[[points]]
key = "F1"
method = "level deceleration"
words = { device = "flaps", to = "full", "entry speed" = "100 kt", altitude = "7000 ft" }
"""


def clock() -> datetime:
    return datetime(2027, 5, 1, 12, tzinfo=UTC)


@pytest.fixture
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    database = tmp_path_factory.mktemp("plan") / "studies.db"
    with open_studies(database, clock) as store:
        take_in_demonstration(store)
    with TestClient(make_app(Settings(database, clock)), base_url="http://127.0.0.1:8000") as opened:
        yield opened


def with_plan(client: TestClient) -> str:
    keep_plan(client.app.state.site.store, SLUG, read_test_plan(PLAN, "plan"))  # type: ignore[attr-defined]
    return client.get(AT).text


def token(page: str) -> str:
    found = re.search(r'name="form-token" value="([0-9a-f]+)"', page)
    assert found is not None
    return found.group(1)


def fields(client: TestClient) -> dict[str, str]:
    return part_fields(kept_plan(client.app.state.site.store, SLUG).document, "point", "F1")  # type: ignore[attr-defined]


def send(client: TestClient, form: str, was: dict[str, str], **typed: str) -> tuple[int, str]:
    body = {f"f:{name.replace('__', ':').replace('_', ' ')}": text for name, text in typed.items()}
    data = {"form-token": form, "part-key": "F1", "was": json.dumps(was), **body}
    answer = client.post(f"{AT}/flight-1/save/point", data=data, headers={"HX-Request": "true"})
    return answer.status_code, answer.text


def test_a_flight_without_a_plan_offers_to_propose_one(client: TestClient) -> None:
    assert "Nothing is planned yet" in client.get(f"{AT}?flight=flight-2").text


def test_a_speed_beyond_a_limit_is_saved_and_gets_no_card(client: TestClient) -> None:
    form, was = token(with_plan(client)), fields(client)
    status, text = send(client, form, was, w__entry_speed="125 kt")  # VFE (full) of the airplane file is 110 kt
    assert status == 200
    assert "above the limit" in text
    assert "without a card" in text
    assert client.get(f"{AT}/flight-1/cards.pdf").status_code != 200
    assert send(client, form, fields(client), w__entry_speed="95 kt")[0] == 200
    assert client.get(f"{AT}/flight-1/cards.pdf").content.startswith(b"%PDF")


def test_two_windows_keep_both_their_edits_and_clash_only_on_one_field(client: TestClient) -> None:
    form, was = token(with_plan(client)), fields(client)
    assert send(client, form, was, remark="smooth air")[0] == 200
    assert send(client, form, was, w__entry_speed="95 kt", remark=was["remark"])[0] == 200
    assert (fields(client)["remark"], fields(client)["w:entry speed"]) == ("smooth air", "95 kt")
    status, text = send(client, form, was, w__entry_speed="90 kt")
    assert status == 409
    assert "95 kt" in text
    assert fields(client)["w:entry speed"] == "95 kt"


def test_what_cannot_be_read_is_refused_and_shown_again(client: TestClient) -> None:
    page = with_plan(client)
    data = {"form-token": token(page), "part-key": "F1", "was": json.dumps(fields(client)), "f:minutes": "soon"}
    answer = client.post(f"{AT}/flight-1/save/point", data=data)
    assert answer.status_code == 422
    assert 'value="soon"' in answer.text


def test_the_question_is_chosen_in_its_sentence(client: TestClient) -> None:
    page = with_plan(client)
    form = page[page.index('id="form-question"') :]
    keys = re.findall(r'<option value="([^"]+)"', form[: form.index("</select>")])
    assert len(keys) > 2
    was = {"first": "", "second": "", "law": "hold speed", "knowing": "what was flown"}
    data = {"form-token": token(page), "part-key": "", "was": json.dumps(was)}
    typed = {"f:first": keys[0], "f:second": keys[0], "f:law": "hold attitude", "f:knowing": "beliefs only"}
    told = client.post(f"{AT}/flight-1/save/question", data=data | typed)
    assert told.status_code == 422
    assert "both orders are the same" in told.text
    assert re.search(rf'id="question-second"[^§]*?<option value="{re.escape(keys[0])}" selected', told.text)
    told = client.post(f"{AT}/flight-1/save/question", data=data | typed | {"f:second": keys[1]})
    assert told.status_code == 200
    store = client.app.state.site.store  # type: ignore[attr-defined]
    question = kept_plan(store, SLUG, "flight-1").document.question
    assert (question.first, question.second) == (keys[0], keys[1])
    assert (question.law, question.knowing) == ("hold attitude", "beliefs only")
    told = client.post(f"{AT}/flight-1/save/question", data=data | typed | {"f:second": "", "f:law": "as you like"})
    assert told.status_code in {409, 422}
