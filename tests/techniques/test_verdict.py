"""The verdict's logic on matchups made up by hand, so that each answer is known beforehand."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
import pytest

from tests.techniques.invented import CAS_ENTRY, DOMAIN, FULL, situation
from wringout.errors import BadInputError
from wringout.techniques.flying.scores import EXCEEDANCE, LOWEST_HEIGHT, SCORE_COUNT, SCORE_INDEX, STALL_RATIO
from wringout.techniques.judging.rule import Outcome
from wringout.techniques.judging.verdict import CAUTION, compare, differences, judge, standing
from wringout.techniques.judging.wording import domain_sentence
from wringout.techniques.stated.types import (
    Action,
    Device,
    EntryReference,
    EntrySpeed,
    FloatArray,
    Law,
    Matchup,
    Technique,
    Thresholds,
)
from wringout.units import FOOT, KNOT

GEAR = Technique("gear", "Gear up, flaps up", (Action(Device.GEAR, 0.0), Action(Device.FLAPS, 0.0)))
FLAPS = Technique("flaps", "Flaps up, gear up", (Action(Device.FLAPS, 0.0), Action(Device.GEAR, 0.0)))
HALF = Technique("half", "Flaps to half, gear up, flaps up", ())
NOTHING = Technique("nothing", "Power only, nothing retracted", (), False)
LIMITS = Thresholds(
    score="energy_height_30s", difference=10.0 * FOOT, probability=0.9, min_stall_ratio=1.1, allowed_share=0.05
)
SCORE = SCORE_INDEX["energy_height_30s"]
N = 1000


def made_up(*columns: tuple[Technique, FloatArray], thresholds: Thresholds = LIMITS, score: int = SCORE) -> Matchup:
    """Return a matchup whose deciding score is given, SI, with margins far from broken."""
    scores = np.full((N, len(columns), SCORE_COUNT), 50.0)
    scores[:, :, STALL_RATIO], scores[:, :, LOWEST_HEIGHT], scores[:, :, EXCEEDANCE] = 1.25, -5.0, 0.0
    for j, (_, values) in enumerate(columns):
        scores[:, j, score] = values
    return Matchup(
        techniques=tuple(t for t, _ in columns),
        law=Law.HOLD_SPEED,
        situation=situation(start_flap_rad=FULL, start_height_m=30.0),
        domain=DOMAIN,
        thresholds=thresholds,
        draws=N,
        seed=1,
        scores=scores,
        conditions=np.zeros((N, 1)),
        representative=0,
        traces=(),
    )


def around(middle_ft: float, spread_ft: float = 0.0) -> FloatArray:
    """Return N values spread evenly about a middle, m."""
    return (middle_ft + spread_ft * np.linspace(-1.0, 1.0, N)) * FOOT


BASE = around(300.0, 80.0)


def test_a_difference_that_matters_in_nearly_every_draw_is_favoured() -> None:
    found = compare(made_up((GEAR, BASE + around(24.0, 9.0)), (FLAPS, BASE)), "gear", "flaps")
    assert found.outcome is Outcome.FAVOURED
    assert found.favoured == "gear"
    assert found.first_ahead == 1.0
    assert found.difference / FOOT == pytest.approx(24.0, abs=0.1)
    assert np.array(found.interval_95) / FOOT == pytest.approx([15.45, 32.55], abs=0.1)
    assert np.array(found.interval_50) / FOOT == pytest.approx([19.5, 28.5], abs=0.1)
    assert found.sentence == (
        "“Gear up, flaps up” is favoured over “Flaps up, gear up”: energy height at 30 s is 24 ft higher (95 %: 15 to "
        "33 ft), and by at least 10 ft in 100 % of the draws."
    )


def test_the_order_of_asking_only_turns_the_sign() -> None:
    matchup = made_up((GEAR, BASE + around(24.0, 9.0)), (FLAPS, BASE))
    back = compare(matchup, "flaps", "gear")
    assert back.favoured == "gear"
    assert back.difference / FOOT == pytest.approx(-24.0, abs=0.1)
    assert back.second_ahead == 1.0
    assert back.sentence == compare(matchup, "gear", "flaps").sentence


def test_a_difference_too_small_to_matter_is_never_a_win_however_sure() -> None:
    found = compare(made_up((GEAR, BASE + around(9.0, 0.5)), (FLAPS, BASE)), "gear", "flaps")
    assert found.outcome is Outcome.TOO_CLOSE
    assert found.favoured is None
    assert found.alike == 1.0
    assert (
        "differs by less than 10 ft in 100 % of the draws (median difference 9 ft, 95 %: 9 to 9 ft)" in found.sentence
    )


def test_a_large_difference_that_the_data_cannot_support_is_too_close_to_call() -> None:
    found = compare(made_up((GEAR, BASE + around(30.0, 60.0)), (FLAPS, BASE)), "gear", "flaps")
    # evenly spread from -30 to 90 ft: ahead by 10 ft in two thirds, behind by 10 ft in a sixth
    assert found.outcome is Outcome.TOO_CLOSE
    assert found.first_ahead == pytest.approx(2 / 3, abs=0.002)
    assert found.second_ahead == pytest.approx(1 / 6, abs=0.002)
    assert found.first_ahead + found.second_ahead + found.alike == pytest.approx(1.0)
    assert "the first is ahead by at least 10 ft in 67 % of the draws, the second in 17 %, and 90 % was asked for" in (
        found.sentence
    )


def test_the_asked_share_of_draws_is_what_decides() -> None:
    gain = np.where(np.arange(N) < 900, 15.0 * FOOT, 0.0)
    assert compare(made_up((GEAR, BASE + gain), (FLAPS, BASE)), "gear", "flaps").outcome is Outcome.FAVOURED
    gain = np.where(np.arange(N) < 899, 15.0 * FOOT, 0.0)
    assert compare(made_up((GEAR, BASE + gain), (FLAPS, BASE)), "gear", "flaps").outcome is Outcome.TOO_CLOSE


@pytest.mark.parametrize(
    ("column", "value", "words"),
    [
        (STALL_RATIO, 1.05, "V/Vs falls below 1.10 in 6 % of the draws (5 % is allowed)"),
        (LOWEST_HEIGHT, -31.0, "the height above the ground falls below 0 ft in 6 % of the draws"),
        (EXCEEDANCE, 2.0, "a limit speed is exceeded in 6 % of the draws"),
    ],
)
def test_a_broken_margin_is_not_acceptable_whatever_the_score(column: int, value: float, words: str) -> None:
    matchup = made_up((GEAR, BASE + around(500.0)), (FLAPS, BASE))
    matchup.scores[:60, 0, column] = value
    found = compare(matchup, "gear", "flaps")
    assert found.outcome is Outcome.NOT_ACCEPTABLE
    assert found.favoured is None
    assert words in found.sentence
    assert "“Gear up, flaps up” is not acceptable" in found.sentence
    overall = judge(matchup)
    assert overall.leading == ("flaps",)
    assert overall.sentence == "“Flaps up, gear up” is the only one of the two orders that keeps the stated margins."
    matchup.scores[50:60, 0, column] = matchup.scores[100, 0, column]
    assert compare(matchup, "gear", "flaps").outcome is Outcome.FAVOURED


def test_overall_one_favoured_against_the_nearest() -> None:
    matchup = made_up(
        (GEAR, BASE + around(40.0, 5.0)), (FLAPS, BASE), (HALF, BASE + around(20.0)), (NOTHING, BASE * 0.2)
    )
    found = judge(matchup)
    assert found.outcome is Outcome.FAVOURED
    assert found.leading == ("gear",)
    assert found.sentence == (
        "“Gear up, flaps up” is favoured over each of the two other acceptable orders; against the nearest, “Flaps to "
        "half, gear up, flaps up”, energy height at 30 s is 20 ft higher (95 %: 15 to 25 ft), and by at least 10 ft in "
        "100 % of the draws."
    )
    assert len(found.pairs) == 6


def test_overall_a_group_that_cannot_be_told_apart() -> None:
    found = judge(made_up((GEAR, BASE + around(25.0)), (FLAPS, BASE + around(20.0)), (HALF, BASE)))
    assert found.outcome is Outcome.TOO_CLOSE
    assert found.leading == ("gear", "flaps")
    assert found.sentence == (
        "Too close to call between “Gear up, flaps up” and “Flaps up, gear up”. The best of them is favoured over one "
        "other."
    )


def test_many_that_cannot_be_told_apart_are_counted_and_not_listed() -> None:
    many = [(replace(GEAR, key=f"k{i}", title=f"Order {i}"), BASE + around(0.1 * i)) for i in range(6)]
    found = judge(made_up(*many))
    assert found.sentence == "Too close to call between all six acceptable orders; the best median has “Order 5”."
    assert len(found.leading) == 6


def test_none_acceptable() -> None:
    matchup = made_up((GEAR, BASE), (FLAPS, BASE))
    matchup.scores[:, :, STALL_RATIO] = 1.02
    found = judge(matchup)
    assert found.outcome is Outcome.NOT_ACCEPTABLE
    assert found.leading == ()
    assert found.sentence == "Neither of the two orders is acceptable: each breaks a stated margin."


def test_a_baseline_cannot_be_favoured_overall_but_is_compared() -> None:
    found = judge(made_up((GEAR, BASE), (NOTHING, BASE + around(100.0))))
    assert found.leading == ("gear",)
    assert found.pairs[0].favoured == "nothing"
    alone = judge(made_up((NOTHING, BASE)))
    assert alone.leading == ("nothing",)
    assert alone.sentence == "“Power only, nothing retracted” is the only order flown."


def test_a_score_where_less_is_better_and_some_never_get_there() -> None:
    index = SCORE_INDEX["obstacle_distance"]
    thresholds = replace(LIMITS, score="obstacle_distance")
    matchup = made_up((GEAR, around(1500.0)), (FLAPS, around(1700.0)), thresholds=thresholds, score=index)
    found = compare(matchup, "gear", "flaps")
    assert found.favoured == "gear"
    assert "distance to clear 50 ft above the start is 200 ft shorter" in found.sentence
    matchup.scores[:, 1, index] = math.inf
    found = compare(matchup, "gear", "flaps")
    assert found.favoured == "gear"
    assert found.difference == math.inf
    assert "∞ ft shorter" in found.sentence
    matchup.scores[:, 0, index] = math.inf
    found = compare(matchup, "gear", "flaps")
    assert found.outcome is Outcome.TOO_CLOSE
    assert found.difference == 0.0
    assert not np.isnan(differences(matchup, "gear", "flaps")).any()


def test_the_domain_and_the_threshold_are_always_stated() -> None:
    found = judge(made_up((GEAR, BASE), (FLAPS, BASE)))
    assert found.domain == (
        "This is for 2,800 to 3,300 lb, pressure altitudes of 0 to 5,000 ft, ISA −5 to +20 °C, an entry at 1.25 to "
        "1.35 times the stall speed, the procedure “Go-around from the approach” and a pilot who flies “hold speed”, "
        "on 1,000 draws; outside of that nothing was computed."
    )
    both = domain_sentence(made_up((GEAR, BASE), (FLAPS, BASE)), (Law.HOLD_SPEED, Law.LEVEL_THEN_CLIMB))
    assert "a pilot who flies “hold speed” or “level, then climb”, on 1,000 draws" in both
    assert found.threshold == (
        "Stated before flying: energy height at 30 s decides, a difference under 10 ft does not matter, a technique "
        "must be ahead by that in 90 % of the draws, and V/Vs must not fall below 1.10, the height above the ground "
        "not below 0 ft and no limit speed be exceeded in more than 5 % of them."
    )
    calibrated = replace(
        made_up((GEAR, BASE)),
        situation=situation(entry_speed=EntrySpeed(CAS_ENTRY, EntryReference.CAS)),
        domain=replace(DOMAIN, entry_speed=(70.0 * KNOT, 74.0 * KNOT), mass_kg=(1300.0, 1300.0)),
    )
    assert "an entry at 70 to 74 kt calibrated" in judge(calibrated).domain
    assert "for 2,866 lb," in judge(calibrated).domain


def test_nothing_is_ever_called_safe() -> None:
    matchup = made_up((GEAR, BASE + around(24.0, 30.0)), (FLAPS, BASE), (HALF, BASE + around(60.0)))
    found = judge(matchup)
    texts = [found.sentence, found.domain, found.threshold, CAUTION]
    texts += [s.sentence for s in found.standings] + [p.sentence for p in found.pairs]
    for text in texts:
        assert not re.search(r"\b(un)?safe", text, re.IGNORECASE)
        assert text.endswith(".")
    assert "approved manual" in CAUTION


def test_a_share_of_almost_all_is_not_written_as_all() -> None:
    gain = np.where(np.arange(N) < 998, 15.0 * FOOT, 0.0)
    assert "in over 99 % of the draws" in compare(made_up((GEAR, BASE + gain), (FLAPS, BASE)), "gear", "flaps").sentence


def test_a_standing_gives_the_score_with_its_interval() -> None:
    found = standing(made_up((GEAR, BASE)), "gear")
    assert found.acceptable
    assert found.median / FOOT == pytest.approx(300.0, abs=0.1)
    assert found.sentence == (
        "“Gear up, flaps up”: energy height at 30 s 300 ft (95 %: 224 to 376 ft) above the start."
    )


def test_what_was_not_flown_cannot_be_compared() -> None:
    matchup = made_up((GEAR, BASE), (FLAPS, BASE))
    with pytest.raises(BadInputError, match="'half' is not among the techniques flown; one of gear, flaps"):
        compare(matchup, "gear", "half")
    with pytest.raises(BadInputError, match="is no score"):
        differences(matchup, "gear", "flaps", "beauty")
