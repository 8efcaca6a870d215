"""Printed words read as something to fly: doubts are listed, each reading is kept, nothing is decided silently."""

from __future__ import annotations

import pytest

from tests.handbooks.made import FULL, airplane
from wringout.errors import BadInputError
from wringout.handbooks.reading import GENERAL_SOURCE, general_readings, read_order
from wringout.handbooks.steps import parse_steps
from wringout.techniques.stated.orders import Detent, orders
from wringout.units import DEGREE

BELIEFS = airplane()
OBSTACLES = ["flaps-half,gear-up", "flaps-half,gear-up-climbing"]


def _keys(text: str) -> list[str]:
    return [reading.key for reading in read_order(parse_steps(text), BELIEFS, FULL).readings]


@pytest.mark.parametrize(
    ("text", "keys"),
    [
        ("power full; flaps half; gear up when climbing; flaps up", ["flaps-half,gear-up-climbing,flaps-up"]),
        ("power full; gear up; flaps up", ["gear-up,flaps-up", "gear-up,flaps-half,flaps-up"]),
        ("power full; gear up; flaps up in stages", ["gear-up,flaps-half,flaps-up"]),
        ("power full; flaps 20; flaps up; gear up", ["flaps-half,flaps-up,gear-up"]),
        ("power full; flaps one notch; gear up; flaps up", ["flaps-half,gear-up,flaps-up"]),
        ("power full; flaps half; gear up when clear of obstacles", OBSTACLES),
        ("power full; flaps half; flaps half; flaps up", ["flaps-half,flaps-up"]),
        ("power full; flaps 30; gear up", ["gear-up", "flaps-half,gear-up"]),
        ("power full; climb 75 kt", ["power-only"]),
    ],
)  # fmt: skip
def test_each_way_of_reading_is_kept(text: str, keys: list[str]) -> None:
    assert sorted(_keys(text)) == sorted(keys)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("gear up; flaps up", "does not name the power"),
        ("power as required; gear up", "which may be more than it means"),
        ("flaps up; power full; gear up", "power after the first movement"),
        ("power full; gear up; flaps up", "in one movement or in steps"),
        ("power full; flaps half; flaps up at a safe speed; gear up", "without a number"),
        ("power full; flaps half; flaps up", "does not say when the gear comes up"),
        ("power full; flaps 30; gear up", "each is flown"),
    ],
)
def test_a_doubt_is_said(text: str, said: str) -> None:
    found = read_order(parse_steps(text), BELIEFS, FULL)
    assert any(said in doubt for doubt in found.doubts), found.doubts


def test_a_plain_order_leaves_no_doubt_and_what_is_not_flown_is_named() -> None:
    found = read_order(parse_steps("power full; flaps half; gear up; flaps up; cowl flaps open"), BELIEFS, FULL)
    assert found.doubts == ()
    assert found.not_flown == ("Not part of the computation: cowl flaps.",)


def test_a_speed_is_indicated_and_brought_to_calibrated() -> None:
    (reading,) = read_order(parse_steps("power full; flaps half; flaps up at 75 kt; gear up"), BELIEFS, FULL).readings
    assert reading.moves[1].speed_cas_mps == pytest.approx(75 * 0.514444, abs=1e-3)  # no position error is known here
    assert reading.key == "flaps-half,flaps-up-at-75kt,gear-up"


def test_a_flap_setting_the_airplane_has_not_is_refused_by_its_number() -> None:
    with pytest.raises(BadInputError) as caught:
        read_order(parse_steps("power full; gear up; flaps whistling"), BELIEFS, FULL, "Q1, steps")
    assert str(caught.value).startswith("Q1, steps, movement 2: ")


def test_keys_are_those_of_the_enumerated_orders() -> None:
    known = {t.key for t in orders([Detent(s.name, s.angle_rad) for s in BELIEFS.settings], FULL)}
    for text in ("power full; flaps half; gear up when climbing; flaps up", "power full; gear up; flaps up"):
        assert set(_keys(text)) <= known


def test_the_general_order_raises_flaps_partly_then_gear_then_the_rest() -> None:
    """FAA-H-8083-3C, chapter 9: flaps at least partially before the gear, the gear after a positive rate of climb."""
    (reading,) = general_readings(BELIEFS, FULL).readings
    assert reading.key == "flaps-half,gear-up-climbing,flaps-up"
    assert "FAA-H-8083-3C" in GENERAL_SOURCE
    (short,) = general_readings(BELIEFS, 20.0 * DEGREE).readings
    assert short.key == "gear-up-climbing,flaps-up"
