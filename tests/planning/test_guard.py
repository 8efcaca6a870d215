"""The limits guard: every limit is met from both sides."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest

from wringout.airplane.beliefs import Beliefs
from wringout.airspeed import calibrated_from_indicated
from wringout.errors import BadInputError
from wringout.planning.checks import Check, Level, blocked
from wringout.planning.daylight import daylight
from wringout.planning.guard import guard
from wringout.planning.plan import TestPlan
from wringout.planning.stall_margin import believed_stall_ias_mps
from wringout.units import DEGREE, KNOT

Make = Callable[..., TestPlan]


def found(plan: TestPlan, beliefs: Beliefs, subject: str, point: str = "P1") -> Check:
    (check,) = [c for c in guard(plan, beliefs) if c.subject == subject and c.point == point]
    return check


@pytest.mark.parametrize(
    ("method", "words", "subject", "level"),
    [
        (
            "level deceleration",
            {"device": "flaps", "to": "full", "entry speed": "111 kt"},
            "VFE (full)",
            Level.VIOLATED,
        ),
        ("level deceleration", {"device": "flaps", "to": "full", "entry speed": "110 kt"}, "VFE (full)", Level.THIN),
        ("level deceleration", {"device": "flaps", "to": "full", "entry speed": "105 kt"}, "VFE (full)", Level.HELD),
        ("level deceleration", {"entry speed": "131 kt"}, "VLO (extend)", Level.VIOLATED),
        ("level deceleration", {"entry speed": "141 kt"}, "VLE", Level.VIOLATED),
        ("level deceleration", {"entry speed": "126 kt"}, "VA", Level.THIN),
        ("out and back", {"settled speed": "116 kt"}, "VLO (retract)", Level.VIOLATED),
        ("out and back", {"settled speed": "109 kt"}, "VLO (retract)", Level.HELD),
        ("glide", {"speeds": "75, 190 kt"}, "VNE", Level.VIOLATED),
        ("stall series", {"entry speed": "111 kt"}, "VFE (full)", Level.VIOLATED),
        ("glide", {"speeds": "60, 90 kt"}, "the stall, flaps up", Level.VIOLATED),
        ("glide", {"speeds": "90, 100 kt"}, "the stall, flaps up", Level.HELD),
        ("glide", {"height above ground": "2,900 ft"}, "the altitude floor", Level.VIOLATED),
        ("stall series", {"height above ground": "3,900 ft"}, "the altitude floor", Level.VIOLATED),
        ("stall series", {"height above ground": "4,600 ft"}, "the altitude floor", Level.HELD),
        ("glide", {"weight": "3,201 lb"}, "the maximum weight", Level.VIOLATED),
        ("glide", {"weight": "3,200 lb"}, "the maximum weight", Level.THIN),
    ],
)
def test_each_limit_holds_from_its_own_side(
    make: Make, beliefs: Beliefs, method: str, words: dict[str, str], subject: str, level: Level
) -> None:
    assert found(make(("P1", method, words)), beliefs, subject).level is level


def test_a_violated_limit_blocks_its_own_card_only_and_one_of_the_flight_blocks_all(
    make: Make, beliefs: Beliefs
) -> None:
    plan = make(("P1", "glide", {"speeds": "75, 190 kt"}), ("P2", "glide", {}))
    checks = guard(plan, beliefs)
    assert blocked(checks, "P1")
    assert not blocked(checks, "P2")
    assert blocked(guard(make(("P2", "glide", {}), fuel="10 gal"), beliefs), "P2")


@pytest.mark.parametrize("bank_deg", [30.0, 45.0, 60.0])
def test_the_stall_speed_in_a_turn_grows_with_the_root_of_the_load_factor(beliefs: Beliefs, bank_deg: float) -> None:
    """Load factor 1/cos(bank): 1.15, 1.41, 2.0 at 30, 45, 60 degrees (standard mechanics)."""
    table = beliefs.instrument.position_error
    level, turn = (
        float(
            calibrated_from_indicated(
                believed_stall_ias_mps(beliefs, 0.0, 0.0, 1400.0, bank, 0.0, 0.0), table, 0.0, 0.0
            )
        )
        for bank in (0.0, bank_deg * DEGREE)
    )
    assert turn / level == pytest.approx(1.0 / math.sqrt(math.cos(bank_deg * DEGREE)), rel=1e-3)


def test_weight_and_balance_are_held_at_both_ends(make: Make, beliefs: Beliefs) -> None:
    plan = make(("P1", "glide", {}))
    assert plan.takeoff.balance is not None
    assert plan.landing.balance is not None
    burnt = plan.takeoff.balance.mass_kg - plan.landing.balance.mass_kg
    # 46 min at 11 gal/h and 6 lb/gal
    assert burnt / 0.45359237 == pytest.approx(46 / 60 * 11 * 6, rel=1e-9)
    aft = make(("P1", "glide", {}), load={"baggage": "400 lb", "rear seats": "400 lb"})
    assert any(c.subject == "the c.g. envelope" and c.level is Level.VIOLATED for c in guard(aft, beliefs))
    heavy = make(("P1", "glide", {}), load={"front seats": "800 lb"})
    assert any(
        c.subject == "the maximum weight" and c.point == "" and c.level is Level.VIOLATED for c in guard(heavy, beliefs)
    )


def test_what_is_not_stated_is_said_and_never_called_held(make: Make, beliefs: Beliefs) -> None:
    bare = make(("P1", "glide", {}), start="", fuel=None, ground_elevation=None)
    missing = {c.subject for c in guard(bare, beliefs) if c.level is Level.NOT_STATED}
    assert {"fuel", "weight and c.g.", "daylight", "engine limits", "the altitude floor"} <= missing


def test_engine_limits_are_held_against_the_power_of_a_point(make: Make, beliefs: Beliefs) -> None:
    plan = make(("P1", "level deceleration", {"power": "24.5 in 2,750 rpm"}), engine={"highest_rpm": "2700 rpm"})
    assert found(plan, beliefs, "the highest rpm").level is Level.VIOLATED
    plan = make(("P1", "level deceleration", {"power": "65 per cent"}), engine={"highest_rpm": "2700 rpm"})
    assert found(plan, beliefs, "the highest rpm").level is Level.NOT_STATED
    plan = make(
        ("P1", "level deceleration", {"power": "24.5 in 2750 rpm"}),
        engine={
            "highest_rpm": "2700 rpm",
            "highest_manifold_pressure": "24 inHg",
            "highest_density_altitude": "6000 ft",
        },
    )
    for subject in ("the highest rpm", "the highest manifold pressure", "the highest density altitude"):
        assert found(plan, beliefs, subject).level is Level.VIOLATED


def test_a_flight_into_the_night_is_blocked(make: Make, beliefs: Beliefs) -> None:
    assert found(make(("P1", "glide", {})), beliefs, "daylight", "").level is Level.HELD
    late = make(("P1", "glide", {}), start="2027-05-09T20:50+02:00")
    assert found(late, beliefs, "daylight", "").level is Level.VIOLATED
    early = make(("P1", "glide", {}), start="2027-05-09T04:30+02:00")
    assert found(early, beliefs, "daylight", "").level is Level.VIOLATED


@pytest.mark.parametrize("latitude", [0.0, 30.0, 52.0])
def test_civil_dusk_agrees_with_the_sunrise_equation(latitude: float) -> None:
    """cos H = (sin(-6) - sin(lat) sin(decl)) / (cos(lat) cos(decl)).

    At the June solstice decl 23.44 deg and the equation of time -1.8 min (both from memory).
    """
    lat, decl = latitude * DEGREE, 23.44 * DEGREE
    cos_h = (math.sin(-6 * DEGREE) - math.sin(lat) * math.sin(decl)) / (math.cos(lat) * math.cos(decl))
    noon = datetime(2027, 6, 21, 12, 1, 48, tzinfo=UTC)
    expected = noon + timedelta(hours=math.degrees(math.acos(cos_h)) / 15.0)
    dusk = daylight(latitude, 0.0, noon).dusk
    assert dusk is not None
    assert abs((dusk - expected).total_seconds()) < 120.0


def test_where_the_sun_does_not_set_there_is_no_dusk() -> None:
    assert daylight(70.0, 20.0, datetime(2027, 6, 21, 12, tzinfo=UTC)).dusk is None


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"start": "2027-05-09T14:00"}, "offset"),
        ({"fuel": "50 lb"}, "volume"),
        ({"load": {"cellar": "10 lb"}}, "station"),
        ({"climb": "-5 min"}, "negative"),
    ],
)
def test_a_field_that_cannot_be_read_is_named(make: Make, change: dict[str, object], said: str) -> None:
    with pytest.raises(BadInputError, match=said):
        make(("P1", "glide", {}), **change)


def test_a_point_that_cannot_be_read_is_blocked_and_the_others_are_still_checked(make: Make, beliefs: Beliefs) -> None:
    checks = guard(make(("P1", "glide", {"speeds": "fast"}), ("P2", "glide", {})), beliefs)
    assert blocked(checks, "P1")
    assert any(c.point == "P2" and c.subject == "VNE" for c in checks)


def test_a_slow_run_warns_with_the_speed_to_stop_at(make: Make, beliefs: Beliefs) -> None:
    words = {"device": "flaps", "to": "full", "entry speed": "100 kt"}
    check = found(make(("P1", "level deceleration", words)), beliefs, "the stall, flaps full")
    assert check.level is Level.THIN
    assert check.limit is not None
    stall = believed_stall_ias_mps(beliefs, beliefs.settings[-1].angle_rad, 0.0, 1245.0, 0.0, 2133.6, 0.0) / KNOT
    assert check.limit == pytest.approx(stall + 10.0, abs=1.0)
