"""Plans of procedures other than the go-around: their own fields and techniques, flown and judged by the rule."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.services.texts import AIRPLANE
from wringout.airplane.document import parse_airplane
from wringout.airplane.from_document import airplane_from_document
from wringout.errors import BadInputError
from wringout.services.findings.reduce import Reduced
from wringout.services.matchups.compare import fly, prepare
from wringout.services.matchups.documents import matchup_document
from wringout.services.matchups.maps import MapAsked, fly_technique_map, forget_map
from wringout.services.matchups.plan_situations import PROCEDURES
from wringout.services.matchups.plans import (
    PlanDocument,
    checked_plan,
    parse_plan,
    plan_of,
    plan_text,
    techniques_of,
    usual_plan,
)
from wringout.services.opening import the_study
from wringout.store import Store
from wringout.techniques.judging.maps import Condition
from wringout.techniques.stated.procedure import Procedure
from wringout.techniques.stated.types import Device, Gate, GoAround, Law
from wringout.units import FOOT, KNOT

HEAD = 'format = "wringout plan, version 1"\n'
BELIEFS = airplane_from_document(parse_airplane(AIRPLANE, "airplane.toml"), "airplane.toml")


@pytest.mark.parametrize("name", PROCEDURES)
def test_the_usual_plan_of_each_procedure_is_read_back_and_can_be_flown(name: str) -> None:
    document = usual_plan(name)
    assert parse_plan(plan_text(document), "plan.toml") == document
    assert checked_plan(document.model_dump(mode="json"), "kept") == document
    plan = plan_of(document, BELIEFS)
    assert isinstance(plan.situation, GoAround if name == "go-around" else Procedure)
    assert plan.laws == (tuple(Law) if plan.situation.by_law else (Law.HOLD_SPEED,))
    assert all(technique.complete for technique in techniques_of(plan, BELIEFS)) == (not plan.situation.by_law)


def test_a_plan_without_a_procedure_is_the_go_around_it_was() -> None:
    assert plan_of(PlanDocument(), BELIEFS).situation == plan_of(usual_plan("go-around"), BELIEFS).situation
    assert "glide_speed" not in plan_text(PlanDocument())


def test_what_is_written_reaches_what_is_flown() -> None:
    text = """
    [situation]
    procedure = "loss of power on approach"
    height = "700 ft"
    recognition = "4 s"
    glide_speed = 1.4
    """
    flown = plan_of(parse_plan(HEAD + text, "plan.toml"), BELIEFS).situation
    assert isinstance(flown, Procedure)
    assert flown.start_height_m == pytest.approx(700.0 * FOOT)
    assert flown.hands_free_s == 4.0
    assert flown.stages[-1].value == 1.4
    laws = plan_of(usual_plan("go-around from the flare"), BELIEFS).by_law
    assert len({procedure.stages for procedure in laws.values() if isinstance(procedure, Procedure)}) == 3


def test_a_clean_start_is_put_out_below_its_limits() -> None:
    found = techniques_of(plan_of(usual_plan("slow-down"), BELIEFS), BELIEFS)
    assert len({t.key for t in found}) == len(found)
    assert {a.device for t in found for a in t.actions} == {Device.GEAR, Device.FLAPS}
    assert all(a.gate is Gate.SPEED_BELOW for t in found for a in t.actions)
    limit = min(a.gate_value for t in found for a in t.actions) / KNOT
    assert 60.0 < limit < 150.0


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('procedure = "loop"', "procedure"),
        ('procedure = "slow-down"\nglide_speed = 1.3', "situation.glide_speed: “slow-down” has no such field"),
        ('procedure = "go-around"\nrecognition = "2 s"', "situation.recognition: “go-around” has no such field"),
        ('procedure = "slow-down"\nentry_speed = 1.3', "has no unit"),
        ('procedure = "slow-down"\ntarget_speed = "120 kt"', "120 kt is not below the 110 kt of the start"),
    ],
)
def test_fields_of_another_procedure_and_what_cannot_be_are_refused(text: str, words: str) -> None:
    with pytest.raises(BadInputError) as told:
        plan_of(parse_plan(f"{HEAD}[situation]\n{text}\n", "plan.toml"), BELIEFS)
    assert words in str(told.value)


def test_a_loss_of_power_is_compared_and_mapped_by_how_far_it_reaches(reduced: tuple[Store, Reduced]) -> None:
    store, _ = reduced
    plan = usual_plan("loss of power on approach")
    with store.reading() as view:
        contest = prepare(view, the_study(view, None), plan, 100)
    with pytest.raises(BadInputError, match="lies beyond the end of what is flown"):
        matchup_document(contest.plan, contest.thresholds, fly(replace(contest, rows=contest.rows[:20]), 1))
    far = replace(contest.thresholds, score="end_distance", difference=60.0)
    told: list[float] = []
    matchups = fly(replace(contest, rows=contest.rows[:40], thresholds=far), 1, lambda share, _: told.append(share))
    body = matchup_document(contest.plan, far, matchups, contest.learned)
    assert told[-1] == 1.0
    assert [law["law"] for law in body["laws"]] == ["Loss of power on approach"]
    assert body["answer"][0].startswith("When power is lost on approach: ")
    assert "the procedure “Loss of power on approach”" in body["support"][1]
    assert all(one["acceptable"] for one in body["laws"][0]["techniques"])  # the ground is its end, not a margin broken
    reach = {
        one["key"]: next(score["median"] for score in one["scores"] if score["key"] == "end_distance")
        for one in body["laws"][0]["techniques"]
    }
    assert reach["gear-up,flaps-up"] > reach["power-only"]


def test_a_procedure_can_be_mapped(reduced: tuple[Store, Reduced]) -> None:
    written = {Condition.WEIGHT: "2,600 to 3,000 lb in 2", Condition.ENTRY_SPEED: "1.1 to 1.2 in 2"}
    asked = MapAsked(written, draws=100, plan=usual_plan("go-around from the flare"))
    kept = fly_technique_map(reduced[0], None, asked)
    forget_map(reduced[0], None, kept.key)
    assert kept.body["situation"]["procedure"] == "go-around from the flare"
    assert kept.body["law"] == "level, then climb"
