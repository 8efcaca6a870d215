"""What a plan may say beyond the usual: the pilot's hands, what does not move, the runway, and orders of one's own."""

from __future__ import annotations

import numpy as np
import pytest

from tests.services.texts import AIRPLANE
from wringout.airplane.document import parse_airplane
from wringout.airplane.from_document import airplane_from_document
from wringout.errors import BadInputError
from wringout.services.matchups.plan_details import details_sentences
from wringout.services.matchups.plans import Plan, PlanDocument, parse_plan, plan_of, plan_text, techniques_of
from wringout.techniques.flying.trace import fly_one
from wringout.techniques.stated.procedure import Procedure
from wringout.techniques.stated.types import MAX_ACTIONS, Conditions, Gate, Law, Technique, Trace
from wringout.units import DEGREE, FOOT, KNOT, POUND

BELIEFS = airplane_from_document(parse_airplane(AIRPLANE, "airplane.toml"), "airplane.toml")
ROW = BELIEFS.row_from_latent(np.zeros(len(BELIEFS.parameters)))


def plan(text: str) -> Plan:
    return plan_of(parse_plan(f'format = "wringout plan, version 1"\n{text}\n', "plan.toml"), BELIEFS, "plan.toml")


def flown(found: Plan, key: str = "gear-up,flaps-up", law: Law = Law.HOLD_SPEED) -> Trace:
    technique = next(t for t in techniques_of(found, BELIEFS) if t.key == key)
    conditions = Conditions(2500.0 * POUND, 0.0, 0.0, found.situation.entry_speed.value, (2.0,) * MAX_ACTIONS)
    return fly_one(ROW, found.under(law), conditions, technique, law, found.limits)


def test_a_plan_without_them_stays_as_it_was_and_one_with_them_is_read_back() -> None:
    assert set(PlanDocument().model_dump(mode="json")) == {"format", "situation", "domain"}
    text = '[pilot]\nhand = "1 s"\n[devices]\ngear = "stuck"\n[ground]\n[[orders]]\nsteps = ["gear up"]'
    document = plan(text).document
    assert parse_plan(plan_text(document), "again") == document
    assert len(details_sentences(document.details)) == 3


def test_a_device_that_fails_stays_or_stops_while_its_lever_is_moved() -> None:
    stuck = flown(plan('[devices]\ngear = "stuck"'))
    assert stuck.gear.min() == stuck.gear.max() == 1.0
    assert np.isfinite(stuck.action_times_s).all()
    assert stuck.flap_rad[-1] == pytest.approx(0.0, abs=1e-9)
    half = flown(plan('[devices]\ngear = "stops at 40 %"\nflaps = "stops at 10 deg"'))
    assert half.gear[-1] == pytest.approx(0.4)
    assert half.flap_rad[-1] == pytest.approx(10.0 * DEGREE)
    out = plan('[situation]\nprocedure = "slow-down"\n[devices]\ngear = "stops at 40 %"').situation
    assert isinstance(out, Procedure)
    assert out.travel.gear == (0.0, 0.4)


def test_the_hand_is_busy_before_the_next_lever_and_the_load_factor_stays_inside() -> None:
    usual, firm = plan(""), plan('[pilot]\nhand = "1.5 s"\nload_factor = [0.95, 1.05]\npitch_rate = "1 deg/s"')
    before, after = flown(usual), flown(firm)
    # the second lever waits for the hand on the first, by the definition of `Action.hand_s`
    assert np.diff(after.action_times_s)[0] == pytest.approx(np.diff(before.action_times_s)[0] + 1.5, abs=1e-6)
    bent, free = (flown(one, law=Law.LEVEL_THEN_CLIMB).load_factor for one in (firm, usual))
    assert 0.95 - 1e-3 <= bent.min() < 0.97
    assert 1.03 < bent.max() <= 1.05 + 1e-3
    assert free.max() > 1.05


def test_the_runway_is_met_where_it_is_stated_and_not_where_it_is_taken_away() -> None:
    low = '[situation]\nheight = "15 ft"\npower_delay = "6 s"\n'
    assert flown(plan(low)).height_m.min() < -16.0 * FOOT
    assert flown(plan(f"{low}[ground]")).height_m.min() >= -15.2 * FOOT
    flare = '[situation]\nprocedure = "go-around from the flare"\n[ground]\nrunway = false'
    situation = plan(flare).situation
    assert isinstance(situation, Procedure)
    assert situation.ground is None


def test_an_order_in_words_competes_beside_the_known_ones() -> None:
    text = '[[orders]]\nsteps = ["flaps to half", "gear up after 2 s when climbing", "flaps up above 65 kt after 1 s"]'
    found = plan(text)
    own: Technique = techniques_of(found, BELIEFS)[-1]
    assert own.title == "Flaps to half, gear up after 2 s when climbing, flaps up above 65 kt after 1 s"
    assert own.complete
    assert [(a.gate, a.wait_s) for a in own.actions] == [
        (Gate.NONE, 0.0),
        (Gate.POSITIVE_CLIMB, 2.0),
        (Gate.SPEED, 1.0),
    ]
    assert own.actions[2].gate_value == pytest.approx(65.0 * KNOT)
    assert not techniques_of(plan('[[orders]]\nsteps = ["gear up"]'), BELIEFS)[-1].complete
    assert techniques_of(found, BELIEFS, waiting=False) == techniques_of(plan(""), BELIEFS, waiting=False)
    trace = flown(found, own.key, Law.LEVEL_THEN_CLIMB)
    assert np.interp(trace.action_times_s[2], trace.t_s, trace.cas_mps) >= 65.0 * KNOT - 0.01


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (
            '[[orders]]\nsteps = ["gear up after 2 kt"]',
            "orders 1, step 1 (gear up after 2 kt): 'kt' is not a unit of time",
        ),
        ('[[orders]]\nsteps = ["flaps to 50 deg"]', "(flaps to 50 deg): 50 deg is beyond the travel of the flaps"),
        ('[[orders]]\nsteps = ["trim nose up"]', "'trim nose up' moves no lever"),
        ('[[orders]]\nsteps = ["gear up above 750 kt"]', "750 kt is no speed of a light airplane"),
        ('[[orders]]\nsteps = ["gear up when ready"]', "'ready' is nothing that is waited for"),
        ('[[orders]]\nsteps = ["gear up"]\n[[orders]]\nsteps = ["gear up"]', "orders 2: it moves the same levers"),
        ('[[orders]]\nsteps = "gear up"', "'gear up' is not a list; write its parts in square brackets"),
        ("[pilot]\nload_factor = [1.1, 1.2]", "pilot.load_factor: load factors of 1.1 to 1.2 cannot be flown"),
        ('[pilot]\npitch_rate = "3 deg"', "'deg' is not a unit of angular rate"),
        ('[devices]\ngear = "broken"', "devices.gear: 'broken' is nothing the gear does"),
        ('[devices]\nengine_drag = "1 ft2"', "no engine fails in “Go-around from the approach”"),
        ('[ground]\nwing_height = "20 m"', "ground.wing_height: 20 m is out of range"),
    ],
)
def test_what_cannot_be_read_is_refused_by_its_name(text: str, words: str) -> None:
    with pytest.raises(BadInputError) as told:
        techniques_of(plan(text), BELIEFS)
    assert words in str(told.value)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (
            '[[orders]]\nsteps = ["gear up", "gear up"]',
            "action 2 (gear up): the gear is to be retracted but is not out",
        ),
        (
            '[[orders]]\nsteps = ["gear up after 120 s"]',
            "action 1 (gear up): a wait of 120 s is longer than the 60 s flown",
        ),
        ('[situation]\nentry_speed = "30 kt"', "30 kt is at or below the stall speed"),
        ('[situation]\nentry_speed = "140 kt"', "140 kt is above VFE with flaps"),
    ],
)
def test_what_cannot_be_flown_is_refused_with_the_action_or_the_start_named(text: str, words: str) -> None:
    found = plan(text)
    technique = techniques_of(found, BELIEFS)[-1]
    with pytest.raises(BadInputError) as told:
        flown(found, technique.key)
    assert words in str(told.value)
