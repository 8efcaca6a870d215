"""What cannot be flown is refused in one sentence that names the place."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from tests.techniques.invented import CAS_ENTRY, DETENTS, DOMAIN, FULL, HALF, airplane_draws, situation
from wringout.airplane import vector as v
from wringout.errors import BadInputError
from wringout.techniques.flying.matchup import fly_matchup
from wringout.techniques.stated.orders import orders
from wringout.techniques.stated.types import (
    Action,
    Device,
    Domain,
    EntryReference,
    EntrySpeed,
    FlightLimits,
    FloatArray,
    Gate,
    GoAround,
    Handling,
    Law,
    Technique,
    Thresholds,
)
from wringout.units import DEGREE, KNOT, POUND


def refusal(
    technique: Technique | None = None,
    where: GoAround | None = None,
    domain: Domain = DOMAIN,
    limits: FlightLimits | None = None,
    thresholds: Thresholds | None = None,
    rows: FloatArray | None = None,
) -> str:
    """Return the sentence with which a matchup is refused."""
    with pytest.raises(BadInputError) as error:
        fly_matchup(
            airplane_draws(3) if rows is None else rows,
            situation() if where is None else where,
            domain,
            orders(DETENTS, FULL) if technique is None else (technique,),
            Law.HOLD_SPEED,
            Thresholds() if thresholds is None else thresholds,
            1,
            limits=FlightLimits() if limits is None else limits,
        )
    sentence = str(error.value)
    assert sentence.endswith(".")
    assert "\n" not in sentence
    assert ". " not in sentence
    return sentence


def flown(*actions: Action) -> Technique:
    return Technique("t", "My order", actions)


GEAR_UP, FLAPS_UP = Action(Device.GEAR, 0.0), Action(Device.FLAPS, 0.0)


@pytest.mark.parametrize(
    ("technique", "words"),
    [
        (flown(GEAR_UP, FLAPS_UP, GEAR_UP), "action 3 (gear up): the gear is to be retracted but is not out"),
        (flown(FLAPS_UP, FLAPS_UP), "action 2 (flaps up): the flaps are to be retracted but are not out"),
        (flown(Action(Device.FLAPS, FULL)), "action 1 (flaps to 40°): the flaps are already at 40°"),
        (flown(Action(Device.GEAR, 1.0)), "action 1 (gear down): the gear is already down"),
        (flown(Action(Device.GEAR, 0.4)), "a gear position of 0.4 is neither up nor down; give 0 or 1"),
        (flown(Action(Device.FLAPS, 20.0)), "a flap angle of 1146° is outside the travel of 0° to 40°"),
        (flown(GEAR_UP, replace(FLAPS_UP, wait_s=-1.0)), "action 2 (flaps up): a wait of -1 s is negative"),
        (flown(replace(GEAR_UP, wait_s=math.nan)), "action 1 (gear up): a wait of nan s is negative"),
        (flown(replace(GEAR_UP, wait_s=2000.0)), "a wait of 2000 s is longer than the 60 s flown; give seconds"),
        (flown(replace(GEAR_UP, gate=Gate.SPEED, gate_value=700.0)), "a speed of 700 m/s to wait for"),
        (flown(replace(GEAR_UP, gate=Gate.POSITIVE_CLIMB, gate_value=100.0)), "a climb rate of 100 m/s to wait for"),
        (flown(*[Action(Device.FLAPS, (k % 2) * HALF) for k in range(9)]), "9 actions are too many; at most 8"),
    ],
)
def test_an_action_that_cannot_be_made_is_named(technique: Technique, words: str) -> None:
    sentence = refusal(technique)
    assert "technique 'My order'" in sentence
    assert words in sentence


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"entry_speed": EntrySpeed(0.95)}, "is at or below the stall speed of"),
        ({"power_delay_s": -1.0}, "situation, power delay: a power delay of -1 is out of range; seconds, zero or more"),
        ({"power_ramp_s": -0.5}, "a power ramp of -0.5 is out of range"),
        ({"reaction_s": (-2.0, 0.5)}, "a mean reaction delay of -2 is out of range"),
        ({"reaction_s": (2.0, -0.5)}, "a spread of the reaction delay of -0.5 is out of range"),
        ({"reaction_s": (2000.0, 0.5)}, "a mean reaction delay of 2000 is out of range; seconds"),
        ({"descent_rad": 3.0}, "a descent angle of 3 is out of range; about 3°, in radians"),
        ({"descent_rad": 14.0 * DEGREE}, "steeper than a steady approach can be with no thrust at all"),
        ({"descent_rad": -9.0 * DEGREE}, "needs more than full power in the starting configuration"),
        ({"start_flap_rad": 40.0}, "a starting flap angle of 40 is out of range; 0° to 40°, in radians"),
        ({"start_gear": 2.0}, "a starting gear position of 2 is out of range"),
        ({"start_height_m": math.nan}, "a start height of nan is out of range"),
        ({"duration_s": 0.0}, "a duration of 0 is out of range"),
        ({"pitch_up_rad": 8.0}, "a pitch change of 8 is out of range; radians"),
        ({"handling": Handling(load_factor=(1.2, 0.8))}, "a lowest load factor of 1.2 is out of range"),
    ],
)
def test_a_situation_that_cannot_be_flown_names_the_field(changes: dict[str, object], words: str) -> None:
    entry = changes.get("entry_speed")
    domain = DOMAIN if not isinstance(entry, EntrySpeed) else replace(DOMAIN, entry_speed=(entry.value, entry.value))
    assert words in refusal(where=situation(**changes), domain=domain)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"mass_kg": (1500.0, 1300.0)}, "domain, mass: the range 1500 to 1300 cannot be used; kilograms, lowest first"),
        ({"mass_kg": (2800.0, 33000.0)}, "domain, mass"),
        ({"pressure_altitude_m": (0.0, 9000.0)}, "domain, pressure altitude"),
        ({"isa_deviation_k": (math.nan, 10.0)}, "domain, ISA deviation"),
        (
            {"entry_speed": (1.3, 72.0)},
            "domain, entry speed: the range 1.3 to 72 cannot be used; multiples of the stall",
        ),
    ],
)
def test_a_domain_that_cannot_be_sampled_names_the_range(changes: dict[str, tuple[float, float]], words: str) -> None:
    assert words in refusal(domain=replace(DOMAIN, **changes))


def test_limits_of_the_airplane_stand_against_the_start() -> None:
    sentence = refusal(limits=FlightLimits(max_mass_kg=3200.0 * POUND))
    assert sentence == "domain, mass: 3300 lb (1497 kg) is above the maximum mass; at most 3200 lb (1451 kg)."
    calibrated = situation(entry_speed=EntrySpeed(CAS_ENTRY, EntryReference.CAS))
    fast = replace(DOMAIN, entry_speed=(CAS_ENTRY, 100.0 * KNOT))
    limits = FlightLimits(flaps_extended_cas_mps=((HALF, 110.0 * KNOT), (FULL, 95.0 * KNOT)))
    sentence = refusal(where=calibrated, domain=fast, limits=limits)
    assert "100 kt is above VFE with flaps 40°; at most 95 kt by the airplane's manual" in sentence
    limits = FlightLimits(gear_extended_cas_mps=90.0 * KNOT)
    assert "100 kt is above VLE; at most 90 kt" in refusal(where=calibrated, domain=fast, limits=limits)
    slow = replace(DOMAIN, entry_speed=(45.0 * KNOT, 70.0 * KNOT))
    assert "45 kt is at or below the stall speed of" in refusal(where=calibrated, domain=slow)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"score": "beauty"}, "thresholds, score: 'beauty' is no score; one of lowest_height, height_5s"),
        ({"difference": 0.0}, "a difference that matters of 0 is out of range"),
        ({"probability": 0.4}, "a probability of 0.4 is out of range"),
        ({"probability": 90.0}, "a probability of 90 is out of range"),
        ({"min_stall_ratio": 0.9}, "a lowest V/Vs of 0.9 is out of range"),
        ({"allowed_share": 5.0}, "a share of draws that may break a margin of 5 is out of range"),
    ],
)
def test_thresholds_out_of_range_are_named(changes: dict[str, float], words: str) -> None:
    assert words in refusal(thresholds=replace(Thresholds(), **changes))


def test_a_score_after_the_end_of_the_flight_is_refused() -> None:
    sentence = refusal(where=situation(duration_s=20.0), thresholds=Thresholds(score="height_30s"))
    assert "'height_30s' lies beyond the 20 s flown" in sentence


def changed(column: int, value: float) -> FloatArray:
    rows = airplane_draws(3)
    rows[1, column] = value
    return rows


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (np.zeros((3, 5)), "parameter draws: the draws have shape (3, 5)"),
        (np.zeros((0, v.SIZE)), "parameter draws: the draws have shape (0,"),
        (changed(v.F_GEAR, math.nan), "draw 2: a parameter is missing or infinite"),
        (changed(v.SPAN, -1.0), "draw 2: the span is not above zero"),
        (changed(v.GEAR_UP_TIME, -1.0), "draw 2: the gear retraction time is negative"),
        (changed(v.SETTINGS, 2.0), "draw 2: the number of flap settings differs between draws"),
        (changed(v.ANGLES + 1, 0.9), "draw 2: the flap angles do not rise or differ between draws"),
        (changed(v.CL_MAXES + 1, 0.0), "draw 2: a maximum lift coefficient is not above zero"),
    ],
)
def test_draws_that_hold_no_airplane_are_refused_with_their_number(rows: FloatArray, words: str) -> None:
    assert words in refusal(rows=rows)


def test_no_technique_and_the_same_key_twice() -> None:
    with pytest.raises(BadInputError, match="no technique is given"):
        fly_matchup(airplane_draws(2), situation(), DOMAIN, (), Law.HOLD_SPEED, Thresholds(), 1)
    twice = (flown(GEAR_UP), flown(FLAPS_UP))
    with pytest.raises(BadInputError, match="the key 't' stands for two techniques"):
        fly_matchup(airplane_draws(2), situation(), DOMAIN, twice, Law.HOLD_SPEED, Thresholds(), 1)
