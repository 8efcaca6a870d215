"""The plan of a matchup as sentences: every field of every procedure there and back, refused by name, kept as typed."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from tests.web.beside import beside, clock, token
from wringout.services.demonstration import take_in_demonstration
from wringout.services.matchups.plan_sheet import plan_fields, plan_typed, sentences
from wringout.services.matchups.plan_situations import PROCEDURES, fields_of
from wringout.services.matchups.plans import parse_plan, usual_plan
from wringout.services.opening import open_studies
from wringout.web.jobs import Jobs

SLUG = "quillback-go-around"
HERE = f"/studies/{SLUG}/techniques"
FULL = """format = "wringout plan, version 1"
[situation]
procedure = "go-around"
start_flaps = "half"
entry_speed = "75 kt"
pitch_up = "8 deg"
[domain]
weight = ["2700 lb", "3200 lb"]
isa_deviation = [-10, 20.5]
entry_speed = ["70 kt", "80 kt"]
[pilot]
load_factor = [0.8, 1.2]
hand = "1 s"
[devices]
gear = "stops at 40 %"
[ground]
runway = false
friction = 0.05
[[orders]]
title = "Half, then wait"
steps = ["flaps to half", "gear up after 2 s"]
[[orders]]
steps = ["gear up"]
"""


@pytest.mark.parametrize("procedure", PROCEDURES)
def test_a_plan_comes_back_from_its_sentences(procedure: str) -> None:
    usual = usual_plan(procedure)
    assert plan_typed(procedure, plan_fields(usual)) == usual
    named = [clause.field for sentence in sentences(procedure) for clause in sentence]
    assert sorted(named) == sorted(f"situation.{name}" for name in fields_of(usual.situation.procedure))
    assert plan_typed(procedure, {}) == usual


def test_what_is_stated_beyond_the_usual_comes_back_too() -> None:
    full = parse_plan(FULL, "plan")
    assert plan_typed("go-around", plan_fields(full)) == full


@pytest.fixture(scope="module")
def database(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("plans") / "studies.db"
    with open_studies(path, clock) as store:
        take_in_demonstration(store)
    return path


@pytest.fixture
def client(database: Path) -> Iterator[TestClient]:
    with beside(database) as opened:
        yield opened


def sent(page: str) -> dict[str, str]:
    """Return what a browser would send of the sentences as they stand."""
    form = page[page.index('class="says plan-says"') : page.index("Fly every order with this plan")]
    fields = {
        html.unescape(n): html.unescape(v) for n, v in re.findall(r'<input[^>]* ?name="([^"]+)" value="([^"]*)"', form)
    }
    for name, choices in re.findall(r'<select name="([^"]+)">(.*?)</select>', form, re.DOTALL):
        chosen = re.search(r'<option value="([^"]*)" selected', choices) or re.search(
            r'<option value="([^"]*)"', choices
        )
        fields[name] = chosen.group(1) if chosen else ""
    return fields


def test_the_form_as_it_stands_begins_what_it_shows(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    begun: list[dict[str, str]] = []
    monkeypatch.setattr(Jobs, "start", lambda *_, **arguments: begun.append(arguments))
    page = client.get(HERE, params={"procedure": "loss of power on approach"}).text
    fields = sent(page) | {"f:situation.recognition": "3 s", "draws": "500", "form-token": token(client)}
    assert client.post(HERE, data=fields, follow_redirects=False).status_code == 303
    plan = parse_plan(begun[0]["plan"], "plan")
    assert plan.situation.procedure == "loss of power on approach"
    assert plan.situation.recognition == "3 s"
    assert plan.model_copy(update={"situation": usual_plan("loss of power on approach").situation}) == usual_plan(
        "loss of power on approach"
    )
    assert (begun[0]["draws"], begun[0]["seed"]) == (500, 1)


def test_what_is_refused_is_named_and_stands_as_it_was_typed(client: TestClient) -> None:
    page = client.get(HERE, params={"procedure": "go-around"}).text
    fields = sent(page) | {"form-token": token(client)}
    for name, wrong in {
        "f:situation.descent": "3 furlongs",
        "f:situation.start_flaps": "twelve <b>",
        "f:domain.weight.low": "2700 lb",
        "f:devices.gear": "flutters",
        "f:orders": "gear sideways",
        "draws": "many",
    }.items():
        told = client.post(HERE, data=fields | {name: wrong})
        assert told.status_code == 422, (name, told.text[:200])
        again = told.text
        assert html.escape(wrong) in again
        assert "“" in again or wrong in html.unescape(again)
        assert ('aria-invalid="true"' in again) == name.startswith("f:"), name
        assert re.search(r'class="refusal" role="alert"', again)
