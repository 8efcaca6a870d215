"""Every sensible order, once, under a name that does not change."""

from __future__ import annotations

import pytest

from tests.techniques.invented import DETENTS, FULL, HALF, airplane_row, situation
from wringout.errors import BadInputError
from wringout.techniques.flying.checks import check_technique
from wringout.techniques.stated.orders import POSITIVE_RATE_MPS, Detent, orders
from wringout.techniques.stated.types import Action, Device, Gate


def test_three_settings_give_the_orders_one_would_write_down_by_hand() -> None:
    found = orders(DETENTS, FULL)
    assert [t.key for t in found] == [
        "gear-up,flaps-up",
        "flaps-up,gear-up",
        "gear-up,flaps-half,flaps-up",
        "flaps-half,gear-up,flaps-up",
        "flaps-half,flaps-up,gear-up",
        "gear-up-climbing,flaps-up",
        "flaps-up,gear-up-climbing",
        "gear-up-climbing,flaps-half,flaps-up",
        "flaps-half,gear-up-climbing,flaps-up",
        "flaps-half,flaps-up,gear-up-climbing",
        "power-only",
        "gear-up",
        "flaps-up",
        "flaps-half,flaps-up",
        "flaps-half",
        "flaps-half,gear-up",
        "gear-up,flaps-half",
    ]
    assert [t.complete for t in found] == [True] * 10 + [False] * 7


def test_titles_are_plain_words_and_actions_are_what_they_say() -> None:
    found = {t.key: t for t in orders(DETENTS, FULL)}
    technique = found["flaps-half,gear-up-climbing,flaps-up"]
    assert technique.title == "Flaps to half, gear up once climbing, flaps up"
    assert technique.actions == (
        Action(Device.FLAPS, HALF),
        Action(Device.GEAR, 0.0, gate=Gate.POSITIVE_CLIMB, gate_value=POSITIVE_RATE_MPS),
        Action(Device.FLAPS, 0.0),
    )
    assert found["gear-up"].title == "Gear up; flaps stay"
    assert found["flaps-half"].title == "Flaps to half; gear stays down, flaps stay at half"


def test_the_number_of_complete_orders_follows_the_settings() -> None:
    many = (Detent("up", 0.0), Detent("10", 0.17), Detent("20", 0.35), Detent("30", 0.52), Detent("40", 0.7))
    found = orders(many, 0.7)
    assert len({t.key for t in found}) == len(found)
    plain = [t for t in found if t.complete and not any(a.gate is Gate.POSITIVE_CLIMB for a in t.actions)]
    # chains through j of 3 middle settings: C(3, j), with j + 2 places for the gear: 2 + 3*3 + 3*4 + 5
    assert len(plain) == 28
    for technique in found:
        flaps = [a.target for a in technique.actions if a.device is Device.FLAPS]
        assert flaps == sorted(flaps, reverse=True)


def test_from_half_flap_or_without_gear_there_is_less_to_order() -> None:
    assert [t.key for t in orders(DETENTS, HALF) if t.complete] == [
        "gear-up,flaps-up", "flaps-up,gear-up", "gear-up-climbing,flaps-up", "flaps-up,gear-up-climbing",
    ]  # fmt: skip
    assert [t.key for t in orders(DETENTS, FULL, gear_down=False)] == [
        "flaps-up", "flaps-half,flaps-up", "power-only", "flaps-half",
    ]  # fmt: skip
    assert [t.key for t in orders(DETENTS, 0.0) if t.complete] == ["gear-up", "gear-up-climbing"]
    assert [t.complete for t in orders(DETENTS, 0.0, gear_down=False)] == [True]


def test_every_order_can_be_flown() -> None:
    for start in (FULL, HALF):
        for technique in orders(DETENTS, start):
            check_technique(technique, situation(start_flap_rad=start), airplane_row())


@pytest.mark.parametrize(
    ("detents", "start", "words"),
    [
        ((Detent("half", HALF), Detent("full", FULL)), FULL, "do not rise from up"),
        ((Detent("up", 0.0), Detent("full", FULL), Detent("half", HALF)), FULL, "do not rise from up"),
        (DETENTS, 0.2, "one of the settings; one of up (0.000 rad), half"),
    ],
)
def test_settings_that_make_no_sense_are_refused(detents: tuple[Detent, ...], start: float, words: str) -> None:
    with pytest.raises(BadInputError) as error:
        orders(detents, start)
    assert words in str(error.value)
